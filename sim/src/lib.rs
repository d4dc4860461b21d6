//! The world around the handheld: rides as data, and the very library that the handheld runs.
//!
//! Physics stay `f64` here; everything that the handheld knows comes from the `homestretch`
//! library. Where time and files enter is `cli`, and `workbench` under it; no other room reads a clock.

#![allow(non_snake_case, reason = "quantities carry their unit's own symbol")]
#![deny(missing_docs)]
#![forbid(unsafe_code)]

pub mod atomic_file;
pub mod board_file;
pub mod campaign;
pub mod cli;
pub mod faults;
pub mod feel;
mod file_fault;
pub mod handover;
pub mod memory_file;
pub mod plant;
mod random;
pub mod replay;
pub mod report;
pub mod ride;
pub mod route;
pub mod scenario;
pub mod sensors;
pub mod shape;
pub mod tuning;
#[cfg(feature = "workbench")]
pub mod workbench;
pub mod world;
