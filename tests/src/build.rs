//! What a builder knows of a pack: all that an estimator gets besides the measurements.
//!
//! Made by `reference`; asked by `counting` and `ekf`. The true capacity of worn cells is not
//! in here, nor is the true charge.

use crate::resistance::ResistanceTable;
use crate::resting::RestingCurve;

/// In degC, what the board file says where the pack has no temperature sensor. Common practice, no
/// source: a room. It is one for all traces, since a builder doesn't edit a file when it freezes.
pub const ASSUMED_TEMPERATURE: f64 = 20.0;

/// A pack as its builder knows it.
#[derive(Clone, Debug)]
pub struct Build {
    /// Groups of cells in a row.
    pub series: f64,
    /// Cells of a group.
    pub parallel: f64,
    /// Of one cell, when new.
    pub cell_capacity_Ah: f64,
    /// Of the cell.
    pub resting: RestingCurve,
    /// Of the cell.
    pub resistance: ResistanceTable,
    /// Where nothing measures it.
    pub assumed_temperature_degC: f64,
}

impl Build {
    /// The mean voltage of a cell, from that of the pack.
    #[must_use]
    pub fn cell_voltage_V(&self, pack_voltage_V: f64) -> f64 {
        pack_voltage_V / self.series
    }

    /// The current of a cell, from that of the pack.
    #[must_use]
    pub fn cell_current_A(&self, pack_current_A: f64) -> f64 {
        pack_current_A / self.parallel
    }

    /// The share of the charge that `current_A` of a cell takes in `time_s`.
    #[must_use]
    pub fn share_drawn(&self, current_A: f64, time_s: f64) -> f64 {
        current_A * time_s / 3600.0 / self.cell_capacity_Ah
    }
}
