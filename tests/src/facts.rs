//! The facts that lie beside a trace and beside a cell, as JSON.
//!
//! Read by `reference`; what a builder may know of them goes on into `build` and `board_file`.

use std::path::Path;

use serde::Deserialize;
use serde::de::DeserializeOwned;

use crate::reference::ReferenceError;

/// Beside a trace. Keys that nobody here needs aren't looked at.
#[derive(Clone, Debug, Deserialize)]
pub struct RideFacts {
    /// Which `cell_`, `ocv_` and `resistance_` file belong to it.
    pub cell: String,
    /// In words.
    pub chemistry: String,
    /// Groups of cells in a row.
    pub series: u32,
    /// Cells of a group.
    pub parallel: u32,
    /// The truth: of the cells as they are.
    pub cell_capacity_Ah: f64,
    /// What the builder bought: of the cells when new.
    pub new_cell_capacity_Ah: f64,
    /// Of the air.
    pub ambient_degC: f64,
    /// Volts of a cell under load where the motor controller stops.
    pub controller_cutoff_V_per_cell: f64,
    /// Of the vehicle model.
    pub vehicle: VehicleFacts,
    /// What went before: `rested`, or something that leaves the voltage off its resting value.
    pub start: String,
    /// There if the cells are worn; how, is of no concern here.
    pub aged: Option<serde_json::Value>,
    /// Rides, rests and charges, of traces that have several.
    #[serde(default)]
    pub segments: Vec<Segment>,
}

/// A part of a trace over several days.
#[derive(Clone, Debug, Deserialize)]
pub struct Segment {
    /// `ride`, `rest` or `charge`.
    pub kind: String,
    /// In the trace's time.
    pub start_s: f64,
    /// In the trace's time.
    pub end_s: f64,
}

/// Of the vehicle model behind a trace.
#[derive(Clone, Debug, Deserialize)]
pub struct VehicleFacts {
    /// With rider.
    pub mass_kg: f64,
    /// Rolling resistance, as a share of the weight.
    pub crr: f64,
    /// Drag coefficient times frontal area.
    pub cda_m2: f64,
    /// From the pack's terminals to the road.
    pub eta: f64,
    /// Wheel diameter.
    pub wheel_mm: f64,
}

/// Beside a cell.
#[derive(Clone, Debug, Deserialize)]
pub struct CellFacts {
    /// Rests there when empty.
    pub lower_V: f64,
    /// Rests there when full.
    pub upper_V: f64,
    /// The current that is called 1C.
    pub nominal_1C_A: f64,
}

impl RideFacts {
    /// The facts in `file`.
    ///
    /// # Errors
    /// [`ReferenceError::Read`], [`ReferenceError::Facts`], [`ReferenceError::OutOfRange`].
    pub fn read(file: &Path) -> Result<Self, ReferenceError> {
        let facts: Self = json(file)?;
        let vehicle = &facts.vehicle;
        positive(
            file,
            &[
                ("series", f64::from(facts.series)),
                ("parallel", f64::from(facts.parallel)),
                ("cell_capacity_Ah", facts.cell_capacity_Ah),
                ("new_cell_capacity_Ah", facts.new_cell_capacity_Ah),
                ("controller_cutoff_V_per_cell", facts.controller_cutoff_V_per_cell),
                ("mass_kg", vehicle.mass_kg),
                ("crr", vehicle.crr),
                ("cda_m2", vehicle.cda_m2),
                ("eta", vehicle.eta),
                ("wheel_mm", vehicle.wheel_mm),
            ],
        )?;
        Ok(facts)
    }
}

impl CellFacts {
    /// The facts in `file`.
    ///
    /// # Errors
    /// [`ReferenceError::Read`], [`ReferenceError::Facts`], [`ReferenceError::OutOfRange`].
    pub fn read(file: &Path) -> Result<Self, ReferenceError> {
        let facts: Self = json(file)?;
        positive(file, &[("lower_V", facts.lower_V), ("nominal_1C_A", facts.nominal_1C_A)])?;
        if facts.upper_V <= facts.lower_V {
            return Err(ReferenceError::OutOfRange {
                file: file.to_owned(),
                quantity: "upper_V",
                given: facts.upper_V,
                allowed: "above `lower_V`",
            });
        }
        Ok(facts)
    }
}

fn json<T: DeserializeOwned>(file: &Path) -> Result<T, ReferenceError> {
    let text = std::fs::read_to_string(file)
        .map_err(|source| ReferenceError::Read { file: file.to_owned(), source })?;
    serde_json::from_str(&text)
        .map_err(|source| ReferenceError::Facts { file: file.to_owned(), source })
}

fn positive(file: &Path, facts: &[(&'static str, f64)]) -> Result<(), ReferenceError> {
    match facts.iter().find(|(_, given)| *given <= 0.0) {
        None => Ok(()),
        Some(&(quantity, given)) => Err(ReferenceError::OutOfRange {
            file: file.to_owned(),
            quantity,
            given,
            allowed: "above 0",
        }),
    }
}
