//! Belt, chain or gears between motor and wheel.
//!
//! Used by `vehicle` through `axle`: what comes in is cut by the efficiency on its way out,
//! whichever way it goes, so a brake is stronger at the wheel than at the motor.

use crate::plant::range::{OutOfRange, within};

/// A gear with one ratio.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gear {
    /// Turns of the motor per turn of the wheel, 0.5 to 20; 1 for a motor in the hub.
    pub ratio: f64,
    /// Share of the power that comes out, in both directions, 0.5 to 1.
    pub efficiency: f64,
}

impl Gear {
    /// Whether all values lie in their ranges.
    ///
    /// # Errors
    /// [`OutOfRange`] for the first that does not.
    pub fn check(&self) -> Result<(), OutOfRange> {
        within("gear_ratio", self.ratio, (0.5, 20.0))?;
        within("gear_efficiency", self.efficiency, (0.5, 1.0))
    }
}
