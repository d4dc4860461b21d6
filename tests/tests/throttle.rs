//! Throttle and receiver against worked examples, a numeric library and a public regulation.
//!
//! Source: each check names its own; `data/pchip_curves.csv` was made by `pchip_curves.py` with
//! scipy 1.17.1.

#![allow(non_snake_case, reason = "quantities carry their unit's own symbol")]

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;

use homestretch::throttle::limits::Riding;
use homestretch::throttle::stopping::ONE_OF_TWO_BRAKES;
use homestretch::throttle::{
    Band, BrakeSettings, Calibration, Conditions, Counts, Curve, Curves, Handle, LimitSettings,
    Limits, Pace, Parts, RateSettings, Reason, Settings, Throttle, Usual,
};
use homestretch::time::{Duration, Instant};
use homestretch::units::{
    Amperes, Celsius, Kilograms, MetresPerSecond, MetresPerSecondCubed, MetresPerSecondSquared,
    Ratio, Volts,
};
use homestretch_sim::board_file::BoardFile;
use homestretch_sim::plant::rider::Action;
use homestretch_sim::route::{Outline, Route, Segment, Slope, Surface, Way, Wind};
use homestretch_sim::scenario::Scenario;
use homestretch_sim::world::{Pattern, World};

fn milli(thousandths: i32) -> MetresPerSecondSquared {
    MetresPerSecondSquared::from_milli(thousandths)
}

/// Handles and values of each curve in the file, each as thumb and acceleration.
type Points = Vec<(f64, f64)>;

fn library_curves() -> BTreeMap<String, (Points, Points)> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("data/pchip_curves.csv");
    let mut rows = csv::Reader::from_path(path).expect("the file of curves");
    let mut curves: BTreeMap<String, (Points, Points)> = BTreeMap::new();
    for row in rows.records() {
        let row = row.expect("a row");
        let number = |at: usize| row[at].parse::<f64>().expect("a number");
        let curve = curves.entry(row[0].to_owned()).or_default();
        let points = if &row[1] == "handle" { &mut curve.0 } else { &mut curve.1 };
        points.push((number(2), number(3)));
    }
    curves
}

// Source: scipy.interpolate.PchipInterpolator, which is Fritsch and Butland's choice of tangents within
// the bounds of Fritsch and Carlson. The handles are invented.
#[test]
fn source_a_curve_is_the_monotone_cubic_of_a_numeric_library() {
    let curves = library_curves();
    assert_eq!(curves.len(), 6);
    for (name, (handles, values)) in curves {
        let handles: Vec<_> = handles
            .iter()
            .map(|&(thumb, acceleration)| Handle {
                thumb: Ratio::from_f64(thumb).expect("a thumb"),
                acceleration: MetresPerSecondSquared::from_f64(acceleration).expect("a value"),
            })
            .collect();
        let ours = Curve::through(&handles).expect("a curve");
        assert_eq!(values.len(), 129);
        for (place, (thumb, theirs)) in values.into_iter().enumerate() {
            let thumb = Ratio::from_f64(thumb).expect("a thumb");
            let off = (ours.acceleration(thumb).to_f64() - theirs).abs();
            // At the table's own 64ths, and half way between, where it is straight: a cubic that rises
            // by 0.8 in an eighth of the way bends by up to 6 · 0.8 · 64, an eighth of which times
            // (1/64)² is 0.0094.
            let most = if place % 2 == 0 { 1e-4 } else { 9.4e-3 };
            assert!(off < most, "{name} at {thumb}: {off} off");
        }
    }
}

fn usual(series: u8) -> Usual {
    Usual {
        series,
        greatest_discharge: Amperes::from_whole(40),
        greatest_charge: Amperes::from_whole(40),
        mass: Kilograms::from_whole(90),
    }
}

fn frame() -> Conditions {
    Conditions {
        pack_voltage: Some(Volts::from_whole(44)),
        pack_current: Some(Amperes::from_whole(5)),
        cell_temperature: Some(Celsius::from_whole(25)),
        charge: Ratio::from_percent(50),
        charge_high: Ratio::from_percent(60),
        speed: Some(MetresPerSecond::from_whole(2)),
        ..Conditions::default()
    }
}

// Source: v²/2a, worked in a table of braking distances from 25 km/h: 16.1 m at 1.5, 9.65 m at 2.5,
// 6.89 m at 3.5 m/s².
#[test]
fn source_the_speed_that_a_brake_leaves_has_the_worked_stopping_distance() {
    for (brakes_with, distance_m) in [(1.5, 16.1), (2.5, 9.65), (3.5, 6.89)] {
        // A top speed of 40 km/h, whose stated distance is just that of the table.
        let top_m_s: f64 = 40.0 / 3.6;
        let stop_with = top_m_s * top_m_s / (2.0 * distance_m);
        let acceleration = |value| MetresPerSecondSquared::from_f64(value).expect("a deceleration");
        let top = MetresPerSecond::from_f64(top_m_s).expect("a speed");
        let settings = LimitSettings {
            top_speed: Band { begin: top - MetresPerSecond::from_milli(800), end: top },
            taper: Band { begin: MetresPerSecond::from_whole(5), end: top },
            brake: BrakeSettings {
                charge_current: Amperes::from_whole(40),
                mass: Kilograms::from_whole(90),
                stop_with: acceleration(stop_with),
                beside_motors: acceleration(brakes_with),
                without_charging: MetresPerSecondSquared::ZERO,
            },
            ..LimitSettings::standard(&usual(12))
        };
        let limits = Limits::new(&settings, milli(3000)).expect("limits");
        // A full pack: all that brakes is what brakes beside the motors.
        let full = Conditions { charge_high: Ratio::ONE, ..frame() };
        let riding =
            Riding { pace: Pace::ALL_OF_IT, limit: top, why: Reason::TopSpeed, backward: false };
        let left_km_h = limits.outlook(&full, &riding).speed_limit.to_f64() * 3.6;
        assert!((left_km_h - 25.0).abs() < 0.05, "{left_km_h} km/h at {brakes_with} m/s²");
    }
}

// Source: German regulation on small electric vehicles (eKFV, 2019), paragraph 4: 3.5 m/s², each of two
// brakes alone 44 % of it. The usual settings stop with the latter; that is no compliance.
#[test]
fn source_the_usual_stop_is_that_of_one_of_two_brakes() {
    let stated = 0.44 * 3.5;
    assert!((ONE_OF_TWO_BRAKES.to_f64() - stated).abs() < 1e-4);
    assert_eq!(LimitSettings::standard(&usual(10)).brake.stop_with, ONE_OF_TWO_BRAKES);
}

// Source: worked examples of ramps: 2.0 m/s² at 2.0 m/s³ takes 1.0 s, 3 m/s² at 6 m/s³ 0.5 s.
#[test]
fn source_ramps_take_the_worked_times() {
    let calibration = Calibration::new(Counts {
        full_scale: 4095,
        low: 800,
        centre: 2000,
        high: 3300,
        deadband: 60,
        hysteresis: 20,
        broken_margin: 200,
        reversed: false,
    })
    .expect("a thumb");
    let standard = Settings::standard(calibration, &usual(12), milli(4000)).expect("settings");
    let line = |greatest| Curve::blended(Ratio::ZERO, greatest).expect("a curve");
    let settings = Settings::new(Parts {
        curves: Curves { drive: line(milli(2000)), brake: line(milli(3000)) },
        rates: RateSettings {
            drive_on: MetresPerSecondCubed::from_whole(2),
            ..RateSettings::standard()
        },
        ..*standard.parts()
    })
    .expect("settings");
    let mut throttle = Throttle::new();
    let mut millis = 0;
    let mut tick = |throttle: &mut Throttle, thumb: u16| {
        millis += 1;
        throttle.hear(&frame(), &settings);
        let now = Instant::from_millis(millis);
        throttle.tick(now, &thumb.into(), Some(Duration::ZERO), &settings).acceleration.to_f64()
    };
    for _ in 0..600 {
        tick(&mut throttle, 2000);
    }
    let mut until = |thumb, reached: fn(f64) -> bool| {
        (1..5000).find(|_| reached(tick(&mut throttle, thumb))).expect("it gets there")
    };
    let drive = until(3300, |felt| felt >= 2.0 - 1e-4);
    assert!((995..=1005).contains(&drive), "{drive} ms");
    until(800, |felt| felt <= 0.0);
    let brake = until(800, |felt| felt <= -3.0 + 1e-4);
    assert!((495..=505).contains(&brake), "{brake} ms");
}

fn board(mass_kg: u32, folder: &Path) -> BoardFile {
    let path = folder.join(format!("rider-{mass_kg}.toml"));
    let text = "[cell]\ncapacity_Ah = 5\nlowest_V = 2.5\nhighest_V = 4.2\n\
         resting_voltage = \"chen-2020-nmc811-21700\"\nresistance = 0.02\n\
         max_discharge_A = 30\nmax_charge_A = 10\n\
         [pack]\nseries = 12\nparallel = 4\nsoften_below_V = 36\nstop_below_V = 34\n\
         [vehicle]\nmass_kg = 90\nwheel_diameter_m = 0.1\n\
         [throttle]\ntop_speed_m_s = 18\n";
    std::fs::write(&path, text).expect("a file");
    BoardFile::open(&path).expect("a board")
}

/// Shares and speeds of the first seconds of a full thumb, for a rider of this mass in truth.
fn pulls_away(mass_kg: u32) -> Vec<(f64, f64)> {
    let folder = tempfile::tempdir().expect("a folder");
    let board = board(mass_kg, folder.path());
    let level = Segment {
        length_m: 5000.0,
        slope: Slope::GradePercent(0.0),
        surface: Surface::Asphalt,
        speed_wish_m_s: 8.0,
        wind: Wind::Headwind(0.0),
        heading_deg: None,
    };
    let outline = Outline {
        name: "level".to_owned(),
        start_elevation_m: 0.0,
        way: Way::Again,
        segments: vec![level],
        stops: Vec::new(),
    };
    let pattern = Pattern::Route(Arc::new(Route::new(&outline).expect("a route")));
    let mut day = Scenario::default();
    day.pack.charge = 0.6;
    day.vehicle.mass_kg = Some(f64::from(mass_kg));
    let setup = day.setup(&board, pattern, 1).expect("a setup");
    let mut world = World::new(&board, &setup, None, 1).expect("a world");
    (0..250)
        .map(|tick| {
            let thumb = if tick < 75 { 0.0 } else { 1.0 };
            let action = Action { thumb, foot_m_s2: 0.0, lets_go: false };
            let share = world.tick_with(action).output.demand.share.to_f64();
            (share, world.vehicle().speed_m_s())
        })
        .collect()
}

// Source: Newton's second law. The same thumb is the same share of the motor's current for either rider,
// and so the same force; the speed it makes goes with the mass, rolling resistance taken off.
#[test]
fn source_light_and_heavy_riders_differ_in_speed_and_not_in_shape() {
    let (light, heavy) = (pulls_away(55), pulls_away(110));
    for ((one, _), (other, _)) in light.iter().zip(&heavy) {
        assert!((one - other).abs() < 0.02, "{one} and {other} of the motor's current");
    }
    let (light_m_s, heavy_m_s) = (light[249].1, heavy[249].1);
    // Over 3.5 s of thumb, with 0.018 g of rolling resistance taken off each.
    let rolls_m_s = 0.018 * 9.80665 * 3.2;
    let ratio = (light_m_s + rolls_m_s) / (heavy_m_s + rolls_m_s);
    assert!((1.8..=2.2).contains(&ratio), "{light_m_s} and {heavy_m_s} m/s: {ratio}");
}
