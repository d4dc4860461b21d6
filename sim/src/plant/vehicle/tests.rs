//! Single facts about the board, and closed forms from textbooks.

use super::{Parts, Vehicle};
use crate::plant::road::Road;
use crate::plant::source::Source;
use crate::plant::wheels::Grip;
use crate::plant::{BoardSheet, GRAVITY_M_S2, MotorSheet, STEP_S, complete};

const PACK: Source = Source { emf_V: 37.0, resistance_ohm: 0.1 };

/// An invented board: ten cells in series, two motors.
pub(super) fn board() -> BoardSheet {
    BoardSheet {
        mass_kg: 90.0,
        wheel_diameter_m: 0.09,
        rolling_resistance: 0.02,
        drag_area_m2: 0.6,
        drivetrain_efficiency: 0.75,
        series_cells: 10,
        pack_nominal_V: 36.0,
        top_speed_m_s: 7.0,
        full_current_m_s2: 3.5,
        max_discharge_A: 30.0,
        max_charge_A: 12.0,
    }
}

fn parts() -> Parts {
    complete(&board(), &MotorSheet::default()).unwrap().parts
}

pub(super) fn vehicle() -> Vehicle {
    Vehicle::new(parts()).unwrap()
}

fn ride(vehicle: &mut Vehicle, command: f64, seconds: u32, road: &Road) {
    for _ in 0..seconds * 100 {
        vehicle.step(Some(command), 0.0, PACK, road);
    }
}

#[test]
fn source_coast_down_follows_its_closed_form_to_rest() {
    // Source: dv/dt = -(a + b v²), solved in textbooks on vehicle dynamics (Gillespie 1992, from
    // memory). Tolerance 1e-4 of the first speed: second order in a step of 0.01 s, whose own
    // error here is near (b v dt)² and far less.
    let mut parts = parts();
    parts.motor.hysteresis_N_m = 0.0;
    parts.motor.eddy_N_m_s = 0.0;
    for start_m_s in [2.0, 7.0, 14.0] {
        let mut vehicle = Vehicle::new(parts).unwrap().at_speed(start_m_s);
        let moving_kg = vehicle.constants.body_kg + vehicle.constants.wheel_kg;
        let a = 0.02 * 90.0 * GRAVITY_M_S2 / moving_kg;
        let b = 0.5 * 1.225 * 0.6 / moving_kg;
        let phase = libm::atan(start_m_s * (b / a).sqrt());
        let rest_s = phase / (a * b).sqrt();
        let mut worst_m_s = 0.0_f64;
        let mut time_s = 0.0;
        // No pack voltage limit: above the no-load speed its diodes would brake.
        let source = Source { emf_V: 200.0, resistance_ohm: 0.1 };
        while time_s < rest_s + 1.0 {
            vehicle.step(Some(0.0), 0.0, source, &Road::default());
            time_s += STEP_S;
            let angle = (phase - time_s * (a * b).sqrt()).max(0.0);
            let true_m_s = (a / b).sqrt() * libm::tan(angle);
            worst_m_s = worst_m_s.max((vehicle.speed_m_s() - true_m_s).abs());
        }
        assert!(worst_m_s < 1e-4 * start_m_s, "{start_m_s} m/s: {worst_m_s}");
        assert!(vehicle.speed_m_s().abs() < f64::EPSILON);
        // Distance (1/2b) ln((a + b v0²)/a), within 1e-5: the sum of a second-order speed.
        let way_m = 0.5 / b * libm::log((a + b * start_m_s * start_m_s) / a);
        assert!((vehicle.distance_m() - way_m).abs() < 1e-5 * way_m);
    }
}

#[test]
fn source_a_locked_wheel_slides_at_friction_times_gravity() {
    // Source: Coulomb's law; half the weight stands on the driven wheels, so a = mu g / 2, plus
    // rolling 0.02 g and the air. Tolerance: 1 % for the air below 5 m/s (2 N of 150 N or so)
    // and the free wheels' inertia.
    let road = Road { friction: 0.3, ..Road::default() };
    let mut parts = parts();
    parts.controller.max_motor_A = 200.0;
    parts.controller.max_regen_A = 200.0;
    let mut vehicle = Vehicle::new(parts).unwrap().at_speed(5.0);
    for _ in 0..20 {
        vehicle.step(Some(-1.0), 0.0, PACK, &road);
    }
    assert_eq!(vehicle.grip(), Grip::Slipping { wheel_m_s: 0.0 });
    let before_m_s = vehicle.speed_m_s();
    for _ in 0..20 {
        vehicle.step(Some(-1.0), 0.0, PACK, &road);
    }
    let slowed_m_s2 = (before_m_s - vehicle.speed_m_s()) / 0.2;
    let air_m_s2 = 0.5 * 1.225 * 0.6 * before_m_s * before_m_s / 90.0;
    let expected_m_s2 = (0.15 + 0.02) * GRAVITY_M_S2 + air_m_s2;
    assert!((slowed_m_s2 - expected_m_s2).abs() < 0.01 * expected_m_s2, "{slowed_m_s2}");
    ride(&mut vehicle, -1.0, 4, &road);
    assert_eq!(vehicle.grip(), Grip::Rolling);
    assert!(vehicle.speed_m_s().abs() < f64::EPSILON);
    assert!(vehicle.ledger().slip_J > 500.0);
}

#[test]
fn full_current_accelerates_as_the_board_sheet_says() {
    let mut vehicle = vehicle();
    vehicle.step(Some(1.0), 0.0, PACK, &Road::default());
    // At the wheel: 3.5 m/s² of 90 kg; rolling takes 0.02 g, and wheels and rotors share it.
    let moving_kg = vehicle.constants.body_kg + vehicle.constants.wheel_kg;
    let expected = (3.5 - 0.02 * GRAVITY_M_S2) * 90.0 / moving_kg;
    // The first step's mean speed of 0.02 m/s costs eddy current of less than 0.1 %.
    assert!((vehicle.acceleration_m_s2() - expected).abs() < 0.002 * expected);
}

#[test]
fn a_wheel_on_ice_spins_and_comes_back_to_rolling() {
    let ice = Road { friction: 0.05, ..Road::default() };
    let mut vehicle = vehicle();
    ride(&mut vehicle, 0.8, 2, &ice);
    let Grip::Slipping { wheel_m_s } = vehicle.grip() else { panic!("rolls on ice") };
    assert!(wheel_m_s > vehicle.speed_m_s() + 1.0);
    assert!(vehicle.shown_speed_m_s() > vehicle.speed_m_s() + 1.0);
    assert!(vehicle.shown_distance_m() > vehicle.distance_m());
    // No faster than the pack's voltage turns it.
    assert!(wheel_m_s < vehicle.no_load_speed_m_s(37.0));
    ride(&mut vehicle, 0.0, 2, &Road::default());
    assert_eq!(vehicle.grip(), Grip::Rolling);
}

#[test]
fn the_pack_voltage_ends_the_speed() {
    let mut light = board();
    light.rolling_resistance = 0.0005;
    light.drag_area_m2 = 0.05;
    let mut vehicle =
        Vehicle::new(complete(&light, &MotorSheet::default()).unwrap().parts).unwrap();
    ride(&mut vehicle, 1.0, 120, &Road::default());
    let no_load_m_s = vehicle.no_load_speed_m_s(37.0);
    assert!(vehicle.speed_m_s() < no_load_m_s && vehicle.speed_m_s() > 0.9 * no_load_m_s);
}

#[test]
fn a_brake_holds_on_a_slope_and_takes_copper_loss_for_it() {
    let hill = Road { grade: -0.1, ..Road::default() };
    let mut vehicle = vehicle();
    ride(&mut vehicle, -0.8, 5, &hill);
    assert!(vehicle.distance_m().abs() < f64::EPSILON);
    assert!(vehicle.ledger().copper_J > 1.0 && vehicle.ledger().kinetic_J.abs() < f64::EPSILON);
    ride(&mut vehicle, -0.05, 5, &hill);
    assert!(vehicle.speed_m_s() > 0.5);
    let up = Road { grade: 0.1, ..Road::default() };
    let mut vehicle = super::tests::vehicle();
    ride(&mut vehicle, 0.0, 2, &up);
    assert!(vehicle.speed_m_s() < -0.5);
    ride(&mut vehicle, -0.8, 5, &up);
    assert!(vehicle.speed_m_s().abs() < f64::EPSILON);
}

#[test]
fn regeneration_stops_at_its_limit_and_at_a_full_pack() {
    let hill = Road { grade: -0.15, ..Road::default() };
    let mut vehicle = vehicle().at_speed(6.0);
    let mut most_A = 0.0_f64;
    for _ in 0..300 {
        let drawn = vehicle.step(Some(-1.0), 0.0, PACK, &hill);
        most_A = most_A.max(-drawn.battery_current_A);
    }
    // Limits look at the speed at the start of a step; with a hill that the brake cannot hold it
    // grows by up to 0.01 m/s in one, some thousandth.
    assert!(most_A > 11.5 && most_A < 12.0 * 1.005, "{most_A}");
    let full = Source { emf_V: 43.0, resistance_ohm: 0.1 };
    let mut vehicle = super::tests::vehicle().at_speed(6.0);
    for _ in 0..50 {
        let drawn = vehicle.step(Some(-1.0), 0.0, full, &hill);
        // 43 V is above 1.19 x 36 V: nothing may go in.
        assert!(drawn.battery_current_A > -1e-3, "{drawn:?}");
    }
    assert!(vehicle.speed_m_s() > 6.0);
}

#[test]
fn silence_takes_drive_away_and_eases_a_brake() {
    let mut vehicle = vehicle();
    let share_after = |vehicle: &mut Vehicle, steps: u32| {
        for _ in 0..steps {
            vehicle.step(None, 0.0, PACK, &Road::default());
        }
        vehicle.applied_share()
    };
    vehicle.step(Some(0.8), 0.0, PACK, &Road::default());
    // 0.25 s of silence, then 10 per second down: each tolerance is rounding.
    assert!((share_after(&mut vehicle, 25) - 0.8).abs() < 1e-12);
    assert!((share_after(&mut vehicle, 4) - 0.4).abs() < 1e-12);
    assert!(share_after(&mut vehicle, 5).abs() < 1e-12);
    vehicle.step(Some(-0.8), 0.0, PACK, &Road::default());
    assert!((share_after(&mut vehicle, 25) + 0.8).abs() < 1e-12);
    assert!((share_after(&mut vehicle, 100) + 0.55).abs() < 1e-9);
    vehicle.step(Some(f64::NAN), 0.0, PACK, &Road::default());
    assert!(vehicle.applied_share() > -0.55 && vehicle.applied_share() < -0.54);
}

#[test]
fn worn_wheels_show_more_than_there_is() {
    let mut parts = parts();
    parts.body.wheel_diameter_m = 0.085;
    let mut vehicle = Vehicle::new(parts).unwrap();
    ride(&mut vehicle, 0.5, 10, &Road::default());
    let ratio = vehicle.shown_distance_m() / vehicle.distance_m();
    assert!((ratio - 90.0 / 85.0).abs() < 1e-9);
    assert!((vehicle.shown_speed_m_s() / vehicle.speed_m_s() - ratio).abs() < 1e-9);
}

#[test]
fn a_foot_stops_the_board_and_is_booked_as_heat() {
    let mut vehicle = vehicle().at_speed(5.0);
    for _ in 0..1000 {
        vehicle.step(Some(0.0), 150.0, PACK, &Road::default());
    }
    assert!(vehicle.speed_m_s().abs() < f64::EPSILON);
    let share = vehicle.ledger().foot_brake_J / -vehicle.ledger().kinetic_J;
    assert!(share > 0.75 && share < 1.0);
}

#[test]
fn a_hot_winding_loses_drive_before_brake() {
    let mut vehicle = vehicle();
    vehicle.warmth.winding_degC = 125.0;
    vehicle.refresh_resistance();
    ride(&mut vehicle, 1.0, 1, &Road::default());
    assert!(vehicle.speed_m_s().abs() < f64::EPSILON);
    let mut vehicle = vehicle.at_speed(5.0);
    vehicle.warmth.winding_degC = 125.0;
    vehicle.refresh_resistance();
    let drawn = vehicle.step(Some(-1.0), 0.0, PACK, &Road::default());
    assert!(drawn.motor_current_A < -1.0);
}

#[test]
fn above_the_no_load_speed_the_diodes_charge_the_pack() {
    let mut vehicle = vehicle().at_speed(15.0);
    let drawn = vehicle.step(Some(0.0), 0.0, PACK, &Road::default());
    assert!(drawn.battery_current_A < -10.0 && drawn.battery_voltage_V > PACK.emf_V);
}

#[test]
fn values_that_are_no_numbers_leave_the_board_in_the_world() {
    let mut vehicle = vehicle().at_speed(3.0);
    let road = Road { grade: f64::NAN, headwind_m_s: f64::INFINITY, ..Road::default() };
    let source = Source { emf_V: f64::NAN, resistance_ohm: f64::INFINITY };
    vehicle.step(Some(f64::INFINITY), f64::NAN, source, &road);
    assert!(vehicle.speed_m_s().is_finite() && vehicle.ledger().booked_J().is_finite());
}

#[test]
fn a_part_that_cannot_be_is_refused_by_name() {
    let mut parts = parts();
    parts.gear.efficiency = 1.2;
    let error = Vehicle::new(parts).unwrap_err();
    assert_eq!(error.to_string(), "gear_efficiency is 1.2; 0.5 to 1 is allowed");
}
