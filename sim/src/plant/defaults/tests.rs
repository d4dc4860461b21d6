//! A completed board drives as its sheet says.

use proptest::prelude::*;

use super::{BoardSheet, MotorSheet, complete};
use crate::plant::road::Road;
use crate::plant::source::Source;
use crate::plant::vehicle::Vehicle;

fn board() -> BoardSheet {
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

/// Battery power and road power of the simulated board once it holds a speed by itself.
fn settled(board: &BoardSheet, speed_m_s: f64) -> f64 {
    let parts = complete(board, &MotorSheet::default()).unwrap().parts;
    let mut vehicle = Vehicle::new(parts).unwrap().at_speed(speed_m_s);
    let source = Source { emf_V: board.pack_nominal_V, resistance_ohm: 0.0 };
    // A share that just holds the speed, by halving: drive too weak slows the board.
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..60 {
        let share = 0.5 * (low + high);
        let mut trial = vehicle.clone();
        trial.step(Some(share), 0.0, source, &Road::default());
        if trial.speed_m_s() < speed_m_s { low = share } else { high = share }
    }
    vehicle.step(Some(high), 0.0, source, &Road::default());
    let ledger = vehicle.ledger();
    (ledger.air_J + ledger.rolling_J) / ledger.battery_J
}

#[test]
fn the_asked_efficiency_is_met_in_the_simulated_ride() {
    for asked in [0.70, 0.75, 0.80, 0.85] {
        let board = BoardSheet { drivetrain_efficiency: asked, ..board() };
        let powertrain = complete(&board, &MotorSheet::default()).unwrap();
        assert!((powertrain.efficiency - asked).abs() < 1e-9);
        // Halving ends at rounding of the speed, some 1e-12 of the power.
        let ridden = settled(&board, powertrain.efficiency_speed_m_s);
        assert!((ridden - asked).abs() < 1e-6, "{asked}: {ridden}");
    }
}

#[test]
fn an_efficiency_that_no_gear_reaches_is_reported() {
    let board = BoardSheet { drivetrain_efficiency: 0.98, ..board() };
    let powertrain = complete(&board, &MotorSheet::default()).unwrap();
    assert!(powertrain.efficiency < 0.98 && powertrain.efficiency > 0.9);
    assert!((powertrain.parts.gear.efficiency - 0.99).abs() < 1e-12);
}

#[test]
fn the_no_load_speed_is_a_third_above_top_speed() {
    let parts = complete(&board(), &MotorSheet::default()).unwrap().parts;
    let vehicle = Vehicle::new(parts).unwrap();
    assert!((vehicle.no_load_speed_m_s(36.0) - 1.35 * 7.0).abs() < 1e-9);
    let big = BoardSheet { wheel_diameter_m: 0.7, ..board() };
    let vehicle = Vehicle::new(complete(&big, &MotorSheet::default()).unwrap().parts).unwrap();
    assert!((vehicle.no_load_speed_m_s(36.0) - 1.35 * 7.0).abs() < 1e-9);
}

#[test]
fn a_motor_sheet_overrides_each_default() {
    let sheet = MotorSheet {
        count: Some(1),
        kv_rpm_V: Some(170.0),
        winding_ohm: Some(0.06),
        gear_ratio: Some(2.5),
        max_motor_A: Some(50.0),
        max_battery_A: Some(20.0),
        max_regen_A: Some(8.0),
        idle_W: Some(3.0),
    };
    let parts = complete(&board(), &sheet).unwrap().parts;
    let (motor, controller) = (parts.motor, parts.controller);
    assert_eq!(motor.count, 1);
    let pairs = [
        (motor.kv_rpm_V, 170.0),
        (motor.winding_ohm, 0.06),
        (parts.gear.ratio, 2.5),
        (controller.max_motor_A, 50.0),
        (controller.max_battery_A, 20.0),
        (controller.max_regen_A, 8.0),
        (controller.idle_W, 3.0),
    ];
    for (made, said) in pairs {
        assert!((made - said).abs() < f64::EPSILON);
    }
}

#[test]
fn a_sheet_that_cannot_be_is_refused_by_name() {
    let sheet = MotorSheet { winding_ohm: Some(0.0), ..MotorSheet::default() };
    let error = complete(&board(), &sheet).unwrap_err();
    assert_eq!(error.to_string(), "winding_ohm is 0; 0.001 to 5 is allowed");
    let board = BoardSheet { series_cells: 60, pack_nominal_V: 20.0, ..board() };
    let error = complete(&board, &MotorSheet::default()).unwrap_err();
    assert_eq!(error.quantity, "nominal voltage of a cell");
}

proptest! {
    #[test]
    fn law_a_board_of_usual_size_is_always_completed(
        mass_kg in 20.0..200.0, wheel_diameter_m in 0.05..0.6, efficiency in 0.4..0.95,
        series_cells in 3_u32..20, top_speed_m_s in 3.0..15.0, full_current_m_s2 in 0.1..10.0,
    ) {
        let board = BoardSheet {
            mass_kg, wheel_diameter_m, drivetrain_efficiency: efficiency, series_cells,
            pack_nominal_V: 3.6 * f64::from(series_cells), top_speed_m_s, full_current_m_s2,
            ..board()
        };
        let powertrain = complete(&board, &MotorSheet::default()).unwrap();
        prop_assert!(Vehicle::new(powertrain.parts).is_ok());
        prop_assert!(powertrain.efficiency > 0.0 && powertrain.efficiency < 1.0);
    }
}
