//! What the estimate of charge may be wrong by, kept apart by cause.
//!
//! The error of the estimate is written as a sum: one amount per cause that stays the same for a
//! ride (a current sensor's scale, its offset, the voltage that the curve promises, the way this
//! cell relaxes), each times an unknown of unit variance, and a rest that owes nothing to any of
//! them. A measurement shares some of these causes with the estimate. Because they are kept
//! apart, a hundred stops with the same lying voltmeter never add up to certainty, as they would
//! in a filter that takes every stop for news.
//!
//! That is a consider filter (Schmidt 1966, from memory; the update is Joseph's form): the
//! unknown causes are never estimated, only carried. Fed by `charge`, asks nobody.

use crate::math::{divide, root, scale};
use crate::units::Ratio;

/// Amounts of charge (one sigma, signed) by cause, as bits of a [`Ratio`].
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Ledger {
    /// Grows with charge moved: the current's scale, and a capacity other than believed.
    pub(crate) scale: i32,
    /// Grows with time: a current that is measured where none flows, or flows unmeasured.
    pub(crate) offset: i32,
    /// What the voltmeter's scale and the curve's mistake made of a corrected estimate.
    pub(crate) voltage: i32,
    /// What the wrong guess at the relaxation made of it.
    pub(crate) relaxation: i32,
    /// Variance of all that is new each time: gaps, noise, an unknown start. Bits squared.
    pub(crate) independent: i64,
}

/// What a resting voltage says about charge, and what that may be wrong by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
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

/// How far to move towards an evidence, from 0 (not at all) to 1 (all the way), and what the
/// ledger is then.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Correction {
    pub(crate) weight: Ratio,
    pub(crate) after: Ledger,
}

const BITS: u32 = Ratio::FRACTION_BITS;

/// No amount is kept larger than this: charge is known to within all of it anyway.
const MOST: i32 = 1 << BITS;

fn square(bits: i32) -> i64 {
    i64::from(bits).wrapping_mul(i64::from(bits))
}

impl Ledger {
    /// The ledger of an estimate that is an evidence and nothing else.
    #[must_use]
    pub(crate) fn of(evidence: &Evidence) -> Self {
        Self {
            scale: 0,
            offset: 0,
            voltage: evidence.voltage.to_bits(),
            relaxation: evidence.relaxation.to_bits(),
            independent: square(evidence.noise.to_bits()),
        }
    }

    /// The ledger after more counting: `by_scale` and `by_offset` are one sigma each of what the
    /// counting since may be wrong by. Never less certain causes, never fewer of them.
    #[must_use]
    pub(crate) fn grown(self, by_scale: Ratio, by_offset: Ratio) -> Self {
        let held = |bits: i32, more: Ratio| bits.saturating_add(more.to_bits()).clamp(-MOST, MOST);
        Self { scale: held(self.scale, by_scale), offset: held(self.offset, by_offset), ..self }
    }

    /// The ledger after something unforeseen of one sigma `by`.
    #[must_use]
    pub(crate) fn blurred(self, by: Ratio) -> Self {
        let independent = self.independent.saturating_add(square(by.to_bits())).min(square(MOST));
        Self { independent, ..self }
    }

    /// The variance of the estimate, in bits of a [`Ratio`] squared.
    #[must_use]
    pub(crate) fn variance(&self) -> i64 {
        // Each square is at most 2^48, so that the sum is far from 2^63.
        square(self.scale)
            .wrapping_add(square(self.offset))
            .wrapping_add(square(self.voltage))
            .wrapping_add(square(self.relaxation))
            .wrapping_add(self.independent.clamp(0, square(MOST)))
    }

    /// One sigma of the estimate.
    #[must_use]
    pub fn sigma(&self) -> Ratio {
        Ratio::from_bits(root(self.variance()))
    }

    /// The variance of estimate minus evidence.
    #[must_use]
    pub(crate) fn disagreement(&self, evidence: &Evidence) -> i64 {
        let voltage = self.voltage.saturating_sub(evidence.voltage.to_bits());
        let relaxation = self.relaxation.saturating_sub(evidence.relaxation.to_bits());
        square(self.scale)
            .wrapping_add(square(self.offset))
            .wrapping_add(square(voltage.clamp(-MOST, MOST)))
            .wrapping_add(square(relaxation.clamp(-MOST, MOST)))
            .wrapping_add(self.independent.clamp(0, square(MOST)))
            .wrapping_add(square(evidence.noise.to_bits().clamp(0, MOST)))
    }

    /// The best use of an evidence. The variance never grows.
    #[must_use]
    pub(crate) fn corrected(self, evidence: &Evidence) -> Correction {
        let stays = Correction { weight: Ratio::ZERO, after: self };
        let (beta_voltage, beta_relaxation) =
            (evidence.voltage.to_bits(), evidence.relaxation.to_bits());
        let total = self.disagreement(evidence);
        let shared = i64::from(self.voltage)
            .wrapping_mul(i64::from(beta_voltage))
            .wrapping_add(i64::from(self.relaxation).wrapping_mul(i64::from(beta_relaxation)));
        let own = self.variance().saturating_sub(shared);
        if total <= 0 || own <= 0 {
            return stays;
        }
        let weight = divide(own, total, BITS).min(MOST);
        let kept = MOST.saturating_sub(weight);
        let mixed = |mine: i32, theirs: i32| {
            scale(mine, kept, BITS).saturating_add(scale(theirs, weight, BITS))
        };
        let after = Self {
            scale: scale(self.scale, kept, BITS),
            offset: scale(self.offset, kept, BITS),
            voltage: mixed(self.voltage, beta_voltage),
            relaxation: mixed(self.relaxation, beta_relaxation),
            independent: self.shrunk_independent(kept).saturating_add(square(scale(
                evidence.noise.to_bits(),
                weight,
                BITS,
            ))),
        };
        // Rounding may cost a bit; a correction that does not help is none.
        if after.variance() <= self.variance() {
            Correction { weight: Ratio::from_bits(weight), after }
        } else {
            stays
        }
    }

    fn shrunk_independent(&self, kept: i32) -> i64 {
        // The variance has 48 bits, the square of `kept` 48 more: through 2^24 each in turn.
        let once = (self.independent >> (BITS >> 1)).saturating_mul(i64::from(kept)) >> (BITS >> 1);
        (once >> (BITS >> 1)).saturating_mul(i64::from(kept)) >> (BITS >> 1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    prop_compose! {
        fn any_ledger()(
            scale in -MOST / 4..MOST / 4, offset in -MOST / 4..MOST / 4, voltage in -MOST / 4..MOST / 4,
            relaxation in -MOST / 4..MOST / 4, noise in 0..MOST / 4,
        ) -> Ledger {
            Ledger { scale, offset, voltage, relaxation, independent: square(noise) }
        }
    }

    prop_compose! {
        fn any_evidence()(
            soc in 0..=MOST, voltage in 0..MOST / 2, relaxation in -MOST / 2..MOST / 2, noise in 0..MOST / 2,
        ) -> Evidence {
            let ratio = Ratio::from_bits;
            Evidence { soc: ratio(soc), voltage: ratio(voltage), relaxation: ratio(relaxation), noise: ratio(noise) }
        }
    }

    proptest! {
        #[test]
        fn law_a_correction_never_increases_the_variance(ledger in any_ledger(), evidence in any_evidence()) {
            let Correction { weight, after } = ledger.corrected(&evidence);
            prop_assert!(after.variance() <= ledger.variance());
            prop_assert!(weight >= Ratio::ZERO && weight <= Ratio::ONE);
        }

        #[test]
        fn law_the_same_lying_voltmeter_never_adds_up_to_certainty(evidence in any_evidence(), stops in 1..50) {
            let mut ledger = Ledger { independent: square(MOST / 4), ..Ledger::default() };
            for _ in 0..stops {
                ledger = ledger.corrected(&evidence).after;
            }
            let common = square(evidence.voltage.to_bits()) + square(evidence.relaxation.to_bits());
            let floor = common.min(square(MOST / 4) / 2);
            // Rounding: each of the stops may lose a few bits of some 2^22.
            prop_assert!(ledger.variance() >= floor / 2 - (1 << 30), "{} {}", ledger.variance(), floor);
        }

        #[test]
        fn law_counting_never_makes_a_fresh_estimate_surer(a in 0..MOST / 4, b in 0..MOST / 4) {
            let fresh = Ledger { independent: square(1000), ..Ledger::default() };
            let grown = fresh.grown(Ratio::from_bits(a), Ratio::from_bits(b));
            prop_assert!(grown.variance() >= fresh.variance());
        }
    }

    #[test]
    fn two_equal_and_independent_voices_meet_halfway() {
        let sigma = Ratio::from_percent(4);
        let ledger = Ledger { independent: square(sigma.to_bits()), ..Ledger::default() };
        let evidence = Evidence {
            soc: Ratio::ZERO,
            voltage: Ratio::ZERO,
            relaxation: Ratio::ZERO,
            noise: sigma,
        };
        let Correction { weight, after } = ledger.corrected(&evidence);
        assert_eq!(weight.to_milli(), 500);
        // 4 % over the square root of two.
        assert!((after.sigma().to_f64() - 0.028_28).abs() < 1e-4, "{}", after.sigma());
    }
}
