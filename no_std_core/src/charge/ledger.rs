//! What the estimate of charge may be wrong by, kept apart by cause, and what a voltage does to it.
//!
//! The error is written as a sum: an amount for each cause that stays the same for a ride (the
//! sensor's offset, the scale of counting, the voltage that the curve promises, the way this cell
//! relaxes), each times an unknown of unit variance, and a rest that owes nothing to any of them.
//! A voltage shares some of these causes with the estimate. Because they are kept apart, a hundred
//! stops with the same lying voltmeter never add up to certainty, as they would in a filter that
//! takes every stop for news.
//!
//! That is a consider filter (Schmidt 1966, from memory; the update is Joseph's form): the
//! causes are never estimated here, only carried. Fed by `charge`, asks nobody.

use crate::math::{divide, root, scale, scale_wide, square, sum};
use crate::units::Ratio;

/// Amounts of the charge's error by cause, one sigma each, signed, as bits of a [`Ratio`].
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Causes {
    /// Grows with time: a current that is measured where none flows, or flows unmeasured.
    pub(crate) offset: i32,
    /// Grows with charge drawn: the capacity and the sensor's gain, [`super::Scale`].
    pub(crate) scale: i32,
    /// What the voltmeter's scale and the curve's mistake made of it.
    pub(crate) voltage: i32,
    /// What the wrong guess at the relaxation made of it.
    pub(crate) relaxation: i32,
}

/// The error of the charge.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Ledger {
    /// What has a cause that lasts.
    pub(crate) causes: Causes,
    /// Variance of the rest (gaps, noise, an unknown start), bits squared.
    pub(crate) rest: i64,
}

/// What a resting voltage says about charge, and what that may be wrong by.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Evidence {
    /// The charge that the voltage speaks for.
    pub soc: Ratio,
    /// One sigma from the voltmeter's scale and the curve: the same at every stop.
    pub voltage: Ratio,
    /// One sigma from the guess at the relaxation, signed as the relaxation: alike at every stop.
    pub relaxation: Ratio,
    /// One sigma of what is new each time.
    pub noise: Ratio,
}

impl Evidence {
    /// One sigma of all of it.
    pub(crate) fn sigma(&self) -> Ratio {
        let parts = [self.voltage, self.relaxation, self.noise];
        Ratio::from_bits(root(
            parts.into_iter().fold(0, |so_far, part| sum(so_far, square(part.to_bits()))),
        ))
    }
}

const BITS: u32 = Ratio::FRACTION_BITS;

/// No amount is kept larger than this: charge is known to within all of it anyway.
const MOST: i32 = 1 << BITS;

fn product(a: i32, b: i32) -> i64 {
    i64::from(a).wrapping_mul(i64::from(b))
}

/// A variance times a pure number, saturating.
fn times(variance: i64, by: i32) -> i64 {
    scale_wide::<BITS>(variance, by)
}

fn held(bits: i32) -> i32 {
    bits.clamp(-MOST, MOST)
}

impl Causes {
    /// Sum of squares: each is at most 2^48, so that it stays far from 2^63.
    fn variance(&self) -> i64 {
        self.times(self)
    }

    fn times(&self, other: &Self) -> i64 {
        product(self.offset, other.offset)
            .wrapping_add(product(self.scale, other.scale))
            .wrapping_add(product(self.voltage, other.voltage))
            .wrapping_add(product(self.relaxation, other.relaxation))
    }

    /// These, less a share of others.
    fn less(self, others: &Self, share: i32) -> Self {
        let less = |mine: i32, theirs: i32| held(mine.saturating_sub(scale::<BITS>(theirs, share)));
        Self {
            offset: less(self.offset, others.offset),
            scale: less(self.scale, others.scale),
            voltage: less(self.voltage, others.voltage),
            relaxation: less(self.relaxation, others.relaxation),
        }
    }
}

impl Ledger {
    /// Nothing known of the charge.
    #[must_use]
    pub(crate) fn unknown() -> Self {
        Self { causes: Causes::default(), rest: square(MOST) }
    }

    /// The ledger of a charge that is an evidence and nothing else.
    #[must_use]
    pub(crate) fn of(evidence: &Evidence) -> Self {
        let causes = Causes {
            voltage: evidence.voltage.to_bits(),
            relaxation: evidence.relaxation.to_bits(),
            ..Causes::default()
        };
        Self { causes, rest: square(evidence.noise.to_bits()) }
    }

    /// The ledger after some counting, of which the sensor's offset makes one sigma of `by_offset`
    /// and the scale one of `by_scale`, signed as what was drawn: what flows back takes its doubt
    /// along.
    #[must_use]
    #[inline(never)]
    pub(crate) fn grown(self, by_offset: Ratio, by_scale: Ratio) -> Self {
        let Causes { offset, scale, .. } = self.causes;
        let offset = held(offset.saturating_add(by_offset.to_bits()));
        let scale = held(scale.saturating_add(by_scale.to_bits()));
        Self { causes: Causes { offset, scale, ..self.causes }, ..self }
    }

    /// The ledger after something unforeseen of one sigma `by` happened to the charge.
    #[must_use]
    pub(crate) fn blurred(self, by: Ratio) -> Self {
        let rest = sum(self.rest, square(held(by.to_bits())));
        Self { rest: rest.min(square(MOST)), ..self }
    }

    /// The variance of the charge, in bits of a [`Ratio`] squared.
    #[must_use]
    pub(crate) fn variance(&self) -> i64 {
        sum(self.causes.variance(), self.rest)
    }

    /// One sigma of the charge.
    #[must_use]
    pub fn sigma(&self) -> Ratio {
        Ratio::from_bits(root(self.variance()))
    }

    /// The causes of what estimate and evidence are apart by.
    fn apart(&self, evidence: &Evidence) -> Causes {
        let Causes { voltage, relaxation, .. } = self.causes;
        Causes {
            voltage: held(voltage.saturating_sub(evidence.voltage.to_bits())),
            relaxation: held(relaxation.saturating_sub(evidence.relaxation.to_bits())),
            ..self.causes
        }
    }

    /// The variance of estimate minus evidence.
    #[must_use]
    pub(crate) fn disagreement(&self, evidence: &Evidence) -> i64 {
        let noise = square(held(evidence.noise.to_bits()));
        sum(sum(self.apart(evidence).variance(), self.rest), noise)
    }

    /// The best use of an evidence: of the way from the estimated charge to it, 0 to 1.
    #[must_use]
    pub(crate) fn weight(&self, evidence: &Evidence) -> Ratio {
        let own = sum(self.causes.times(&self.apart(evidence)), self.rest);
        let total = self.disagreement(evidence);
        if total <= 0 {
            return Ratio::ZERO;
        }
        // At least zero: an evidence that leads away is none.
        Ratio::from_bits(divide(own.max(0), total, BITS)).min(Ratio::ONE)
    }

    /// What is left of the doubts after an evidence was used with this weight (Joseph's form: true
    /// of any weight, the best or not). Nothing where the charge would be known less well.
    #[must_use]
    pub(crate) fn corrected(self, evidence: &Evidence, weight: Ratio) -> Option<Self> {
        let apart = self.apart(evidence);
        let weight = weight.to_bits();
        let (kept, noise) = (MOST.saturating_sub(weight), square(held(evidence.noise.to_bits())));
        let after = Self {
            causes: self.causes.less(&apart, weight),
            rest: sum(times(times(self.rest, kept), kept), times(times(noise, weight), weight)),
        };
        // Rounding may cost a bit; a correction that does not help is none.
        (after.variance() <= self.variance()).then_some(after)
    }
}

#[cfg(test)]
mod tests;
