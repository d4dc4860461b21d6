//! What can be wrong with the data of a cell.
//!
//! Made by `tables`, `tail` and `hysteresis`; each variant carries the value, words are in `Display`.

use thiserror::Error;

/// Why a cell cannot be built.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum CellFault {
    /// A value lies outside what the model can mean.
    #[error("{quantity} is {given}, allowed is {lowest} to {highest}")]
    OutOfRange {
        /// Name of the quantity, with its unit.
        quantity: &'static str,
        /// What was given.
        given: f64,
        /// Lowest allowed value.
        lowest: f64,
        /// Highest allowed value.
        highest: f64,
    },
    /// A table has too few entries.
    #[error("{table} has {given} entries, at least {needed} are needed")]
    TooShort {
        /// Name of the table.
        table: &'static str,
        /// Entries given.
        given: usize,
        /// Entries needed.
        needed: usize,
    },
    /// Two columns differ in length.
    #[error(
        "the resting voltage at {temperature_degC} degC has {given} entries for {needed} of soc"
    )]
    UnequalColumns {
        /// Temperature of the column.
        temperature_degC: f64,
        /// Entries given.
        given: usize,
        /// Entries of the charge column.
        needed: usize,
    },
    /// Charge does not rise from row to row, or a repeated row says something else.
    #[error("soc does not rise at {after}: {given} follows")]
    SocNotRising {
        /// The charge before.
        after: f64,
        /// The charge that should have been higher.
        given: f64,
    },
    /// Resting voltage falls as charge rises.
    #[error("resting voltage falls from {before_V} V to {after_V} V at soc {soc}")]
    VoltageFalls {
        /// Where.
        soc: f64,
        /// Voltage of the row before.
        before_V: f64,
        /// Voltage of this row.
        after_V: f64,
    },
    /// The resistance table is not a full grid of charge and temperature.
    #[error("no single resistance for soc {soc} at {temperature_degC} degC")]
    GridHole {
        /// Charge of the missing or repeated row.
        soc: f64,
        /// Temperature of the missing or repeated row.
        temperature_degC: f64,
    },
}

/// `given` where it is a number from `lowest` to `highest`.
///
/// # Errors
/// `OutOfRange` otherwise, also for NaN.
pub(crate) fn within(
    quantity: &'static str,
    given: f64,
    lowest: f64,
    highest: f64,
) -> Result<f64, CellFault> {
    if given >= lowest && given <= highest {
        Ok(given)
    } else {
        Err(CellFault::OutOfRange { quantity, given, lowest, highest })
    }
}
