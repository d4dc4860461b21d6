//! The reference traces: are they read as they are meant?
//!
//! A wrong sign, unit or count of cells here would spoil every score. Source: `data/README.md`
//! and the definitions of the reference set that it retells.
#![allow(non_snake_case, reason = "quantities carry their unit's own symbol")]

use std::path::Path;

use homestretch_checks::reference::Reference;

fn traces() -> Vec<Reference> {
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("data");
    Reference::all(&data).unwrap()
}

#[test]
fn source_the_exact_current_over_the_true_capacity_is_the_true_charge() {
    for trace in traces() {
        let pack_Ah = trace.facts.cell_capacity_Ah * f64::from(trace.facts.parallel);
        let mut counted = trace.rows[0].true_soc.unwrap();
        let mut worst: f64 = 0.0;
        for pair in trace.rows.windows(2) {
            let current_A = |row: usize| pair[row].measured.pack_current_A.unwrap();
            let time_s = pair[1].measured.time_s - pair[0].measured.time_s;
            let drawn_Ah = f64::midpoint(current_A(0), current_A(1)) * time_s / 3600.0;
            counted -= drawn_Ah / pack_Ah;
            worst = worst.max((counted - pair[1].true_soc.unwrap()).abs());
        }
        // The set counts the same current; it says 0.00005 for its own check, and rows of a few
        // tenths of a second lose a little of each change.
        assert!(worst < 0.0005, "{}: {worst}", trace.name);
    }
}

#[test]
fn source_a_ride_that_starts_rested_starts_on_the_resting_curve() {
    let mut rested = 0;
    for trace in traces() {
        let first = &trace.rows[0];
        let current_A = first.measured.pack_current_A.unwrap();
        let later_V = trace.build.cell_voltage_V(first.measured.pack_voltage_V.unwrap());
        let temperature_degC = first.measured.cell_temperature_degC.unwrap();
        let true_soc = first.true_soc.unwrap();
        let resting_V = trace.build.resting.voltage_V(true_soc, temperature_degC);
        if trace.facts.start == "after load" {
            // What was drawn just before still holds the voltage down.
            assert!(later_V < resting_V - 0.005, "{}: {later_V}", trace.name);
            continue;
        }
        rested += 1;
        // The curve's points are a percent apart, and a tenth of an ampere is flowing already.
        assert!(current_A.abs() < 0.2, "{}", trace.name);
        let apart_V = (later_V - resting_V).abs();
        assert!(apart_V < 0.002, "{}: {apart_V}", trace.name);
    }
    assert_eq!(rested, 4);
}
