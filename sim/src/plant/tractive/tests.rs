//! The road load against a table worked out apart from this program, and its laws.

use proptest::prelude::*;

use crate::plant::body::Body;
use crate::plant::road::{Road, road_load_N};
use crate::plant::tractive::{SpeedTrace, tractive_energy_J};

fn body(mass_kg: f64) -> Body {
    Body {
        rider_kg: mass_kg - 10.0,
        board_kg: 10.0,
        drag_area_m2: 0.6,
        rolling_resistance: 0.02,
        wheel_diameter_m: 0.09,
        told_wheel_diameter_m: 0.09,
    }
}

fn energy_J(speed_m_s: &[f64], mass_kg: f64, road: &Road) -> f64 {
    tractive_energy_J(&SpeedTrace { interval_s: 1.0, speed_m_s }, &body(mass_kg), road)
}

#[test]
fn source_road_load_of_a_rider_on_the_level() {
    // Source: Martin et al. 1998, worked out apart from this program for 90 kg, rolling
    // resistance 0.02, drag area 0.60 m², air 1.225 kg/m³: km/h, N, W, Wh/km.
    // Tolerance: half of each figure's last digit.
    let table = [
        (15.0, 24.03, 100.1, 6.68),
        (20.0, 28.99, 161.1, 8.05),
        (25.0, 35.37, 245.7, 9.83),
        (30.0, 43.17, 359.8, 11.99),
        (40.0, 63.02, 700.2, 17.51),
    ];
    for (speed_km_h, force_N, power_W, energy_Wh_km) in table {
        let speed_m_s = speed_km_h / 3.6;
        let load_N = road_load_N(&body(90.0), &Road::default(), speed_m_s);
        assert!((load_N - force_N).abs() < 0.0051, "{speed_km_h} km/h: {load_N} N");
        assert!((load_N * speed_m_s - power_W).abs() < 0.051, "{speed_km_h} km/h");
        let steady = [speed_m_s; 101];
        let per_km = energy_J(&steady, 90.0, &Road::default()) / (100.0 * speed_m_s) / 3.6;
        assert!((per_km - energy_Wh_km).abs() < 0.0051, "{speed_km_h} km/h: {per_km} Wh/km");
    }
}

#[test]
fn a_hill_and_a_wind_count_with_their_sign() {
    let uphill = Road { grade: 0.1, ..Road::default() };
    let downhill = Road { grade: -0.1, ..Road::default() };
    let tailwind = Road { headwind_m_s: -10.0, ..Road::default() };
    assert!(road_load_N(&body(90.0), &uphill, 5.0) > 100.0);
    assert!(road_load_N(&body(90.0), &downhill, 5.0) < -50.0);
    let still_N = road_load_N(&body(90.0), &Road::default(), 0.0);
    assert!(road_load_N(&body(90.0), &tailwind, 0.0) < still_N);
}

fn speeds() -> impl Strategy<Value = Vec<f64>> {
    // Begins and ends at rest, as the law on weight asks for.
    prop::collection::vec(0.0..12.0, 1..60).prop_map(|mut inner| {
        inner.insert(0, 0.0);
        inner.push(0.0);
        inner
    })
}

proptest! {
    #[test]
    fn law_a_heavier_rider_never_takes_less(
        speeds in speeds(), mass_kg in 40.0..120.0, more_kg in 0.0..60.0,
        grade in -0.0199..0.2, headwind_m_s in 0.0..10.0,
    ) {
        let road = Road { grade, headwind_m_s, ..Road::default() };
        let light_J = energy_J(&speeds, mass_kg, &road);
        let heavy_J = energy_J(&speeds, mass_kg + more_kg, &road);
        // Rounding of a sum of at most 61 terms.
        prop_assert!(heavy_J >= light_J * (1.0 - 1e-12));
    }

    #[test]
    fn law_a_stronger_headwind_never_takes_less(
        speeds in speeds(), wind_m_s in -15.0..15.0, more_m_s in 0.0..15.0, grade in -0.2..0.2,
    ) {
        let weak = Road { grade, headwind_m_s: wind_m_s, ..Road::default() };
        let strong = Road { headwind_m_s: wind_m_s + more_m_s, ..weak };
        let weak_J = energy_J(&speeds, 90.0, &weak);
        prop_assert!(energy_J(&speeds, 90.0, &strong) >= weak_J * (1.0 - 1e-12));
    }

    #[test]
    fn law_a_steeper_climb_never_takes_less(
        speeds in speeds(), grade in -0.2..0.2, steeper in 0.0..0.2, wind_m_s in -15.0..15.0,
    ) {
        let flat = Road { grade, headwind_m_s: wind_m_s, ..Road::default() };
        let steep = Road { grade: grade + steeper, ..flat };
        let flat_J = energy_J(&speeds, 90.0, &flat);
        prop_assert!(energy_J(&speeds, 90.0, &steep) >= flat_J * (1.0 - 1e-12));
    }
}
