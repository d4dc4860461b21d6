//! What every firmware of an emulated Cortex-M needs: the machine, and a line to the host.
#![no_std]
#![deny(missing_docs)]

pub mod console;
pub mod machine;
