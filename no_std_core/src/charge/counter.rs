//! Counts charge in integers, exactly.
//!
//! One quantum is 2^-17 ampere-microseconds (7.6 pC): the sum of two readings of `Amperes` times
//! a time in microseconds, halved by the trapezoid rule, is a whole number of them. Nothing is
//! rounded, so nothing drifts. Used by `charge`; a 64-bit sum holds 19 000 Ah.

use crate::math::{difference, divide, scale_wide, sum};
use crate::time::Duration;
use crate::units::{Amperes, Coulombs, Ratio};

/// The longest step that is counted as one trapezoid. A longer one cannot overflow (it is cut),
/// but [`super::gap`] has to deal with it first.
const LONGEST_STEP_US: u32 = 1 << 30;

/// An amount of charge in quanta of 2^-17 A·µs, discharge positive; sums saturate.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Quanta(i64);

impl Quanta {
    /// None.
    pub const ZERO: Self = Self(0);

    /// What flows while the current goes from `from` to `to` in a straight line, within `time`
    /// (cut at 17.9 minutes). Exact.
    #[must_use]
    pub fn between(from: Amperes, to: Amperes, time: Duration) -> Self {
        // Two 31-bit numbers times one of 30 bits are at most 62 bits.
        let micros = u32::try_from(time.to_micros()).unwrap_or(u32::MAX).min(LONGEST_STEP_US);
        let both = i64::from(from.to_bits()).wrapping_add(i64::from(to.to_bits()));
        Self(both.wrapping_mul(i64::from(micros)))
    }

    /// A charge given in coulombs, rounded down to whole quanta, and cut at 18 600 Ah.
    #[must_use]
    pub fn from_coulombs(charge: Coulombs) -> Self {
        /// 2^-32 C are 10^6 · 2^17 / 2^32 = 15625 / 512 quanta.
        const QUANTA: i64 = 15_625;
        const PER_BITS: u32 = 9;
        /// Times [`QUANTA`] within 63 bits.
        const MOST: i64 = 1 << 49;
        let bits = charge.to_bits();
        // In two parts, since the whole product would not fit.
        let (high, low) = (bits >> PER_BITS, bits & ((1 << PER_BITS) - 1));
        let high = high.clamp(-MOST, MOST).wrapping_mul(QUANTA);
        Self(high.wrapping_add(low.wrapping_mul(QUANTA) >> PER_BITS))
    }

    /// The charge in coulombs, rounded down.
    #[must_use]
    pub fn to_coulombs(self) -> Coulombs {
        let wide = (i128::from(self.0) << 9).wrapping_div(15_625);
        Coulombs::from_bits(i64::try_from(wide).unwrap_or(if wide < 0 {
            i64::MIN
        } else {
            i64::MAX
        }))
    }

    /// The number of quanta.
    #[must_use]
    pub const fn count(self) -> i64 {
        self.0
    }

    /// So many quanta.
    #[must_use]
    pub const fn from_count(count: i64) -> Self {
        Self(count)
    }

    /// Its size without its sign.
    #[must_use]
    pub const fn magnitude(self) -> Self {
        Self(self.0.saturating_abs())
    }

    /// Half of it, rounded down.
    #[must_use]
    pub const fn halved(self) -> Self {
        Self(self.0 >> 1)
    }
}

impl core::ops::Add for Quanta {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(sum(self.0, other.0))
    }
}

impl core::ops::Sub for Quanta {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(difference(self.0, other.0))
    }
}

/// A capacity, with what makes charges of it cheap: a shift and a reciprocal.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Capacity {
    whole: Quanta,
    shift: u32,
    reciprocal: i32,
}

/// The capacity is shifted to this many bits before its reciprocal is taken.
const KEPT_BITS: u32 = 30;

impl Capacity {
    /// The capacity of a whole pack; anything under a millicoulomb counts as that.
    #[must_use]
    pub fn new(charge: Coulombs) -> Self {
        let whole = Quanta::from_coulombs(charge.max(Coulombs::from_milli(1)));
        let bits = 64_u32.saturating_sub(whole.0.leading_zeros());
        let shift = bits.saturating_sub(KEPT_BITS);
        // The kept part has its top bit at 2^29, so that this lies within 2^24 to 2^25.
        let reciprocal =
            divide(1, whole.0 >> shift, Ratio::FRACTION_BITS.saturating_add(KEPT_BITS));
        Self { whole, shift, reciprocal }
    }

    /// The whole of it.
    #[must_use]
    pub const fn whole(self) -> Quanta {
        self.whole
    }

    /// How large a share of the capacity `charge` is.
    #[must_use]
    pub fn share(self, charge: Quanta) -> Ratio {
        // A charge of up to two capacities keeps within 32 bits here; more may saturate.
        let kept = crate::math::narrow(charge.0 >> self.shift);
        Ratio::from_bits(crate::math::scale::<KEPT_BITS>(kept, self.reciprocal))
    }

    /// The charge that is `share` of the capacity. For corrections, not for every tick.
    #[must_use]
    pub fn part(self, share: Ratio) -> Quanta {
        Quanta(scale_wide::<{ Ratio::FRACTION_BITS }>(self.whole.0, share.to_bits()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn law_counting_is_exact_against_wide_arithmetic(
            steps in proptest::collection::vec((-20_000_000_i32..20_000_000, 0_u64..1_000_000), 1..200)
        ) {
            let (mut counted, mut exact, mut before) = (Quanta::ZERO, 0_i128, 0_i32);
            for (bits, micros) in steps {
                let (from, to) = (Amperes::from_bits(before), Amperes::from_bits(bits));
                counted = counted + Quanta::between(from, to, Duration::from_micros(micros));
                exact += (i128::from(before) + i128::from(bits)) * i128::from(micros);
                before = bits;
            }
            prop_assert_eq!(i128::from(counted.count()), exact);
        }

        #[test]
        fn law_a_steady_current_counts_the_same_in_one_step_or_two(
            bits: i32, first in 0_u64..1 << 29, second in 0_u64..1 << 29
        ) {
            let amperes = Amperes::from_bits(bits);
            let step = |micros| Quanta::between(amperes, amperes, Duration::from_micros(micros));
            prop_assert_eq!(step(first) + step(second), step(first + second));
        }

        #[test]
        fn law_a_closed_loop_returns_to_where_it_began(bits: i32, micros in 0_u64..1 << 30) {
            let (out, back) = (Amperes::from_bits(bits.max(-i32::MAX)), Amperes::from_bits(-bits.max(-i32::MAX)));
            let time = Duration::from_micros(micros);
            prop_assert_eq!(Quanta::between(out, out, time) + Quanta::between(back, back, time), Quanta::ZERO);
        }

        #[test]
        fn law_share_and_part_undo_each_other(milliampere_hours in 10_i32..200_000, bits in 0_i32..=1 << 24) {
            let capacity = Capacity::new(Coulombs::from_milliampere_hours(milliampere_hours));
            let again = capacity.share(capacity.part(Ratio::from_bits(bits)));
            prop_assert!((again.to_bits() - bits).abs() <= 2, "{} {}", again.to_bits(), bits);
        }
    }

    #[test]
    fn an_ampere_for_an_hour_is_3600_coulombs() {
        let one = Amperes::from_whole(1);
        let mut sum = Quanta::ZERO;
        for _ in 0..3600 {
            sum = sum + Quanta::between(one, one, Duration::from_secs(1));
        }
        assert_eq!(sum.to_coulombs(), Coulombs::from_whole(3600));
        assert_eq!(Quanta::from_coulombs(Coulombs::from_whole(3600)), sum);
        let half = Capacity::new(Coulombs::from_whole(7200)).share(sum);
        assert!((half - Ratio::from_percent(50)).magnitude() <= Ratio::from_bits(2), "{half}");
    }
}
