//! What one cell is: its voltage at rest, and what it loses under load.
//!
//! Built once as part of the `board`, asked by `charge` (what does this voltage say?) and by
//! `range` (where does the pack sag to nothing?). Published cells stand in [`published`].

mod grid;
pub mod published;
mod resistance;
mod resting;

pub use resistance::{MOST_TEMPERATURES, Pulse, ResistanceFault, ResistanceMap};
pub use resting::{CurveFault, MOST_COLUMNS, RestingCurve, RestingCurveAt};
