//! The tables a builder has of a cell, and the checks they must pass.
//!
//! Plain data, read from files elsewhere; made into curves by `curve` and `resistance`.

use super::fault::{CellFault, within};

/// Resting voltage of every row of charge, at one temperature.
#[derive(Clone, Debug, PartialEq)]
pub struct RestingColumn {
    /// Temperature of the column (degC, -40 to 80).
    pub temperature_degC: f64,
    /// One voltage per entry of `soc` (V); must not fall as charge rises.
    pub voltage_V: Vec<f64>,
}

/// Resistance of a rested cell under a pulse of discharge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ResistanceRow {
    /// Charge, 0 to 1.
    pub soc: f64,
    /// Temperature (degC, -40 to 80).
    pub temperature_degC: f64,
    /// Fall of the voltage after 10 s over the current (ohm, 0.1 milliohm to 10 ohm).
    pub r_10s_ohm: f64,
    /// The same after 1 s, where known; not above `r_10s_ohm` by more than a tenth.
    pub r_1s_ohm: Option<f64>,
}

/// All that is known of a cell.
#[derive(Clone, Debug, PartialEq)]
pub struct CellTables {
    /// Charge, rising, 0 to 1, at least 2 rows. A row may stand twice if it says the same.
    pub soc: Vec<f64>,
    /// At least one column; more than one tells how the voltage moves with temperature.
    pub resting: Vec<RestingColumn>,
    /// A full grid of charge and temperature, in any order.
    pub resistance: Vec<ResistanceRow>,
    /// Current of the pulses (A per cell, 0.01 to 1000), commonly 1C.
    pub pulse_A: f64,
    /// Charge between soc 0 and 1 when new (Ah per cell, 0.01 to 1000).
    pub capacity_Ah: f64,
    /// Resting voltage at which the cell counts as empty (V).
    pub lowest_V: f64,
    /// Resting voltage at which the cell counts as full (V).
    pub highest_V: f64,
}

/// One row of the resting table after checks: 25 degC voltage and its change per kelvin.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct RestingRow {
    pub(crate) soc: f64,
    pub(crate) voltage_V: f64,
    pub(crate) per_K: f64,
}

impl CellTables {
    /// The resting rows, strictly rising in charge.
    pub(crate) fn resting_rows(&self) -> Result<Vec<RestingRow>, CellFault> {
        within("capacity_Ah", self.capacity_Ah, 0.01, 1000.0)?;
        within("pulse_A", self.pulse_A, 0.01, 1000.0)?;
        within("lowest_V", self.lowest_V, 0.5, 5.0)?;
        within("highest_V", self.highest_V, self.lowest_V + 0.1, 6.0)?;
        if self.soc.len() < 2 {
            return Err(CellFault::TooShort { table: "soc", given: self.soc.len(), needed: 2 });
        }
        for column in &self.resting {
            within("resting temperature_degC", column.temperature_degC, -40.0, 80.0)?;
            if column.voltage_V.len() != self.soc.len() {
                return Err(CellFault::UnequalColumns {
                    temperature_degC: column.temperature_degC,
                    given: column.voltage_V.len(),
                    needed: self.soc.len(),
                });
            }
        }
        let mut rows: Vec<RestingRow> = Vec::with_capacity(self.soc.len());
        for (at, &soc) in self.soc.iter().enumerate() {
            within("soc", soc, 0.0, 1.0)?;
            let (voltage_V, per_K) = self.line_through(at)?;
            let row = RestingRow {
                soc,
                voltage_V: within("resting voltage_V", voltage_V, 0.0, 6.0)?,
                per_K,
            };
            let Some(before) = rows.last() else {
                rows.push(row);
                continue;
            };
            // Tables whose spacing changes tend to repeat the row at the seam.
            if soc - before.soc < 1e-9
                && soc >= before.soc
                && (voltage_V - before.voltage_V).abs() < 1e-6
            {
                continue;
            }
            if soc - before.soc < 1e-9 {
                return Err(CellFault::SocNotRising { after: before.soc, given: soc });
            }
            if voltage_V < before.voltage_V {
                return Err(CellFault::VoltageFalls {
                    soc,
                    before_V: before.voltage_V,
                    after_V: voltage_V,
                });
            }
            rows.push(row);
        }
        if rows.len() < 2 {
            return Err(CellFault::TooShort { table: "soc", given: rows.len(), needed: 2 });
        }
        Ok(rows)
    }

    /// Voltage at 25 degC and its change per kelvin in row `at`: the line through the columns by least
    /// squares, held at the 25 degC column where there is one.
    fn line_through(&self, at: usize) -> Result<(f64, f64), CellFault> {
        let points = || {
            self.resting.iter().filter_map(move |column| {
                column
                    .voltage_V
                    .get(at)
                    .map(|&voltage_V| (column.temperature_degC - 25.0, voltage_V))
            })
        };
        let count = points().count();
        if count == 0 {
            return Err(CellFault::TooShort { table: "resting", given: 0, needed: 1 });
        }
        let n = points().map(|_| 1.0).sum::<f64>();
        let (mean_K, mean_V) =
            points().fold((0.0, 0.0), |(t, v), (warm_K, volt)| (t + warm_K / n, v + volt / n));
        let (hold_K, hold_V) =
            points().find(|(warm_K, _)| warm_K.abs() < 0.5).unwrap_or((mean_K, mean_V));
        let (mut across, mut along) = (0.0, 0.0);
        for (warm_K, volt) in points() {
            across += (warm_K - hold_K) * (volt - hold_V);
            along += (warm_K - hold_K) * (warm_K - hold_K);
        }
        let per_K = if along > 1.0 { across / along } else { 0.0 };
        // One column alone is taken for that of 25 degC, whatever it was measured at.
        Ok((hold_V - per_K * hold_K, per_K))
    }
}
