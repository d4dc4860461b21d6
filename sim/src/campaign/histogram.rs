//! Shares counted in bins, so that a campaign of any size has a median.
//!
//! Used by `score` and `homeward`; sums of two are the sums of their bins.

/// Bins of half a percent, up to the whole; what is larger lies in the last one.
const BINS: usize = 200;
const PER_BIN: f64 = 0.005;

/// Counts of shares from 0 to 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Histogram([u32; BINS]);

impl Default for Histogram {
    fn default() -> Self {
        Self([0; BINS])
    }
}

impl Histogram {
    /// One share more; one below 0 counts as 0.
    #[allow(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "held to the bins that there are"
    )]
    pub(super) fn add(&mut self, share: f64) {
        let bin = (share / PER_BIN).clamp(0.0, 199.0) as usize;
        if let Some(count) = self.0.get_mut(bin) {
            *count = count.saturating_add(1);
        }
    }

    /// Both together.
    #[must_use]
    pub fn and(mut self, other: &Self) -> Self {
        for (count, more) in self.0.iter_mut().zip(&other.0) {
            *count = count.saturating_add(*more);
        }
        self
    }

    /// The share that half of them do not exceed, to half a percent; nothing without any.
    #[must_use]
    pub fn median(&self) -> Option<f64> {
        let all: u64 = self.0.iter().map(|&count| u64::from(count)).sum();
        let mut below = 0_u64;
        let bin = self.0.iter().position(|&count| {
            below += u64::from(count);
            2 * below >= all
        })?;
        let bin = u32::try_from(bin).ok()?;
        (all > 0).then(|| (f64::from(bin) + 0.5) * PER_BIN)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn nothing_has_no_median() {
        assert_eq!(Histogram::default().median(), None);
    }

    proptest! {
        #[test]
        fn law_the_median_is_that_of_the_sorted_shares(
            mut shares in proptest::collection::vec(0.0..0.99_f64, 1..200)
        ) {
            let (left, right) = shares.split_at(shares.len() / 2);
            let of = |shares: &[f64]| {
                let mut histogram = Histogram::default();
                shares.iter().for_each(|&share| histogram.add(share));
                histogram
            };
            let median = of(left).and(&of(right)).median().unwrap();
            shares.sort_by(f64::total_cmp);
            let sorted = shares[(shares.len() - 1) / 2];
            prop_assert!((median - sorted).abs() <= PER_BIN, "{median} {sorted}");
        }
    }
}
