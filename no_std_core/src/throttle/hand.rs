//! What a tick is told of the handheld itself.
//!
//! Filled by the caller from its own converters and buttons; read by `throttle`.

use crate::units::Volts;

/// The hand at one instant.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Hand {
    /// The raw count of the thumb's sensor.
    pub thumb: u16,
    /// The number of the pace that is asked for, from 0; the walk home for one that does not exist.
    pub pace: u8,
    /// The voltage of the handheld's own battery, where something measures it.
    pub battery: Option<Volts>,
}

impl From<u16> for Hand {
    /// A thumb, the first pace, and a battery that nobody looks at.
    fn from(thumb: u16) -> Self {
        Self { thumb, pace: 0, battery: None }
    }
}
