//! Physical quantities: wrong units don't compile, and nothing wraps.
//!
//! Every quantity is a newtype over a fixed-point number whose operators *saturate*: a sum
//! that would leave the type's range stays at its end. Only operators that physics needs exist.
//!
//! Signs, once for the whole house: **discharge is positive** (current and charge), forward is
//! positive (speed, distance, acceleration), uphill is positive, drive is positive and brake
//! negative.
//!
//! The fixed-point type inside is not part of the interface; `to_bits` and `from_bits` are, for
//! records and digests, and their scale is stated with each type.

mod charge;
mod current;
mod distance;
mod energy;
mod mass;
mod motion;
mod quantity;
mod ratio;
mod resistance;
mod temperature;
mod voltage;

pub use charge::Coulombs;
pub use current::Amperes;
pub use distance::Metres;
pub use energy::Joules;
pub use mass::Kilograms;
pub use motion::{MetresPerSecond, MetresPerSecondCubed, MetresPerSecondSquared};
pub use ratio::Ratio;
pub use resistance::Ohms;
pub use temperature::{Celsius, Kelvins};
pub use voltage::Volts;
