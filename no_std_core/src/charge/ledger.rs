//! What the estimate of charge may be wrong by, kept apart by cause, and what a resting voltage
//! does to it.
//!
//! Two numbers are estimated together: the charge, and the *scale* by which counted charge has to
//! be taken (a pack that has worn holds less, a current sensor reads too much: one cannot be told
//! from the other). Their errors are written as sums: an amount for each cause that stays the same
//! for a ride (the sensor's offset, the voltage that the curve promises, the way this cell
//! relaxes), each times an unknown of unit variance, and a rest that owes nothing to any of them.
//! A voltage shares some of these causes with the estimate. Because they are kept apart, a hundred
//! stops with the same lying voltmeter never add up to certainty, as they would in a filter that
//! takes every stop for news.
//!
//! That is a consider filter (Schmidt 1966, from memory; the update is Joseph's form): the
//! causes are never estimated, only carried. Fed by `charge`, asks nobody.

use crate::math::{difference, divide, root, scale, scale_wide, sum};
use crate::units::Ratio;

/// Amounts of one number's error by cause, one sigma each, signed, as bits of a [`Ratio`].
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Causes {
    /// Grows with time: a current that is measured where none flows, or flows unmeasured.
    pub(crate) offset: i32,
    /// What the voltmeter's scale and the curve's mistake made of it.
    pub(crate) voltage: i32,
    /// What the wrong guess at the relaxation made of it.
    pub(crate) relaxation: i32,
}

/// The errors of charge and scale.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Ledger {
    /// Of the charge.
    pub(crate) charge: Causes,
    /// Of the scale.
    pub(crate) scale: Causes,
    /// Variance of the rest of the charge's error (gaps, noise, an unknown start), bits squared.
    pub(crate) charge_rest: i64,
    /// Covariance of both rests.
    pub(crate) both_rest: i64,
    /// Variance of the rest of the scale's error.
    pub(crate) scale_rest: i64,
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

/// What to do about an evidence: how far to move, per unit of what it is apart from the estimate.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(crate) struct Weights {
    /// Of the way from the estimated charge to the evidence, 0 to 1.
    pub(crate) charge: Ratio,
    /// For the scale, of either sign.
    pub(crate) scale: Ratio,
}

const BITS: u32 = Ratio::FRACTION_BITS;

/// No amount is kept larger than this: charge is known to within all of it anyway.
const MOST: i32 = 1 << BITS;

fn square(bits: i32) -> i64 {
    product(bits, bits)
}

fn product(a: i32, b: i32) -> i64 {
    i64::from(a).wrapping_mul(i64::from(b))
}

/// A variance times a pure number, saturating.
fn times(variance: i64, by: i32) -> i64 {
    scale_wide::<BITS>(variance, by)
}

fn twice(variance: i64) -> i64 {
    sum(variance, variance)
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
            .wrapping_add(product(self.voltage, other.voltage))
            .wrapping_add(product(self.relaxation, other.relaxation))
    }

    /// These, less a share of others.
    fn less(self, others: &Self, share: i32) -> Self {
        let less = |mine: i32, theirs: i32| held(mine.saturating_sub(scale::<BITS>(theirs, share)));
        Self {
            offset: less(self.offset, others.offset),
            voltage: less(self.voltage, others.voltage),
            relaxation: less(self.relaxation, others.relaxation),
        }
    }
}

impl Ledger {
    /// Nothing known of the charge; of the scale, one sigma.
    #[must_use]
    pub(crate) fn unknown(scale: Ratio) -> Self {
        Self { scale_rest: square(scale.to_bits()), ..Self::default() }.charge_unknown()
    }

    /// This ledger's scale, and nothing known of the charge.
    #[must_use]
    pub(crate) fn charge_unknown(self) -> Self {
        Self { charge: Causes::default(), charge_rest: square(MOST), both_rest: 0, ..self }
    }

    /// Nothing known of the charge but an evidence; of the scale, one sigma.
    #[cfg(test)]
    #[must_use]
    pub(crate) fn of(evidence: &Evidence, scale: Ratio) -> Self {
        Self::unknown(scale).restarted(evidence)
    }

    /// The ledger of a charge that is an evidence and nothing else, the scale being known as before.
    #[must_use]
    pub(crate) fn restarted(self, evidence: &Evidence) -> Self {
        let charge = Causes {
            offset: 0,
            voltage: evidence.voltage.to_bits(),
            relaxation: evidence.relaxation.to_bits(),
        };
        let charge_rest = square(evidence.noise.to_bits());
        Self { charge, charge_rest, both_rest: 0, ..self }
    }

    /// The ledger after `drawn` more was counted, in a time in which the sensor's offset makes one
    /// sigma of `by_offset`.
    #[must_use]
    pub(crate) fn grown(self, drawn: Ratio, by_offset: Ratio) -> Self {
        // A scale too large by s takes s times what was drawn too much off the charge.
        let drawn = drawn.to_bits();
        let mut charge = self.charge.less(&self.scale, drawn);
        charge.offset = held(charge.offset.saturating_add(by_offset.to_bits()));
        let by_scale = times(self.scale_rest, drawn);
        let both_rest = difference(self.both_rest, by_scale);
        // Var(e - d s) = Var e - 2 d Cov + d² Var s.
        let charge_rest = difference(self.charge_rest, twice(times(self.both_rest, drawn)));
        let charge_rest = sum(charge_rest, times(by_scale, drawn));
        Self { charge, charge_rest: charge_rest.clamp(0, square(MOST)), both_rest, ..self }
    }

    /// The ledger after something unforeseen of one sigma `by` happened to the charge.
    #[must_use]
    pub(crate) fn blurred(self, by: Ratio) -> Self {
        let charge_rest = sum(self.charge_rest, square(held(by.to_bits())));
        Self { charge_rest: charge_rest.min(square(MOST)), ..self }
    }

    /// The ledger after a time in which the scale may have changed by one sigma `by`.
    #[must_use]
    pub(crate) fn aged(self, by: Ratio) -> Self {
        Self {
            scale_rest: self
                .scale_rest
                .saturating_add(square(held(by.to_bits())))
                .min(square(MOST)),
            ..self
        }
    }

    /// This ledger's scale with the charge of `other`, as of two numbers that owe each other nothing.
    #[must_use]
    pub(crate) fn only_charge(self, other: Self) -> Self {
        Self { charge: other.charge, charge_rest: other.charge_rest, both_rest: 0, ..self }
    }

    /// The variance of the charge, in bits of a [`Ratio`] squared.
    #[must_use]
    pub(crate) fn variance(&self) -> i64 {
        sum(self.charge.variance(), self.charge_rest)
    }

    /// One sigma of the charge.
    #[must_use]
    pub fn sigma(&self) -> Ratio {
        Ratio::from_bits(root(self.variance()))
    }

    /// One sigma of the scale.
    #[must_use]
    pub fn scale_sigma(&self) -> Ratio {
        Ratio::from_bits(root(sum(self.scale.variance(), self.scale_rest)))
    }

    /// The causes of what estimate and evidence are apart by.
    fn apart(&self, evidence: &Evidence) -> Causes {
        Causes {
            offset: self.charge.offset,
            voltage: held(self.charge.voltage.saturating_sub(evidence.voltage.to_bits())),
            relaxation: held(self.charge.relaxation.saturating_sub(evidence.relaxation.to_bits())),
        }
    }

    /// The variance of estimate minus evidence.
    #[must_use]
    pub(crate) fn disagreement(&self, evidence: &Evidence) -> i64 {
        let noise = square(held(evidence.noise.to_bits()));
        sum(sum(self.apart(evidence).variance(), self.charge_rest), noise)
    }

    /// The best use of an evidence.
    #[cfg(test)]
    #[must_use]
    pub(crate) fn weights(&self, evidence: &Evidence) -> Weights {
        Weights { charge: self.charge_weight(evidence), scale: self.scale_weight(evidence) }
    }

    /// The best use of an evidence for the charge.
    #[must_use]
    pub(crate) fn charge_weight(&self, evidence: &Evidence) -> Ratio {
        let own = sum(self.charge.times(&self.apart(evidence)), self.charge_rest);
        // At least zero: an evidence that leads away is none.
        self.part_of(own.max(0), evidence).min(Ratio::ONE)
    }

    /// And for the scale.
    #[must_use]
    pub(crate) fn scale_weight(&self, evidence: &Evidence) -> Ratio {
        let apart = self.apart(evidence);
        if sum(self.charge.times(&apart), self.charge_rest) <= 0 {
            return Ratio::ZERO;
        }
        self.part_of(sum(self.scale.times(&apart), self.both_rest), evidence)
    }

    /// A covariance over the variance of estimate minus evidence.
    fn part_of(&self, covariance: i64, evidence: &Evidence) -> Ratio {
        let total = self.disagreement(evidence);
        if total <= 0 {
            return Ratio::ZERO;
        }
        Ratio::from_bits(divide(covariance, total, BITS))
    }

    /// What is left of the doubts after an evidence was used with these weights (Joseph's form: true
    /// of any weights, the best or not). Nothing where the charge would be known less well.
    #[must_use]
    pub(crate) fn corrected(self, evidence: &Evidence, weights: Weights) -> Option<Self> {
        let apart = self.apart(evidence);
        let (weight, scale_weight) = (weights.charge.to_bits(), weights.scale.to_bits());
        let (kept, noise) = (MOST.saturating_sub(weight), square(held(evidence.noise.to_bits())));
        let noisy = times(noise, weight);
        let both_kept = difference(self.both_rest, times(self.charge_rest, scale_weight));
        let after = Self {
            charge: self.charge.less(&apart, weight),
            scale: self.scale.less(&apart, scale_weight),
            charge_rest: sum(times(times(self.charge_rest, kept), kept), times(noisy, weight)),
            both_rest: sum(times(both_kept, kept), times(noisy, scale_weight)),
            scale_rest: sum(
                difference(self.scale_rest, twice(times(self.both_rest, scale_weight))),
                times(times(sum(self.charge_rest, noise), scale_weight), scale_weight),
            )
            .clamp(0, square(MOST)),
        };
        // Rounding may cost a bit; a correction that does not help is none.
        (after.variance() <= self.variance()).then_some(after)
    }
}

#[cfg(test)]
mod tests;
