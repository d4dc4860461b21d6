//! Bursts of loss that are mostly short and now and then very long.
//!
//! Used by `radio`. Real radios have longer bursts than two states give (Carvalho et al. 2005, for
//! wireless networks in houses, as reviewed; no fit for a hand remote was found): gaps are
//! exponential, lengths are of Pareto's kind and cut at the longest.

use libm::pow;
use rand_chacha::ChaCha8Rng;

use super::SLOT_S;
use crate::random::{exponential, uniform};

/// How long bursts are.
#[derive(Clone, Copy, Debug)]
pub(super) struct Lengths {
    pub(super) shape: f64,
    pub(super) shortest_s: f64,
    pub(super) longest_s: f64,
}

impl Lengths {
    /// A length: longer than `x` with chance `(shortest / x)^shape`.
    fn draw(self, numbers: &mut ChaCha8Rng) -> f64 {
        let chance = 1.0 - uniform(numbers);
        (self.shortest_s * pow(chance, -1.0 / self.shape)).min(self.longest_s)
    }
}

/// What comes next: the end of a burst or its beginning, in so many seconds.
#[derive(Clone, Debug)]
pub(super) struct HeavyTail {
    mean_gap_s: f64,
    lengths: Lengths,
    bad: bool,
    left_s: f64,
}

impl HeavyTail {
    /// Bursts that begin so often, on average, and last so long.
    pub(super) fn new(bursts_per_hour: f64, lengths: Lengths, numbers: &mut ChaCha8Rng) -> Self {
        let mean_gap_s = 3600.0 / bursts_per_hour;
        let mut bursts = Self { mean_gap_s, lengths, bad: false, left_s: 0.0 };
        bursts.left_s = bursts.gap(numbers);
        bursts
    }

    fn gap(&self, numbers: &mut ChaCha8Rng) -> f64 {
        exponential(self.mean_gap_s, numbers)
    }

    /// Whether the next slot is a bad one.
    pub(super) fn is_bad(&mut self, numbers: &mut ChaCha8Rng) -> bool {
        // What is shorter than a slot is one slot: a frame is lost or it is not.
        if self.left_s <= 0.0 {
            self.bad = !self.bad;
            self.left_s =
                if self.bad { self.lengths.draw(numbers) } else { self.gap(numbers) }.max(SLOT_S);
        }
        self.left_s -= SLOT_S;
        self.bad
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::random::{Purpose, stream};

    #[test]
    fn long_bursts_are_as_rare_as_the_shape_says_and_none_is_longer_than_the_longest() {
        let lengths = Lengths { shape: 1.5, shortest_s: 0.1, longest_s: 20.0 };
        let mut numbers = stream(1, Purpose::Radio);
        let drawn: Vec<f64> = (0..100_000).map(|_| lengths.draw(&mut numbers)).collect();
        assert!(drawn.iter().all(|length| (0.1..=20.0).contains(length)));
        for (than_s, share) in [(0.2, 0.3536), (1.0, 0.03162), (10.0, 0.001)] {
            let longer = drawn.iter().filter(|&&length| length > than_s).count();
            let longer = f64::from(u32::try_from(longer).unwrap()) / 1e5;
            // Four standard errors of a share over 100 000 draws.
            let bound = 4.0 * (share * (1.0 - share) / 1e5_f64).sqrt();
            assert!((longer - share).abs() < bound, "{longer} longer than {than_s} s");
        }
    }

    #[test]
    fn bursts_begin_as_often_as_asked() {
        let lengths = Lengths { shape: 1.5, shortest_s: 0.1, longest_s: 20.0 };
        let mut numbers = stream(2, Purpose::Radio);
        let mut bursts = HeavyTail::new(60.0, lengths, &mut numbers);
        let (mut before, mut begun) = (false, 0_u32);
        for _ in 0..50 * 3600 * 40 {
            let bad = bursts.is_bad(&mut numbers);
            begun += u32::from(bad && !before);
            before = bad;
        }
        // Forty hours of sixty, less the time that bursts last; four times the root of 2400.
        assert!((2190..=2600).contains(&begun), "{begun}");
    }
}
