//! Whether the thumb is stuck: drive that has been asked for without a tremble for too long.
//!
//! A person's thumb trembles by a count or two; a slider that jams does not move at all. The two look
//! alike for minutes, so that a thumb held still is not believed for ever: after a stated time drive
//! goes as gently as any slow limit takes it, and waits for a neutral thumb. Moving it a little, at
//! any time, starts the time anew. Common practice of railway cabs, no source.

use super::error::{Error, Quantity, within};
use crate::time::Duration;
use crate::units::Ratio;

/// How long the same drive is believed where nothing else is said. No source: a thumb that is held to
/// its end does not tremble either, and a straight road is long.
pub const USUAL_STUCK_AFTER: Duration = Duration::from_secs(600);

/// Whether the thumb moves.
///
/// | state | rests or brakes | moved | still, not for too long | still for too long |
/// | --- | --- | --- | --- | --- |
/// | `Alive` | `Alive`, from zero | `Alive`, from zero | `Alive`, longer | `Stuck` |
/// | `Stuck`, thumb drives or brakes | `Stuck` | `Stuck` | `Stuck` | `Stuck` |
/// | `Stuck`, thumb neutral | `Alive` | | | |
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Stillness {
    /// It moves, or has not been still for too long.
    Alive {
        /// Where it was when it last moved.
        count: u16,
        /// Microseconds since.
        still: u32,
    },
    /// It asked for the same drive for too long.
    Stuck,
}

impl Default for Stillness {
    fn default() -> Self {
        Self::Alive { count: 0, still: 0 }
    }
}

impl Stillness {
    /// The state after reading `count`, which asks for `thumb` and may rest, `micros` after the last
    /// reading. One that can't be read, or asks in vain, asks for nothing and does not rest: it changes
    /// nothing.
    ///
    /// Further than `margin` counts from where it was is a movement; `longest` is in microseconds.
    #[must_use]
    pub(super) fn after(
        self,
        (count, thumb, rests): (u16, Ratio, bool),
        micros: u32,
        limits: &StuckLimits,
    ) -> Self {
        match self {
            _ if thumb == Ratio::ZERO && !rests => self,
            Self::Stuck if rests => Self::Alive { count, still: 0 },
            Self::Stuck => Self::Stuck,
            Self::Alive { count: since, .. }
                if thumb <= Ratio::ZERO || since.abs_diff(count) > limits.margin =>
            {
                Self::Alive { count, still: 0 }
            }
            Self::Alive { count, still } => {
                let still = still.saturating_add(micros);
                if still >= limits.longest { Self::Stuck } else { Self::Alive { count, still } }
            }
        }
    }
}

/// When a thumb counts as stuck.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(super) struct StuckLimits {
    margin: u16,
    longest: u32,
}

impl StuckLimits {
    /// Stuck after so long without more than the sensor's noise, which its hysteresis stands for.
    ///
    /// # Errors
    /// [`Error::OutOfRange`]: `StuckAfter` not within 10 s and an hour.
    pub(super) fn new(after: Duration, hysteresis: u16) -> Result<Self, Error> {
        let longest = u32::try_from(after.to_micros()).unwrap_or(u32::MAX);
        let millis = i32::try_from(after.to_millis()).unwrap_or(i32::MAX);
        within(Quantity::StuckAfter, millis, 10_000, 3_600_000)?;
        // Half of it either way: that much is noise of a thumb that stays.
        Ok(Self { margin: (hysteresis >> 1).max(1), longest })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn limits() -> StuckLimits {
        StuckLimits::new(Duration::from_secs(10), 8).unwrap()
    }

    fn after(state: Stillness, count: u16, thumb: Ratio, ticks: u32) -> Stillness {
        (0..ticks).fold(state, |state, _| {
            state.after((count, thumb, thumb == Ratio::ZERO), 20_000, &limits())
        })
    }

    #[test]
    fn a_thumb_that_is_still_for_too_long_is_stuck_until_it_is_neutral() {
        let half = Ratio::from_percent(50);
        let state = after(Stillness::default(), 3000, half, 1);
        let nearly = after(state, 3000, half, 499);
        assert_eq!(nearly, Stillness::Alive { count: 3000, still: 9_980_000 });
        let stuck = after(nearly, 3000, half, 1);
        assert_eq!(stuck, Stillness::Stuck);
        assert_eq!(after(stuck, 3300, half, 5), Stillness::Stuck);
        assert_eq!(after(stuck, 1000, -half, 5), Stillness::Stuck);
        assert_eq!(after(stuck, 2000, Ratio::ZERO, 1), Stillness::Alive { count: 2000, still: 0 });
    }

    #[test]
    fn a_wire_that_breaks_for_a_moment_frees_no_stuck_thumb() {
        let spark = (4095, Ratio::ZERO, false);
        assert_eq!(Stillness::Stuck.after(spark, 20_000, &limits()), Stillness::Stuck);
        let still = Stillness::Alive { count: 3000, still: 9_000_000 };
        assert_eq!(still.after(spark, 20_000, &limits()), still);
    }

    #[test]
    fn noise_is_no_movement_and_a_tremble_is() {
        let half = Ratio::from_percent(50);
        let ride = |swing: u16| {
            (0..1000_u16).fold(Stillness::default(), |state, tick| {
                after(state, 3000 + tick % 2 * swing, half, 1)
            })
        };
        assert_eq!(ride(4), Stillness::Stuck);
        assert_ne!(ride(5), Stillness::Stuck);
    }

    #[test]
    fn a_thumb_that_brakes_or_rests_is_never_stuck() {
        for thumb in [Ratio::ZERO, -Ratio::ONE] {
            assert_eq!(
                after(Stillness::default(), 400, thumb, 2000),
                Stillness::Alive { count: 400, still: 0 }
            );
        }
    }
}
