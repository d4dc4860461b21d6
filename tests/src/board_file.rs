//! Writes the board file that the builder of a trace's vehicle would have.
//!
//! Our own library is fed through it, as by any other builder. Of worn packs it holds the
//! capacity when new. What a ride alone would teach, such as its consumption, is left out.
//! Source: the section "Board file" of the contract that outside checks rely on.

use std::fs;
use std::path::{Path, PathBuf};

use serde::Serialize;

use crate::reference::{Reference, ReferenceError};

/// Softening begins where the stop voltage is this much farther down. Common practice, no source.
const SOFTEN_OVER_STOP: f64 = 1.06;

/// The published sets have no limits of current. These, in multiples of 1C, are invented: above
/// what any trace draws or returns, so that no limit comes into play.
const MOST_DISCHARGE_C: f64 = 6.0;
const MOST_CHARGE_C: f64 = 1.0;

#[derive(Serialize)]
struct BoardFile<'a> {
    name: &'a str,
    assumed_temperature_degC: f64,
    cell: Cell<'a>,
    pack: Pack,
    vehicle: Vehicle,
}

#[derive(Serialize)]
struct Cell<'a> {
    capacity_Ah: f64,
    lowest_V: f64,
    highest_V: f64,
    resting_voltage: &'a str,
    resistance: &'a str,
    max_discharge_A: f64,
    max_charge_A: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    curve_doubt_V: Option<f64>,
}

#[derive(Serialize)]
struct Pack {
    series: u32,
    parallel: u32,
    soften_below_V: f64,
    stop_below_V: f64,
    discharge_through_protection: bool,
}

#[derive(Serialize)]
struct Vehicle {
    mass_kg: f64,
    wheel_diameter_m: f64,
    rolling_resistance: f64,
    drag_area_m2: f64,
    drivetrain_efficiency: f64,
}

/// Puts the board file of `reference` and copies of its tables in `folder`, and returns its path.
///
/// # Errors
/// [`ReferenceError::Write`].
pub fn write(reference: &Reference, folder: &Path) -> Result<PathBuf, ReferenceError> {
    let (facts, cell) = (&reference.facts, &reference.cell);
    let resting = copy(&reference.resting_file, folder)?;
    let resistance = copy(&reference.resistance_file, folder)?;
    let stop_below_V = facts.controller_cutoff_V_per_cell * f64::from(facts.series);
    let board = BoardFile {
        name: &reference.name,
        assumed_temperature_degC: reference.build.assumed_temperature_degC,
        cell: Cell {
            capacity_Ah: facts.new_cell_capacity_Ah,
            lowest_V: cell.lower_V,
            highest_V: cell.upper_V,
            resting_voltage: &resting,
            resistance: &resistance,
            max_discharge_A: MOST_DISCHARGE_C * cell.nominal_1C_A,
            max_charge_A: MOST_CHARGE_C * cell.nominal_1C_A,
            curve_doubt_V: reference.curve_doubt_V,
        },
        pack: Pack {
            series: facts.series,
            parallel: facts.parallel,
            soften_below_V: SOFTEN_OVER_STOP * stop_below_V,
            stop_below_V,
            discharge_through_protection: false,
        },
        vehicle: Vehicle {
            mass_kg: facts.vehicle.mass_kg,
            wheel_diameter_m: facts.vehicle.wheel_mm / 1000.0,
            rolling_resistance: facts.vehicle.crr,
            drag_area_m2: facts.vehicle.cda_m2,
            drivetrain_efficiency: facts.vehicle.eta,
        },
    };
    let path = folder.join(format!("{}.toml", reference.name));
    let failed = |source| ReferenceError::Write { file: path.clone(), source };
    let text = toml::to_string(&board).map_err(|fault| failed(std::io::Error::other(fault)))?;
    fs::write(&path, text).map_err(failed)?;
    Ok(path)
}

/// Copies `table` into `folder` under its own name, and returns that name.
fn copy(table: &Path, folder: &Path) -> Result<String, ReferenceError> {
    let name = table.file_name().unwrap_or_default();
    let target = folder.join(name);
    match fs::copy(table, &target) {
        Ok(_) => Ok(name.to_string_lossy().into_owned()),
        Err(source) => Err(ReferenceError::Write { file: target, source }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_board_file_says_what_the_facts_say() {
        let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("data");
        let reference = Reference::read(&data, "last-drop-lfp").unwrap();
        let folder = tempfile::tempdir().unwrap();
        let path = write(&reference, folder.path()).unwrap();
        let board: toml::Table = fs::read_to_string(path).unwrap().parse().unwrap();
        let number = |part: &str, key: &str| {
            let value = &board[part][key];
            let whole = value.as_integer().map(|whole| i32::try_from(whole).unwrap());
            whole.map_or_else(|| value.as_float().unwrap(), f64::from)
        };
        for (part, key, expected) in [
            ("cell", "capacity_Ah", 2.30345),
            ("cell", "lowest_V", 2.0),
            ("cell", "highest_V", 3.6),
            ("pack", "series", 10.0),
            ("pack", "parallel", 5.0),
            ("pack", "stop_below_V", 25.0),
            ("pack", "soften_below_V", 26.5),
            ("vehicle", "mass_kg", 96.0),
            ("vehicle", "wheel_diameter_m", 0.1),
            ("vehicle", "rolling_resistance", 0.016),
            ("vehicle", "drag_area_m2", 0.52),
            ("vehicle", "drivetrain_efficiency", 0.8),
        ] {
            assert!((number(part, key) - expected).abs() < 1e-9, "{key}");
        }
        for key in ["resting_voltage", "resistance"] {
            let table = board["cell"][key].as_str().unwrap();
            assert!(folder.path().join(table).is_file(), "{table}");
        }
    }
}
