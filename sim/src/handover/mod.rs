//! What was tuned, on its way to a firmware and back: as a record, as a constant, as a board file.
//!
//! All three carry the same [`Tuning`]: the board file as a builder writes it, the record as a firmware
//! reads it from its flash (`homestretch::store`), the constant as a firmware includes it. Its mark is shown
//! by the handheld's status, so that one can see that what rides is what was tried. Taken back from any of
//! them, it is the same tuning, or nothing is taken. Used by `cli` and `workbench`.

mod constant;
mod taken;
mod untuned;

use homestretch::throttle::Tuning;

use crate::board_file::BoardFile;

pub use constant::constant;
pub use taken::taken;

/// The record that a firmware reads from its flash.
#[must_use]
pub fn record(file: &BoardFile) -> Vec<u8> {
    file.tuning.to_bytes().to_vec()
}

/// The mark of a tuning as it is shown: eight hexadecimal digits.
#[must_use]
pub fn mark(tuning: &Tuning) -> String {
    shown(tuning.mark())
}

/// A mark as it is shown.
#[must_use]
pub fn shown(mark: u32) -> String {
    format!("{mark:08x}")
}

#[cfg(test)]
mod tests;
