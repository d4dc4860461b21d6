//! Charge, range and a safe thumb for the handheld of a small home-built electric vehicle.
//!
//! Everything here runs on the microcontroller: no `std`, no allocation, no clock, no I/O, no
//! `unsafe`, no panic. Time, thumb and telemetry are arguments; demand and status are results.

#![no_std]
#![forbid(unsafe_code)]
#![deny(missing_docs)]
#![cfg_attr(
    not(test),
    deny(
        clippy::unwrap_used,
        clippy::expect_used,
        clippy::panic,
        clippy::unreachable,
        clippy::indexing_slicing,
        clippy::arithmetic_side_effects,
        clippy::as_conversions,
        clippy::float_arithmetic
    )
)]

#[cfg(test)]
extern crate std;

pub mod board;
pub mod cell;
pub mod charge;
#[cfg(feature = "embedded-hal")]
pub mod hal;
pub mod handheld;
pub mod link;
mod math;
pub mod range;
pub mod receiver;
pub mod store;
pub mod telemetry;
pub mod throttle;
pub mod time;
pub mod units;
