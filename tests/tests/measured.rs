//! Records of real cells: is charge counted as the tester counted it?
//!
//! Source: the records in `data/measured`, whose README entry names package and licence. The
//! tester's own counter runs much faster than its log, so it is the outside truth here.
#![allow(non_snake_case, reason = "quantities carry their unit's own symbol")]

use std::path::Path;

use homestretch::charge::Quanta;
use homestretch::time::Duration;
use homestretch::units::Amperes;
use homestretch_checks::number_table::NumberTable;
use homestretch_checks::tester::{self, TesterRow, steps, without_repeats};

/// The charge that left the cell over `rows`, in Ah, by the library's counter; negative if it was
/// charged. Milliamperes are handed over as amperes: a step of the library's current (15 µA) is
/// made for packs, and would be a percent of what flows in a cell of 22 mAh.
fn integrate(rows: &[TesterRow]) -> f64 {
    let milliamperes = |row: &TesterRow| Amperes::from_f64(row.current_A * 1000.0).unwrap();
    let rows = without_repeats(rows);
    let counted = rows.windows(2).fold(Quanta::ZERO, |sum, pair| {
        let time = Duration::from_micros(micros(pair[1].time_s) - micros(pair[0].time_s));
        sum + Quanta::between(milliamperes(&pair[0]), milliamperes(&pair[1]), time)
    });
    counted.to_coulombs().to_f64() / 1000.0 / 3600.0
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "days in microseconds")]
fn micros(seconds: f64) -> u64 {
    (seconds * 1e6).round() as u64
}

const LFP: &str = "lfp_1Ah_4C_discharge_and_rest.csv";
const POUCH: &str = "nmc532_pouch_slow_and_pulses.csv";

fn record(name: &str) -> Vec<TesterRow> {
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("data/measured");
    tester::read(&data.join(name)).unwrap()
}

/// What the tester counted over a step, in Ah, whatever the direction.
fn counted_Ah(step: &[TesterRow]) -> f64 {
    step[0].counted.moved_until_Ah(step[step.len() - 1].counted)
}

/// How far [`integrate`] is above the tester over a step, as a share of what the tester counted.
fn excess(step: &[TesterRow]) -> f64 {
    integrate(step).abs() / counted_Ah(step) - 1.0
}

/// Whether the step's current is the same from its first row to its last, to 1 %.
fn is_steady(step: &[TesterRow]) -> bool {
    let first_A = step[0].current_A;
    first_A.abs() > 0.0 && (step.iter()).all(|row| (row.current_A / first_A - 1.0).abs() < 0.01)
}

#[test]
fn source_lfp_discharges_are_counted_as_by_the_tester() {
    let rows = record(LFP);
    let discharges: Vec<_> =
        steps(&rows).filter(|step| counted_Ah(step) > 0.5 && step[1].current_A > 0.0).collect();
    assert_eq!(discharges.len(), 2);
    for step in discharges {
        assert!(integrate(step) > 0.0);
        // Rows 5 s apart in a constant current; the record's README tells of +0.05 %.
        assert!(excess(step).abs() < 0.001, "{}", excess(step));
    }
}

#[test]
fn source_lfp_charges_are_counted_as_by_the_tester() {
    let rows = record(LFP);
    let charges: Vec<_> =
        steps(&rows).filter(|step| counted_Ah(step) > 0.01 && step[1].current_A < 0.0).collect();
    assert_eq!(charges.len(), 4);
    for step in charges {
        assert!(integrate(step) < 0.0);
        assert!(excess(step).abs() < 0.001, "{}", excess(step));
    }
}

#[test]
fn source_pouch_slow_curves_are_counted_as_by_the_tester() {
    let rows = record(POUCH);
    let slow: Vec<_> =
        steps(&rows).filter(|step| step.len() > 100 && counted_Ah(step) > 0.02).collect();
    assert_eq!(slow.len(), 2);
    for step in slow {
        // A constant current in rows 200 s apart: what is lost is the ramp before the first row.
        assert!(excess(step).abs() < 0.0005, "{}", excess(step));
    }
}

#[test]
fn source_pouch_steps_of_steady_current_are_counted_as_by_the_tester() {
    let rows = record(POUCH);
    let steady: Vec<_> =
        steps(&rows).filter(|step| is_steady(step) && counted_Ah(step) > 1e-5).collect();
    assert!(steady.len() >= 15, "{}", steady.len());
    for step in steady {
        // Two rows in a pulse: both counter and time are rounded to some hundredths of a percent.
        assert!(excess(step).abs() < 0.001, "{}", excess(step));
    }
}

#[test]
fn source_pouch_long_steps_with_few_rows_are_counted_within_a_percent() {
    let rows = record(POUCH);
    let long: Vec<_> =
        steps(&rows).filter(|step| step.len() < 20 && counted_Ah(step) > 0.005).collect();
    assert_eq!(long.len(), 4);
    for step in long {
        // Nine to fifteen rows in half an hour or an hour, the first before the current is up.
        assert!(excess(step).abs() < 0.01, "{}", excess(step));
    }
}

#[test]
fn source_pouch_fading_currents_in_few_rows_are_counted_too_high_and_never_too_low() {
    let rows = record(POUCH);
    let fading: Vec<_> = steps(&rows)
        .filter(|step| {
            let (first, last) = (step[0].current_A, step[step.len() - 1].current_A);
            counted_Ah(step) > 5e-4 && first / last > 5.0 && step.len() < 10
        })
        .collect();
    assert_eq!(fading.len(), 2);
    for step in fading {
        // The chord of a curve that fades lies above it: 10 % for six rows over a fall to a
        // twentieth. Whoever bridges gaps better may come closer, from above or below.
        assert!((-0.02..0.12).contains(&excess(step)), "{}", excess(step));
    }
}

#[test]
fn a_repeated_time_moves_no_charge() {
    let rows = record(POUCH);
    let repeats = rows.windows(2).filter(|pair| pair[0].time_s >= pair[1].time_s).count();
    assert_eq!(repeats, 2, "the pouch record repeats a time where a cycle ends");
    let once = without_repeats(&rows);
    assert_eq!(once.len(), rows.len() - repeats);
    assert!(once.windows(2).all(|pair| pair[0].time_s < pair[1].time_s));
    assert!((integrate(&rows) - integrate(&once)).abs() < 1e-12);
}

#[test]
fn source_the_slow_curves_of_the_pouch_lie_28_millivolts_apart() {
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("data/measured");
    let table = NumberTable::read(&data.join("nmc532_pouch_slow_curves.csv")).unwrap();
    let charge_V = table.column("charge_voltage_V").unwrap();
    let discharge_V = table.column("discharge_voltage_V").unwrap();
    let rows = f64::from(u32::try_from(charge_V.len()).unwrap());
    let gaps = charge_V.iter().zip(discharge_V).map(|(up, down)| up - down);
    let mean_V = gaps.sum::<f64>() / rows;
    // The record's README gives it in whole millivolts.
    assert!((mean_V - 0.028).abs() < 0.0005, "{mean_V}");
}
