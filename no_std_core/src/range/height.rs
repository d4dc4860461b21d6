//! How high the board stands, in the room that a handheld has for it.
//!
//! Told by telemetry where it has a height; `range` learns a block without its climb by it.

use crate::units::Metres;

/// Metres have 32 fraction bits, heights 3.
pub(super) const HEIGHT_SHIFT: u32 = 29;

/// A height in eighths of a metre, up to 4 km either way: two bytes of a state that counts its bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Height(i16);

impl Height {
    /// Nothing measures it.
    pub const UNKNOWN: Self = Self(i16::MIN);

    /// The nearest below; unknown beyond 4 km.
    #[must_use]
    pub fn of(elevation: Option<Metres>) -> Self {
        elevation
            .and_then(|above| i16::try_from(above.to_bits() >> HEIGHT_SHIFT).ok())
            .map_or(Self::UNKNOWN, Self)
    }

    /// By how many eighths of a metre this is above another one, where both are known.
    pub(super) fn above(self, other: Self) -> Option<i32> {
        let known = self != Self::UNKNOWN && other != Self::UNKNOWN;
        known.then(|| i32::from(self.0).saturating_sub(i32::from(other.0)))
    }
}
