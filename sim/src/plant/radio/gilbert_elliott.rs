//! Bursts of loss by two states that follow each other by chance.
//!
//! Used by `radio`. Source: E. N. Gilbert, "Capacity of a burst-noise channel", Bell System
//! Technical Journal 39 (1960) 1253, and E. O. Elliott, ibid. 42 (1963) 1977, from memory.

use rand_chacha::ChaCha8Rng;

use crate::random::uniform;

/// The two-state chain.
#[derive(Clone, Debug)]
pub(super) struct GilbertElliott {
    worsens: f64,
    recovers: f64,
    bad: bool,
}

impl GilbertElliott {
    /// A chain in its good state that turns bad with chance `worsens` in each slot, and good again
    /// with chance `recovers`.
    pub(super) const fn new(worsens: f64, recovers: f64) -> Self {
        Self { worsens, recovers, bad: false }
    }

    /// Whether the next slot is a bad one.
    pub(super) fn is_bad(&mut self, numbers: &mut ChaCha8Rng) -> bool {
        let turns = uniform(numbers) < if self.bad { self.recovers } else { self.worsens };
        self.bad ^= turns;
        self.bad
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::random::{Purpose, stream};

    /// Share of bad slots, their mean length, and the share of bursts of ten slots and more.
    fn bursts(worsens: f64, recovers: f64) -> (f64, f64, f64) {
        let mut numbers = stream(11, Purpose::Radio);
        let mut chain = GilbertElliott::new(worsens, recovers);
        let (slots, mut bad, mut count, mut long, mut run) = (2_000_000_u32, 0, 0, 0, 0_u32);
        for _ in 0..slots {
            if chain.is_bad(&mut numbers) {
                bad += 1;
                run += 1;
            } else if run > 0 {
                count += 1;
                long += u32::from(run >= 10);
                run = 0;
            }
        }
        let per = |part: u32, whole: u32| f64::from(part) / f64::from(whole);
        (per(bad, slots), per(bad, count), per(long, count))
    }

    // Source: the stationary share p/(p+r), the mean burst 1/r and the tail (1-r)^9 of a two-state
    // chain (Gilbert 1960), worked out by hand for four pairs.
    #[test]
    fn source_a_chain_loses_and_lasts_as_its_two_chances_say() {
        for (worsens, recovers, share, mean, tail) in [
            (0.01, 0.5, 0.0196, 2.0, 0.002),
            (0.02, 0.3, 0.0625, 3.33, 0.0404),
            (0.05, 0.2, 0.2, 5.0, 0.134),
            (0.01, 0.1, 0.0909, 10.0, 0.387),
        ] {
            let (bad, length, long) = bursts(worsens, recovers);
            // Some 20 000 bursts: 4 standard errors are about 3 % of share and length, and 1.5 in
            // a hundred of a tail near a half.
            assert!((bad / share - 1.0).abs() < 0.05, "{bad} for {share}");
            assert!((length / mean - 1.0).abs() < 0.03, "{length} for {mean}");
            assert!((long - tail).abs() < 0.015, "{long} for {tail}");
        }
    }
}
