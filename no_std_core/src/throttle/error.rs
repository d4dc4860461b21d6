//! What is wrong with a setting: which quantity, what was given, and where it has to lie.
//!
//! Made by every constructor of this room; only [`core::fmt::Display`] has words. Settings are
//! checked once, when they are built, so that a tick has nothing left to refuse.

use super::reasons::Reason;
use crate::math::narrow;

/// A setting that was refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum Error {
    /// The value lies outside its range. Where `lowest` is above `highest`, the values it has to
    /// fit between leave it no room at all.
    OutOfRange {
        /// Which setting.
        quantity: Quantity,
        /// The value given, in the quantity's own scale.
        given: i32,
        /// The lowest value that would have been taken, in the same scale.
        lowest: i32,
        /// The highest value that would have been taken, in the same scale.
        highest: i32,
    },
}

/// The setting that an [`Error`] speaks of.
///
/// Its scale: sensor settings are in counts and [`Self::Handles`] in pieces; everything else is
/// in thousandths of its unit (mV, mA, thousandths of a degree, mm/s, mm/s², mm/s³, ms, or
/// thousandths of one).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum Quantity {
    /// The count at the low end of the thumb's way.
    ThumbLow,
    /// The count at rest.
    ThumbCentre,
    /// The count at the high end of the thumb's way.
    ThumbHigh,
    /// Counts around the centre that ask for nothing.
    ThumbDeadband,
    /// Counts beyond the deadband before anything is asked.
    ThumbHysteresis,
    /// Counts beyond the ends that are still no broken wire.
    ThumbBrokenMargin,
    /// How many handles a curve has.
    Handles,
    /// The thumb of the handle with this number, counted from zero.
    HandleThumb(u8),
    /// The acceleration of the handle with this number, counted from zero.
    HandleAcceleration(u8),
    /// How much of a blended curve is its cubic part.
    Blend,
    /// The greatest acceleration that a curve asks for.
    GreatestAcceleration,
    /// What the vehicle does at the greatest motor current.
    FullCurrentAcceleration,
    /// How fast drive comes.
    DriveOn,
    /// How long drive takes from full to none.
    DriveOffWithin,
    /// How fast braking comes.
    BrakeOn,
    /// How fast braking goes when the thumb lets go.
    BrakeOff,
    /// How fast braking goes when nobody can tell what the thumb wants.
    BrakeEase,
    /// The pause between brake and drive.
    Pause,
    /// Where this limit begins to act.
    BandBegin(Reason),
    /// Where this limit has done all it does.
    BandEnd(Reason),
    /// The share that this limit leaves in the end.
    ShareLeft(Reason),
    /// What the motors brake without charging anything.
    BrakeWithoutCharging,
    /// The greatest current into the pack.
    ChargeCurrent,
    /// What has to be stopped.
    Mass,
    /// The deceleration that the rider can count on.
    StopWith,
    /// What brakes beside the motors.
    BesideMotors,
    /// How many paces there are.
    Paces,
    /// The share of the drive curve in the pace with this number, counted from zero.
    PaceDrive(u8),
    /// The top speed of the pace with this number, counted from zero.
    PaceTopSpeed(u8),
    /// What the board brakes with by itself in a long silence.
    SilentBrake,
    /// The speed that the reserve leaves.
    ReserveSpeed,
    /// How long a thumb is believed that does not move.
    StuckAfter,
    /// The voltage of the handheld's battery below which it warns.
    HandWarnBelow,
    /// The voltage of the handheld's battery below which it walks home.
    HandWalkBelow,
    /// The voltage at which this hard limit trips.
    Trip(Reason),
    /// The voltage at which this hard limit lets go again.
    Release(Reason),
}

/// The nearest thousandth to so many millionths: how an [`Error`] counts.
#[inline(never)]
pub(super) fn thousandths(millionths: i64) -> i32 {
    let up = millionths.saturating_add(500);
    let whole = up.wrapping_div(1000);
    // Rounded down, also where it is negative.
    narrow(if whole.wrapping_mul(1000) > up { whole.wrapping_sub(1) } else { whole })
}

/// Refuses `given` where it does not lie within `lowest` and `highest`, both included.
///
/// # Errors
/// [`Error::OutOfRange`], with the numbers as they came.
#[inline(never)]
pub(super) fn within(
    quantity: Quantity,
    given: i32,
    lowest: i32,
    highest: i32,
) -> Result<(), Error> {
    if given >= lowest && given <= highest {
        Ok(())
    } else {
        Err(Error::OutOfRange { quantity, given, lowest, highest })
    }
}

impl core::fmt::Display for Error {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::OutOfRange { quantity, given, lowest, highest } => {
                write!(f, "{quantity:?} is {given}, has to lie within {lowest} and {highest}")
            }
        }
    }
}

impl core::error::Error for Error {}

#[cfg(test)]
mod tests {
    use super::*;
    use std::string::ToString;

    #[test]
    fn a_refusal_names_the_quantity_the_value_and_the_range() {
        let refused = within(Quantity::ThumbCentre, 5, 10, 20).unwrap_err();
        assert_eq!(refused.to_string(), "ThumbCentre is 5, has to lie within 10 and 20");
    }

    #[test]
    fn both_ends_of_a_range_belong_to_it() {
        assert_eq!(within(Quantity::Pause, 10, 10, 20), Ok(()));
        assert_eq!(within(Quantity::Pause, 20, 10, 20), Ok(()));
        assert!(within(Quantity::Pause, 9, 10, 20).is_err());
        assert!(within(Quantity::Pause, 21, 10, 20).is_err());
    }
}
