//! A board file that is being changed: drafts, each of them legal, and the way back.
//!
//! A [`Draft`] is a text and the board that it makes. A change gives another draft or the faults, and
//! leaves the one that it was asked of as it was. Comments and order of the file are kept. What may be
//! changed stands in [`TUNABLE`]: the numbers of thumb, throttle, brake, limits and riders, and the two
//! curves; paces and all that was built stay as they are. Reads files by `board_file`, writes none;
//! used by whoever tunes, by hand or by search (`shape`).

mod draft;
mod fault;
mod history;
mod keys;
mod rewrite;
mod typed;
mod values;

pub use draft::{Change, Draft, text_after};
pub use fault::Fault;
pub use history::History;
pub use keys::{Group, TUNABLE, Tunable, tunable};
pub use typed::read_number;
pub use values::{
    CurveKind, CurveShown, CurvesShown, KeyShown, Values, exact_numbers, numbers_in_effect,
};

#[cfg(test)]
mod tests;
