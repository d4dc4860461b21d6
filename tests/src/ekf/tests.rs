use std::path::Path;

use super::*;
use crate::reference::Reference;

fn build() -> Arc<Build> {
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("data");
    Reference::read(&data, "brim-downhill").unwrap().build
}

fn frame(time_s: f64, pack_voltage_V: f64, pack_current_A: f64) -> Measured {
    let mut frame = Measured::at(time_s);
    frame.pack_voltage_V = Some(pack_voltage_V);
    frame.pack_current_A = Some(pack_current_A);
    frame
}

#[test]
fn the_two_branches_give_back_both_pulse_resistances() {
    let filter = Filter::new(build(), FOUND);
    let pulse = filter.build.resistance.at(0.4, 15.0);
    let (at_once_ohm, slow_ohm) = filter.branches(pulse);
    assert!(at_once_ohm > 0.0 && slow_ohm > 0.0);
    for (time_s, expected) in [(1.0, pulse.after_1s_ohm), (10.0, pulse.after_10s_ohm)] {
        let grown = 1.0 - f64::exp(-time_s / FOUND.polarisation_time_s);
        assert!((at_once_ohm + slow_ohm * grown - expected).abs() < 1e-12);
    }
}

#[test]
fn a_cell_that_is_its_own_model_is_found_from_a_wrong_beginning() {
    let build = build();
    let mut filter = Filter::new(build.clone(), FOUND);
    // The first voltage is that of another charge; from then on it is a cell at rest.
    let resting_V = build.series * build.resting.voltage_V(0.5, 20.0);
    filter.step(&frame(0.0, resting_V + 1.0, 0.0));
    let mut ended = Estimate::bare(0.0);
    for second in 1..36_000 {
        ended = filter.step(&frame(f64::from(second), resting_V, 0.0));
    }
    assert!((ended.soc - 0.5).abs() < 1e-3, "{ended:?}");
}

#[test]
fn while_frames_are_lost_the_interval_grows() {
    let build = build();
    let mut filter = Filter::new(build.clone(), FOUND);
    let width = |estimate: Estimate| estimate.interval.map(|i| i.high - i.low).unwrap();
    let mut seen = 0.0;
    for second in 0..1000 {
        seen = width(filter.step(&frame(f64::from(second), 38.0, 1.0)));
    }
    let lost = width(filter.step(&Measured::at(2000.0).lost()));
    assert!(lost > seen, "{lost} {seen}");
}

#[test]
fn a_correction_leaves_what_the_short_form_leaves() {
    // With the best gain the Joseph form is (I - KH) P, which is shorter and loses its symmetry.
    let filter = Filter::new(build(), FOUND);
    let before = Belief {
        soc: 0.6,
        polarisation_V: 0.01,
        soc_variance: 4e-4,
        covariance: -1e-5,
        polarisation_variance: 1e-4,
    };
    let after = filter.corrected(before, 3.8);
    let slope_V = filter.build.resting.slope_V(0.6, 20.0);
    let with_soc = before.soc_variance * slope_V - before.covariance;
    let with_polarisation = before.covariance * slope_V - before.polarisation_variance;
    let variance = slope_V * with_soc - with_polarisation + FOUND.voltage_sd_V.powi(2);
    for (left, expected) in [
        (after.soc_variance, before.soc_variance - with_soc * with_soc / variance),
        (after.covariance, before.covariance - with_soc * with_polarisation / variance),
        (
            after.polarisation_variance,
            before.polarisation_variance - with_polarisation * with_polarisation / variance,
        ),
    ] {
        assert!((left - expected).abs() < 1e-12, "{left} {expected}");
    }
}

#[test]
fn before_the_first_frame_everything_is_possible() {
    let mut filter = Filter::new(build(), FOUND);
    assert_eq!(filter.step(&Measured::at(0.0).lost()), Estimate::within(0.0, 0.5, 1.0));
}
