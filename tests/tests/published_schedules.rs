//! The published schedules as they lie in `examples/schedules/`, against the figures that their sources
//! and `examples/schedules/README.md` state for them.
//!
//! Source: UN GTR 15, UN GTR 2 and US EPA schedules as the packages `wltp` 0.1.2a0 and `fastsim` 2.1.5 ship
//! them.

#![allow(non_snake_case, reason = "quantities carry their unit's own symbol")]

use std::path::Path;

use homestretch_sim::route::Schedule;

fn schedule(name: &str) -> Schedule {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../examples/schedules");
    Schedule::open(folder.join(name)).unwrap()
}

/// Points, duration in s, distance in m, top speed in km/h.
fn check(schedule: &Schedule, points: usize, duration_s: f64, distance_m: f64, top_km_h: f64) {
    assert_eq!(schedule.points().len(), points);
    assert!((schedule.duration_s() - duration_s).abs() < 1e-9);
    // Half of the last digit stated.
    assert!((schedule.distance_m() - distance_m).abs() < 0.05, "{}", schedule.distance_m());
    let top = schedule.top_speed_m_s() * 3.6;
    assert!((top - top_km_h).abs() < 0.005, "{top}");
}

fn sum_km_h(schedule: &Schedule) -> f64 {
    schedule.points().iter().map(|point| point.speed_m_s * 3.6).sum()
}

/// Source: UN GTR 15 as in PyPI `wltp` 0.1.2a0, `cycles/class1.py`, with its own checksum.
#[test]
fn source_wltc_class_1_has_its_checksum() {
    let class_1 = schedule("wltc_class1.csv");
    check(&class_1, 1023, 1022.0, 8097.6, 64.4);
    // Speeds of one decimal: the sum is exact but for rounding.
    assert!((sum_km_h(&class_1) - 29_151.2).abs() < 1e-6);
    // Its parts, 0 to 589 s and 590 to 1022 s.
    let low: f64 = class_1.points()[..590].iter().map(|point| point.speed_m_s * 3.6).sum();
    assert!((low - 11_988.4).abs() < 1e-6, "{low}");
}

/// Source: WMTC part 1 as in PyPI `fastsim` 2.1.5, `resources/cycles/wmtc_part1.csv`.
#[test]
fn source_wmtc_part_1_has_the_stated_length_and_top_speed() {
    let part_1 = schedule("wmtc_part1.csv");
    check(&part_1, 601, 600.0, 4065.9, 60.0);
    assert!((part_1.greatest_acceleration_m_s2() - 2.5).abs() < 0.001);
    assert!((part_1.greatest_braking_m_s2() - 2.0).abs() < 0.001);
}

/// Source: UDDS as in PyPI `fastsim` 2.1.5, `resources/cycles/udds.csv`; the schedule's own
/// publication has 7.45 miles and 56.7 mph (from memory: US EPA, Federal Test Procedure).
#[test]
fn source_udds_has_the_stated_length_and_top_speed() {
    let udds = schedule("udds.csv");
    check(&udds, 1370, 1369.0, 11_990.4, 91.25);
    assert!((udds.distance_m() / 1609.344 - 7.45).abs() < 0.005);
    assert!((udds.top_speed_m_s() * 3.6 / 1.609_344 - 56.7).abs() < 0.005);
    assert!((udds.greatest_acceleration_m_s2() - 1.475).abs() < 0.001);
}

#[test]
fn a_car_schedule_fits_a_board_once_scaled_and_eased() {
    for name in ["wltc_class1.csv", "wmtc_part1.csv", "udds.csv"] {
        let full = schedule(name);
        let small = full.scaled_to(25.0 / 3.6).unwrap().eased(0.8).unwrap();
        assert!(small.top_speed_m_s() <= 25.0 / 3.6);
        // Speeds of 7 m/s are rounded to 1e-15, over a second.
        assert!(small.greatest_acceleration_m_s2() <= 0.8 + 1e-12);
        assert!(small.distance_m() > 0.9 * full.distance_m() * (25.0 / 3.6) / full.top_speed_m_s());
    }
}
