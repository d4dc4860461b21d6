//! From what a builder wrote to what is true: the plant of a board file on a day.
//!
//! Used by `scenario`. The tables of the board file say what kind of cell it is; resistance, charge,
//! capacity and spread are the scenario's. Relaxation, heat, hysteresis and wiring are the plant's
//! own: no board file has them, so that the library cannot know them either.

use std::f64::consts::TAU;
use std::sync::Arc;

use libm::sin;

use homestretch::board::{self, Board};
use homestretch::cell::Pulse;
use homestretch::units::{Celsius, Ratio};

use super::{PackOfDay, Scenario, ScenarioError};
use crate::board_file::BoardFile;
use crate::faults::Script;
use crate::plant::cell::{Cell, CellTables, Chemistry, ResistanceRow, RestingColumn};
use crate::plant::pack::{Age, PackSettings, Spread, Thermal, Wiring};
use crate::plant::{BoardSheet, Parts, complete};
use crate::world::{Air, Pattern, Setup, WeldFailure};

/// A weld's and a strip's resistance: two short lengths of nickel strip, 8 by 0.15 mm at 58 mΩ/m
/// (from the resistivity of nickel, 7e-8 Ω m, from memory).
const WELD_OHM: f64 = 0.0003;
const STRIP_OHM: f64 = 0.0004;

/// Half a metre of 12 AWG both ways (5.2 mΩ/m by ASTM B258), a fuse and two connectors.
const LEADS_OHM: f64 = 0.006;

/// The points of the tables that the plant takes over.
const CHARGES: i32 = 128;
const RESISTANCE_CHARGES: [f64; 11] = [0.02, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.98];
const TEMPERATURES_DEGC: [f64; 4] = [0.0, 10.0, 25.0, 40.0];

/// The setup of a world.
pub(super) fn setup(
    day: &Scenario,
    file: &BoardFile,
    pattern: Pattern,
    laps: u32,
) -> Result<Setup, ScenarioError> {
    let board = &file.board;
    let tables = tables(board.cell(), day.pack.curve_shift);
    let chemistry = chemistry(board.cell());
    let cell = Arc::new(Cell::of(&tables, chemistry)?);
    Ok(Setup {
        pattern,
        laps,
        pack: pack(day, board, chemistry),
        cell,
        vehicle: vehicle(day, file)?,
        rider: day.rider,
        sensors: day.sensors.clone(),
        cell_voltages: day.cell_voltages,
        radio: day.radio,
        air: Air {
            temperature_degC: day.air.temperature_degC,
            pressure_Pa: day.air.pressure_Pa,
            headwind_m_s: day.air.headwind_m_s,
        },
        weld: day.weld.map(|weld| WeldFailure {
            at_s: weld.at_s,
            group: weld.group,
            cells: weld.cells,
        }),
        faults: Script::default(),
        pace: 0,
        seal: true,
    })
}

/// What the builder's tables say of a new cell.
fn tables(cell: &board::Cell, curve_shift: f64) -> CellTables {
    let charges: Vec<f64> = (0..=CHARGES).map(|at| f64::from(at) / f64::from(CHARGES)).collect();
    let ratio = |soc: &f64| Ratio::from_f64(*soc).unwrap_or(Ratio::ZERO);
    let column = |temperature_degC: f64| {
        let curve = cell.resting.at(celsius(temperature_degC));
        // Along the charge and not along the voltage: so a curve that rises still rises, and full
        // and empty stay where they are.
        let shifted = |soc: &f64| soc + curve_shift * sin(TAU * soc);
        let voltage_V =
            charges.iter().map(|soc| curve.voltage(ratio(&shifted(soc))).to_f64()).collect();
        RestingColumn { temperature_degC, voltage_V }
    };
    let row = |soc: f64, temperature_degC: f64| {
        let after =
            |pulse| cell.resistance.ohms(ratio(&soc), celsius(temperature_degC), pulse).to_f64();
        ResistanceRow {
            soc,
            temperature_degC,
            r_10s_ohm: after(Pulse::TenSeconds),
            r_1s_ohm: Some(after(Pulse::OneSecond)),
        }
    };
    let capacity_Ah = cell.capacity.to_f64() / 3600.0;
    CellTables {
        resting: [0.0, 25.0, 40.0].into_iter().map(column).collect(),
        resistance: TEMPERATURES_DEGC
            .into_iter()
            .flat_map(|degC| RESISTANCE_CHARGES.into_iter().map(move |soc| (soc, degC)))
            .map(|(soc, degC)| row(soc, degC))
            .collect(),
        soc: charges,
        pulse_A: capacity_Ah,
        capacity_Ah,
        lowest_V: cell.lowest.to_f64(),
        highest_V: cell.highest.to_f64(),
    }
}

fn celsius(degC: f64) -> Celsius {
    Celsius::from_f64(degC).unwrap_or(Celsius::from_whole(25))
}

/// The kind of a cell, told by its resting curve: iron phosphate rests far lower than the others,
/// and cobalt oxide is flat in the lower half where nickel-rich cells are not.
fn chemistry(cell: &board::Cell) -> Chemistry {
    let volts = |percent| {
        cell.resting.at(Celsius::from_whole(25)).voltage(Ratio::from_percent(percent)).to_f64()
    };
    if volts(50) < 3.45 {
        Chemistry::IronPhosphate
    } else if volts(50) - volts(20) < 0.16 {
        Chemistry::Cobalt
    } else {
        Chemistry::NickelRich
    }
}

fn pack(day: &Scenario, board: &Board, chemistry: Chemistry) -> PackSettings {
    let PackOfDay {
        charge,
        capacity_share,
        resistance_share,
        capacity_spread,
        resistance_spread,
        charge_spread,
        temperature_degC,
        ..
    } = day.pack;
    let (series, parallel) = (u32::from(board.pack().series), u32::from(board.pack().parallel));
    let energy_Wh = board.cell().capacity.to_f64() / 3600.0
        * board
            .cell()
            .resting
            .at(Celsius::from_whole(25))
            .voltage(Ratio::from_percent(50))
            .to_f64();
    PackSettings {
        series,
        parallel,
        start_soc: charge,
        temperature_degC: temperature_degC.unwrap_or(day.air.temperature_degC),
        air_degC: day.air.temperature_degC,
        seed: 0,
        spread: Spread {
            capacity: capacity_spread,
            resistance: resistance_spread,
            charge: charge_spread,
        },
        age: Age { capacity_share, resistance_growth: resistance_share },
        wiring: Wiring { weld_ohm: WELD_OHM, strip_ohm: STRIP_OHM, leads_ohm: LEADS_OHM },
        thermal: thermal(energy_Wh, f64::from(series * parallel), chemistry),
    }
}

/// Heat of a pack in a closed box. Common practice, no source: a 70 g cell of 18 Wh (iron
/// phosphate: 82 g, 7.5 Wh) holds 1000 J/(kg K); the box gives up its heat in about twenty minutes.
fn thermal(cell_Wh: f64, cells: f64, chemistry: Chemistry) -> Thermal {
    let J_K_Wh = match chemistry {
        Chemistry::NickelRich | Chemistry::Cobalt => 3.9,
        Chemistry::IronPhosphate => 11.0,
    };
    let cell_heat_J_K = cell_Wh * J_K_Wh;
    let pack_heat_J_K = cell_heat_J_K * cells;
    Thermal {
        cell_heat_J_K,
        enclosure_heat_J_K: pack_heat_J_K * 0.25,
        cells_to_enclosure_W_K: pack_heat_J_K / 500.0,
        enclosure_to_air_W_K: pack_heat_J_K / 900.0,
    }
}

/// The powertrain that the builder's figures make, under the true body.
fn vehicle(day: &Scenario, file: &BoardFile) -> Result<Parts, ScenarioError> {
    let (cell, pack, told) = (file.board.cell(), file.board.pack(), file.board.vehicle());
    let truth = &day.vehicle;
    let series = u32::from(pack.series);
    let parallel = f64::from(pack.parallel);
    let half = cell.resting.at(Celsius::from_whole(25)).voltage(Ratio::from_percent(50));
    let throttle = file.throttle.parts();
    let told_mass_kg = told.mass.to_f64();
    let told_wheel_m = told.wheel_diameter.to_f64();
    let sheet = BoardSheet {
        mass_kg: told_mass_kg,
        wheel_diameter_m: told_wheel_m,
        rolling_resistance: told.rolling_resistance.to_f64(),
        drag_area_m2: told.drag_area_m2.to_f64(),
        drivetrain_efficiency: truth
            .drivetrain_efficiency
            .unwrap_or(told.drivetrain_efficiency.to_f64()),
        series_cells: series,
        pack_nominal_V: half.to_f64() * f64::from(series),
        top_speed_m_s: throttle.limits.top_speed.end.to_f64(),
        full_current_m_s2: throttle.full_current_acceleration.to_f64(),
        max_discharge_A: cell.max_discharge.to_f64() * parallel,
        max_charge_A: throttle.limits.brake.charge_current.to_f64(),
    };
    let mut parts = complete(&sheet, &file.motors)?.parts;
    // Its own cutoff lies below the pack's stop voltage, or the board would never get there.
    let stop_V = pack.stop_below.to_f64();
    let cutoff = &mut parts.controller.undervoltage;
    cutoff.full = cutoff.full.min(stop_V * 0.985);
    cutoff.none = cutoff.none.min(stop_V * 0.96);
    let body = &mut parts.body;
    *body = body.weighing(truth.mass_kg.unwrap_or(told_mass_kg));
    body.rolling_resistance = truth.rolling_resistance.unwrap_or(body.rolling_resistance);
    body.drag_area_m2 = truth.drag_area_m2.unwrap_or(body.drag_area_m2);
    body.wheel_diameter_m = told_wheel_m * truth.wheel_share.unwrap_or(1.0);
    Ok(parts)
}
