//! A whole powertrain from the few things that a builder says about a board.
//!
//! Used where a vehicle is made from a board file. What is not said is chosen here, each choice
//! with its reason; a [`MotorSheet`] overrides it. None of it is measured: it makes a plausible
//! board that drives as the builder's own figures say, not a particular one.

mod losses;
mod sheet;
#[cfg(test)]
mod tests;

pub use sheet::{BoardSheet, MotorSheet};

use sheet::{MOST_BATTERY_A, MOST_MOTOR_A};

use crate::plant::body::Body;
use crate::plant::gear::Gear;
use crate::plant::motor::{Heat, Motor, torque_constant_N_m_A};
use crate::plant::motor_controller::{FoldBack, MotorController};
use crate::plant::range::OutOfRange;
use crate::plant::road::{Road, road_load_N};
use crate::plant::vehicle::Parts;
use crate::plant::wheels::Wheels;
use losses::{Cruise, gear_efficiency};

/// What a board weighs of all that moves, or half of it where that is less; only the sum is felt.
const BOARD_KG: f64 = 11.0;

/// No-load speed at nominal voltage over top speed. A choice: a board that just reached its top
/// speed without load would be weak there and could not hold it on a low pack.
const NO_LOAD_PER_TOP: f64 = 1.35;

/// Motors where none are said: common practice, no source.
const COUNT: u8 = 2;

/// Turns per minute per volt where nothing is said: common practice for belt drives, no source.
const KV_RPM_V: f64 = 190.0;

/// Gear ratios that are built; beyond them another motor is wound instead. Common practice, no
/// source: one pair of pulleys reaches about five, two stages more; below one nobody gears.
const BUILT_RATIO: (f64, f64) = (1.0, 8.0);

/// Voltage lost in a winding at the greatest current over the nominal voltage: common practice
/// for motors that are chosen to fit their board, no source.
const WINDING_DROP: f64 = 0.05;

/// Resistance of the controller's switches and leads for each motor: common practice, no source.
const SWITCH_OHM: f64 = 0.004;

/// Standby power: common practice, no source.
const IDLE_W: f64 = 2.0;

/// Gear efficiency that the sizing of motors starts from; the true one is solved afterwards.
const SIZING_EFFICIENCY: f64 = 0.95;

/// Speed at which the builder's efficiency is met, or top speed where that is lower.
const CRUISE_M_S: f64 = 20.0 / 3.6;

/// Peak torque of the motor that heat and inertia are scaled from, N m: an outrunner of 63 mm
/// diameter and 0.9 kg at 44 A. The figures beside it are from memory.
const MODEL_TORQUE_N_M: f64 = 2.2;
const MODEL_ROTOR_KG_M2: f64 = 0.0002;
const MODEL_HEAT: Heat =
    Heat { winding_J_K: 100.0, case_J_K: 450.0, winding_to_case_W_K: 2.5, case_to_air_W_K: 1.2 };

/// Mass of a wheel of 90 mm diameter; larger ones grow with the power 1.5, which meets a light
/// bicycle wheel. Common practice, no source.
const MODEL_WHEEL_KG: f64 = 0.2;
const MODEL_WHEEL_M: f64 = 0.09;

/// A complete board.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Powertrain {
    /// Its parts; the rider's mass is in the board's.
    pub parts: Parts,
    /// Efficiency from battery to road that was asked for.
    pub asked_efficiency: f64,
    /// The one reached at `efficiency_speed_m_s` on the level in still air. It differs where the
    /// gear would have had to be better or worse than any is.
    pub efficiency: f64,
    /// 20 km/h, or top speed where that is lower.
    pub efficiency_speed_m_s: f64,
}

/// A powertrain for `board`, with what `sheet` says of it.
///
/// No-load speed is 1.35 times top speed, and the greatest motor current pulls with
/// `full_current_m_s2` at standstill. The gear's efficiency is solved so that the whole meets
/// `drivetrain_efficiency`, and kept from 0.75 to 0.99.
///
/// # Errors
/// [`OutOfRange`] for the first value of either sheet, or of what follows from them, that no such
/// board has.
pub fn complete(board: &BoardSheet, sheet: &MotorSheet) -> Result<Powertrain, OutOfRange> {
    board.check()?;
    sheet.check()?;
    let board_kg = BOARD_KG.min(board.mass_kg / 2.0);
    let body = Body {
        rider_kg: board.mass_kg - board_kg,
        board_kg,
        drag_area_m2: board.drag_area_m2,
        rolling_resistance: board.rolling_resistance,
        wheel_diameter_m: board.wheel_diameter_m,
        told_wheel_diameter_m: board.wheel_diameter_m,
    };
    let (kv_rpm_V, ratio) = turns(board, sheet);
    let count = sheet.count.unwrap_or(COUNT);
    let motors = f64::from(count);
    let turns_rad_m = ratio / body.wheel_radius_m();
    let torque_N_m_A = torque_constant_N_m_A(kv_rpm_V);
    let force_N_A = torque_N_m_A * turns_rad_m;
    let full_N = board.mass_kg * board.full_current_m_s2;

    let sized_A = full_N / (SIZING_EFFICIENCY * force_N_A * motors);
    let peak_A = sheet.max_motor_A.unwrap_or(sized_A);
    let winding_ohm = sheet
        .winding_ohm
        .unwrap_or_else(|| (WINDING_DROP * board.pack_nominal_V / peak_A).clamp(0.002, 2.0));
    let idle_W = sheet.idle_W.unwrap_or(IDLE_W);

    let speed_m_s = CRUISE_M_S.min(board.top_speed_m_s);
    let cruise = Cruise {
        speed_m_s,
        load_N: road_load_N(&body, &Road::default(), speed_m_s),
        force_N_A,
        resistance_ohm: (winding_ohm + SWITCH_OHM) / motors,
        idle_W,
    };
    let no_load_m_s = board.pack_nominal_V / force_N_A;
    let iron = cruise.iron(board.drivetrain_efficiency, no_load_m_s, peak_A * motors);
    let efficiency = gear_efficiency(&cruise, &iron, board.drivetrain_efficiency);

    // A board that would need more has weaker motors than its `full_current_m_s2` says.
    let needed_A = (full_N / efficiency + iron.hysteresis_N) / force_N_A / motors;
    let max_motor_A = sheet.max_motor_A.unwrap_or(needed_A.min(MOST_MOTOR_A));
    let size = (torque_N_m_A * max_motor_A / MODEL_TORQUE_N_M).clamp(0.1, 20.0);
    let parts = Parts {
        body,
        motor: Motor {
            count,
            kv_rpm_V,
            winding_ohm,
            hysteresis_N_m: iron.hysteresis_N / (motors * turns_rad_m),
            eddy_N_m_s: iron.eddy_N_s_m / (motors * turns_rad_m * turns_rad_m),
            rotor_kg_m2: MODEL_ROTOR_KG_M2 * size,
            heat: scaled(&MODEL_HEAT, size),
        },
        controller: controller(board, sheet, max_motor_A),
        gear: Gear { ratio, efficiency },
        wheels: wheels(board.wheel_diameter_m, count),
        air_degC: 20.0,
    };
    parts.check()?;
    Ok(Powertrain {
        parts,
        asked_efficiency: board.drivetrain_efficiency,
        efficiency: cruise.efficiency(&iron, efficiency),
        efficiency_speed_m_s: speed_m_s,
    })
}

/// Turns per volt and gear ratio; what is not said follows from the no-load speed.
fn turns(board: &BoardSheet, sheet: &MotorSheet) -> (f64, f64) {
    let wheel_rpm = 60.0 * NO_LOAD_PER_TOP * board.top_speed_m_s
        / (core::f64::consts::PI * board.wheel_diameter_m);
    // Turns of the wheel per minute and volt: KV over the ratio.
    let per_V = wheel_rpm / board.pack_nominal_V;
    match (sheet.kv_rpm_V, sheet.gear_ratio) {
        (Some(kv_rpm_V), Some(ratio)) => (kv_rpm_V, ratio),
        (Some(kv_rpm_V), None) => (kv_rpm_V, kv_rpm_V / per_V),
        (None, Some(ratio)) => (ratio * per_V, ratio),
        (None, None) => {
            let ratio = (KV_RPM_V / per_V).clamp(BUILT_RATIO.0, BUILT_RATIO.1);
            (ratio * per_V, ratio)
        }
    }
}

fn controller(board: &BoardSheet, sheet: &MotorSheet, max_motor_A: f64) -> MotorController {
    let nominal_V = board.pack_nominal_V;
    MotorController {
        max_motor_A,
        max_battery_A: sheet
            .max_battery_A
            .unwrap_or_else(|| board.max_discharge_A.clamp(0.1, MOST_BATTERY_A)),
        max_regen_A: sheet.max_regen_A.unwrap_or_else(|| board.max_charge_A.min(MOST_BATTERY_A)),
        // 3.10 to 2.81 V for a cell of 3.6 V, 2.75 to 2.50 V for one of 3.2 V. Common practice,
        // no source.
        undervoltage: FoldBack { full: 0.86 * nominal_V, none: 0.78 * nominal_V },
        // 4.14 to 4.28 V for a cell of 3.6 V, 3.68 to 3.80 V for one of 3.2 V: its floor under
        // whatever the pack's own rules allow. Common practice, no source.
        overvoltage: FoldBack { full: 1.15 * nominal_V, none: 1.19 * nominal_V },
        // Magnets and enamel of cheap motors; the brake lasts longer, since it is needed more.
        // Common practice, no source.
        drive_heat: FoldBack { full: 90.0, none: 120.0 },
        brake_heat: FoldBack { full: 120.0, none: 150.0 },
        resistance_ohm: SWITCH_OHM,
        idle_W: sheet.idle_W.unwrap_or(IDLE_W),
        // Common practice, no source: drive is gone within 0.1 s of the timeout, a full brake is
        // eased in 4 s.
        timeout_s: 0.25,
        drive_ramp_per_s: 10.0,
        brake_ease_per_s: 0.25,
    }
}

fn scaled(heat: &Heat, size: f64) -> Heat {
    Heat {
        winding_J_K: heat.winding_J_K * size,
        case_J_K: heat.case_J_K * size,
        winding_to_case_W_K: heat.winding_to_case_W_K * size,
        case_to_air_W_K: heat.case_to_air_W_K * size,
    }
}

/// Four equal wheels, one driven for each motor; discs, so half their mass counts at the rim.
fn wheels(diameter_m: f64, motors: u8) -> Wheels {
    let relative = diameter_m / MODEL_WHEEL_M;
    let mass_kg = MODEL_WHEEL_KG * relative * relative.sqrt();
    let each_kg_m2 = 0.125 * mass_kg * diameter_m * diameter_m;
    let driven = f64::from(motors);
    Wheels {
        driven_weight_share: 0.25 * driven,
        driven_kg_m2: driven * each_kg_m2,
        free_kg_m2: (4.0 - driven) * each_kg_m2,
    }
}
