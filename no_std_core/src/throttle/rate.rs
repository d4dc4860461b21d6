//! How much time a tick stands for, and how far a rate moves something in it.
//!
//! Used by everything in this room that moves: `arming`, `ceilings`, `hard`, `shaping`. Rates are
//! prepared as parts per microsecond when settings are built, so a tick only multiplies.

use crate::math::{divide, narrow};
use crate::time::{Duration, Instant};
use crate::units::{MetresPerSecondCubed, MetresPerSecondSquared};

/// A tick moves nothing further than this long would, however late it is: what the rider asked
/// meanwhile is not known. Five ticks of a hand. Common practice, no source.
pub const LONGEST_STEP: Duration = Duration::from_millis(100);

/// A tick later than this disarms: the board's end has long taken the silence for a lost hand.
/// The shortest time that a rider notices as "it hung" rather than as a hitch. No source.
pub const LATE_AFTER: Duration = Duration::from_secs(1);

/// 2^40 parts in a thousand microseconds.
const ALL_IN_A_MILLISECOND: i32 = 1_099_511_627;

/// The time between two ticks.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Step {
    /// There was no tick before; nothing moves.
    First,
    /// The tick came within [`LATE_AFTER`]; zero where the instant is repeated.
    OnTime {
        /// The time since the last tick.
        elapsed: Duration,
    },
    /// More than [`LATE_AFTER`] has passed.
    Late,
    /// The clock stepped back; nothing moves.
    Backwards,
}

impl Step {
    /// The step from the tick at `last` to the one at `now`.
    #[must_use]
    pub fn between(last: Option<Instant>, now: Instant) -> Self {
        let Some(last) = last else { return Self::First };
        match now.since(last) {
            None => Self::Backwards,
            Some(elapsed) if elapsed > LATE_AFTER => Self::Late,
            Some(elapsed) => Self::OnTime { elapsed },
        }
    }

    /// The microseconds that things move for, 0 to [`LONGEST_STEP`].
    #[must_use]
    pub fn micros(self) -> u32 {
        let time = match self {
            Self::First | Self::Backwards => Duration::ZERO,
            Self::OnTime { elapsed } => elapsed.min(LONGEST_STEP),
            Self::Late => LONGEST_STEP,
        };
        u32::try_from(time.to_micros()).unwrap_or(0)
    }
}

/// A rate in `2^-40` units per microsecond; what it moves is in `2^-24` units.
///
/// That is fine enough for the gentlest rate (0.1 m/s³ moves 1.7 parts per microsecond) and wide
/// enough for the fastest (10 m/s² in 20 ms are `2^29`).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(super) struct Rate(i32);

impl Rate {
    /// The rate of a jerk, rounded down.
    pub(super) fn of(jerk: MetresPerSecondCubed) -> Self {
        // From 2^-16 per second to 2^-40 per microsecond.
        Self(divide(i64::from(jerk.to_bits()), 1_000_000, 24))
    }

    /// The rate that takes an acceleration to nothing within a time, rounded up.
    pub(super) fn emptying(full: MetresPerSecondSquared, within: Duration) -> Self {
        let micros = i64::try_from(within.to_micros()).unwrap_or(i64::MAX);
        Self(divide(i64::from(full.to_bits()), micros, 24).saturating_add(1))
    }

    /// The rate that moves a share from none to all (or back) in so many milliseconds; no time at
    /// all counts as one.
    pub(super) const fn all_within(milliseconds: i32) -> Self {
        match ALL_IN_A_MILLISECOND.checked_div(milliseconds) {
            Some(rate) => Self(rate),
            None => Self(ALL_IN_A_MILLISECOND),
        }
    }

    /// Twice this rate.
    pub(super) fn twice(self) -> Self {
        Self(self.0.saturating_mul(2))
    }

    /// The faster of two rates.
    pub(super) fn or_faster(self, other: Self) -> Self {
        Self(self.0.max(other.0))
    }

    /// How far it moves in a time, in `2^-40` units: 31 bits times 32.
    fn parts(self, micros: u32) -> i64 {
        i64::from(self.0).wrapping_mul(i64::from(micros))
    }

    /// How far it moves in a time, in `2^-24` units, rounded down.
    pub(super) fn over(self, micros: u32) -> i32 {
        narrow(self.parts(micros) >> 16)
    }

    /// The same, rounded up: for whatever has to be gone in time.
    pub(super) fn over_or_more(self, micros: u32) -> i32 {
        narrow(self.parts(micros).saturating_add(0xFFFF) >> 16)
    }

    /// The microseconds it takes to move so far (`2^-24` units), rounded up. Divides: not for
    /// every tick.
    pub(super) fn time_for(self, distance: i32) -> u32 {
        let parts = i64::from(distance.max(0)) << 16;
        let rounded = parts.saturating_add(i64::from(self.0).saturating_sub(1));
        let micros = rounded.checked_div(i64::from(self.0)).unwrap_or(i64::MAX);
        u32::try_from(micros).unwrap_or(u32::MAX)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn law_a_split_step_moves_as_far_as_a_whole_one(
            jerk in 100_i32..50_000, first in 0_u32..50_000, second in 0_u32..50_000,
        ) {
            let rate = Rate::of(MetresPerSecondCubed::from_milli(jerk));
            let whole = rate.over(first + second);
            let split = rate.over(first) + rate.over(second);
            // One part of 2^-24 is lost at the cut.
            prop_assert!(whole - split <= 1 && split <= whole);
        }

        #[test]
        fn law_the_time_for_a_distance_moves_that_distance(
            jerk in 100_i32..50_000, distance in 0_i32..10 << 24,
        ) {
            let rate = Rate::of(MetresPerSecondCubed::from_milli(jerk));
            let micros = rate.time_for(distance);
            prop_assert!(rate.over_or_more(micros) >= distance);
            prop_assert!(micros == 0 || rate.over(micros - 1) < distance);
        }
    }

    #[test]
    fn a_rate_moves_what_its_jerk_says() {
        let rate = Rate::of(MetresPerSecondCubed::from_whole(2));
        // 2 m/s³ for 50 ms are 0.1 m/s²; the rate is rounded by less than a millionth of itself.
        assert!((rate.over(50_000) - (1 << 24) / 10).abs() <= 2);
        let share = Rate::all_within(1000);
        assert!((share.over(100_000) - (1 << 24) / 10).abs() <= 2);
        let emptying =
            Rate::emptying(MetresPerSecondSquared::from_whole(2), Duration::from_millis(300));
        assert!(emptying.over_or_more(300_000) >= 2 << 24);
    }

    #[test]
    fn a_step_is_held_to_the_longest_one() {
        let at = Instant::from_millis;
        assert_eq!(Step::between(None, at(5)), Step::First);
        assert_eq!(Step::between(Some(at(5)), at(4)), Step::Backwards);
        assert_eq!(Step::between(Some(at(5)), at(5)).micros(), 0);
        assert_eq!(Step::between(Some(at(5)), at(15)).micros(), 10_000);
        assert_eq!(Step::between(Some(at(5)), at(205)).micros(), 100_000);
        assert_eq!(Step::between(Some(at(0)), at(1001)), Step::Late);
        assert_eq!(Step::Late.micros(), 100_000);
    }
}
