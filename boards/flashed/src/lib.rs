//! What a firmware carries in its flash, and how it lives it.
//!
//! A board and its settings ([`board`]), a recorded ride ([`ride`]), the way a handheld lives that
//! ride ([`play`]) and digests of every state on the way ([`digest`]). The same code runs on a
//! laptop and on each Cortex-M, so that what it says can be compared bit by bit.
#![no_std]
#![forbid(unsafe_code)]
#![deny(missing_docs)]

#[cfg(any(test, feature = "write"))]
extern crate std;

pub mod board;
pub mod board_end;
pub mod conversions;
pub mod digest;
pub mod ends;
pub mod play;
pub mod ride;
