//! One cell as it really is, built from its tables alone.
//!
//! Resting voltage by charge and warmth, resistance with three lags, two slow spheres whose surface runs
//! ahead of the mean charge, hysteresis. Stepped by `pack`; keeps no state of its own.

mod chemistry;
mod curve;
mod fault;
mod hysteresis;
pub mod published;
mod resistance;
mod tables;
mod tail;
mod whole;

pub use chemistry::Chemistry;
pub use fault::CellFault;
pub use hysteresis::Hysteresis;
pub use tables::{CellTables, ResistanceRow, RestingColumn};
pub use tail::Tail;
pub use whole::Cell;

pub(crate) use whole::Kinetics;

pub(crate) use resistance::ResistanceAt;
pub(crate) use tail::{BRANCHES, LAGS};
