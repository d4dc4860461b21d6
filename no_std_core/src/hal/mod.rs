//! Where the library meets a microcontroller's parts: adapters over the traits of `embedded-hal`.
//!
//! Feature `embedded-hal`. None of them is needed: a demand is a number, and a thumb is a count.
//! Used by firmware; uses nothing but `units` and `math`.

mod servo;
mod thumb;

pub use servo::{NotAPulse, Pulses, ServoPulse};
pub use thumb::Thumb;
