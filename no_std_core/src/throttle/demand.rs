//! What comes out of the throttle: what the board is to do, and why no more.
//!
//! Made by the throttle's tick; carried to the board as a `receiver::Command`.

use super::{Arming, Reasons};
use crate::units::{MetresPerSecondSquared, Ratio};

/// What the board is to do now, and why no more.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Demand {
    /// The share of the greatest motor current, -1 to 1: drive positive, **brake negative**. A
    /// brake opposes the way the wheels turn, whichever that is; it is never a drive backwards but
    /// where `backward` says so, so the receiver has to pass it on as a brake.
    pub share: Ratio,
    /// Whether a negative share is a drive backwards.
    pub backward: bool,
    /// What the sensor says the thumb asks, -1 to 1; zero where it cannot be read.
    pub asked: Ratio,
    /// The share of the drive curve that the pace and the speed leave, 0 to 1: no limit, but what was
    /// chosen.
    pub paced: Ratio,
    /// The acceleration that the share stands for.
    pub acceleration: MetresPerSecondSquared,
    /// Why it is less than what the thumb asks in this pace; none where nothing was taken. A thumb
    /// that cannot be read counts as taken.
    pub reasons: Reasons,
    /// Whether the thumb may move the board.
    pub armed: Arming,
    /// Whether the thumb can be read, and rests.
    pub neutral: bool,
    /// The share of the brake curve, 0 to 1, that pack and motors leave, whoever brakes: for the
    /// board's own brake in a silence.
    pub brake_left: Ratio,
}

impl Demand {
    /// Its stages as numbers, for a digest or a record: asked, acceleration and share as their
    /// bits, the reasons, and one bit each for: the thumb may move the board, it rests, backward.
    #[must_use]
    pub fn to_words(&self) -> [u32; 5] {
        let bit = |place: u32, set: bool| u32::from(set).wrapping_shl(place);
        [
            self.asked.to_bits().cast_unsigned(),
            self.acceleration.to_bits().cast_unsigned(),
            self.share.to_bits().cast_unsigned(),
            self.reasons.to_bits(),
            bit(0, self.armed.is_armed()) | bit(1, self.neutral) | bit(2, self.backward),
        ]
    }
}
