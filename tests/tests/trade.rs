//! A fact of the trade: how far a common pack takes a street board.
//!
//! Source: common practice, no source: a pack of 10 series by 2 parallel cells of 3.6 Ah (36 V
//! nominal) takes a street board and its rider about 25 km.

#![allow(non_snake_case, reason = "quantities carry their unit's own symbol")]

use std::sync::Arc;

use homestretch_sim::board_file::BoardFile;
use homestretch_sim::route::{Outline, Route, Segment, Slope, Stop, Surface, Way, Wind};
use homestretch_sim::scenario::Scenario;
use homestretch_sim::world::{Ending, Pattern, World};

/// The band that counts as "about 25 km".
const ABOUT_25_KM: std::ops::RangeInclusive<f64> = 20.0..=29.0;

/// It brakes into its pack as hard as such boards do, which is more than its cells are charged with.
fn board(mass_kg: f64, wheel_m: f64, efficiency: f64) -> BoardFile {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("street.toml");
    let text = format!(
        "[cell]\ncapacity_Ah = 3.6\nlowest_V = 2.5\nhighest_V = 4.2\n\
         resting_voltage = \"chen-2020-nmc811-21700\"\nresistance = 0.035\n\
         max_discharge_A = 12\nmax_charge_A = 3.6\n\
         [pack]\nseries = 10\nparallel = 2\nsoften_below_V = 32\nstop_below_V = 30\n\
         [vehicle]\nmass_kg = {mass_kg}\nwheel_diameter_m = {wheel_m}\n\
         rolling_resistance = 0.015\ndrag_area_m2 = 0.5\ndrivetrain_efficiency = {efficiency}\n\
         [throttle]\ntop_speed_m_s = 8\n\
         [brake]\ncharge_A = 40\n"
    );
    std::fs::write(&path, text).expect("a file");
    BoardFile::open(&path).expect("a board")
}

/// A level street with a crossing each 700 m where the board stands for ten seconds.
fn street(speed_wish_m_s: f64) -> Pattern {
    let segment = Segment {
        length_m: 2100.0,
        slope: Slope::GradePercent(0.0),
        surface: Surface::Asphalt,
        speed_wish_m_s,
        wind: Wind::Headwind(0.0),
        heading_deg: None,
    };
    let stop = |at_m| Stop { at_m, wait_s: 10.0 };
    let outline = Outline {
        name: "street".to_owned(),
        start_elevation_m: 0.0,
        way: Way::Again,
        segments: vec![segment],
        stops: vec![stop(700.0), stop(1400.0), stop(2100.0)],
    };
    Pattern::Route(Arc::new(Route::new(&outline).expect("a route")))
}

/// Kilometres until no drive is left, and the mean speed while moving.
fn range_km(board: &BoardFile, speed_wish_m_s: f64) -> (f64, f64) {
    let mut day = Scenario::default();
    day.pack.charge = 1.0;
    day.air.temperature_degC = 20.0;
    let setup = day.setup(board, street(speed_wish_m_s), 1).expect("a setup");
    let mut world = World::new(board, &setup, None, 1).expect("a world");
    world.ride_on();
    let mut moving_s = 0.0;
    while world.ending().is_none() && world.now_s() < 4.0 * 3600.0 {
        world.tick();
        if world.vehicle().speed_m_s() > 0.2 {
            moving_s += 0.02;
        }
    }
    assert_eq!(world.ending(), Some(Ending::NoDriveLeft));
    let way_m = world.vehicle().distance_m();
    (way_m / 1000.0, way_m / moving_s * 3.6)
}

// Source: common practice, no source (see above). It checks the plant as a whole: masses, losses,
// cells and the voltage where drive ends. It was looked at after the plant was built, and tunes
// nothing.
#[test]
fn source_a_common_pack_takes_a_street_board_about_25_km() {
    for (mass_kg, wheel_m, efficiency, wish_m_s) in [
        (85.0, 0.10, 0.80, 6.6),
        (85.0, 0.09, 0.75, 7.0),
        (90.0, 0.09, 0.78, 6.6),
        (95.0, 0.10, 0.80, 6.3),
        (95.0, 0.09, 0.75, 7.1),
    ] {
        let (km, km_h) = range_km(&board(mass_kg, wheel_m, efficiency), wish_m_s);
        println!("{mass_kg} kg, {efficiency}, {km_h:.1} km/h while moving: {km:.1} km");
        assert!((20.0..=25.0).contains(&km_h), "mean moving speed {km_h} km/h");
        assert!(ABOUT_25_KM.contains(&km), "{mass_kg} kg at {efficiency}: {km} km");
    }
}
