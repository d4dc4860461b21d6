//! Random numbers, one independent stream per purpose, all from one seed.
//!
//! A stream of its own for each sensor keeps a ride comparable with itself: what one setting
//! changes is then only what that setting does.

use std::f64::consts::TAU;

use libm::{cos, log};
use rand::{Rng as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;

/// What a stream is drawn for. The numbers are part of what a seed means: never renumber.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Purpose {
    PackVoltage,
    PackCurrent,
    CellVoltage,
    Temperature,
    Speed,
    Counter,
    Schedule,
    Loss,
    Radio,
    Rider,
    Route,
    Day,
    Pack,
    Faults,
    DrawnFaults,
    Air,
    Keys,
}

/// The stream of `seed` for `purpose`, from its beginning.
pub(crate) fn stream(seed: u64, purpose: Purpose) -> ChaCha8Rng {
    let mut numbers = ChaCha8Rng::seed_from_u64(seed);
    numbers.set_stream(match purpose {
        Purpose::PackVoltage => 1,
        Purpose::PackCurrent => 2,
        Purpose::CellVoltage => 3,
        Purpose::Temperature => 4,
        Purpose::Speed => 5,
        Purpose::Counter => 6,
        Purpose::Schedule => 7,
        Purpose::Loss => 8,
        Purpose::Radio => 9,
        Purpose::Rider => 10,
        Purpose::Route => 11,
        Purpose::Day => 12,
        Purpose::Pack => 13,
        Purpose::Faults => 14,
        Purpose::DrawnFaults => 15,
        Purpose::Air => 16,
        Purpose::Keys => 17,
    });
    numbers
}

/// A number from 0 to below 1 of 53 random bits.
#[allow(clippy::cast_precision_loss, reason = "53 bits are just what a double holds")]
pub(crate) fn share(bits: u64) -> f64 {
    (bits & ((1 << 53) - 1)) as f64 / 9_007_199_254_740_992.0
}

/// The next number from 0 to below 1.
pub(crate) fn uniform(numbers: &mut ChaCha8Rng) -> f64 {
    share(numbers.next_u64() >> 11)
}

/// The next normal number around 0 with a standard deviation of 1.
///
/// With `libm`, since the same bytes are promised on every machine. Source: G. E. P. Box and
/// M. E. Muller, Ann. Math. Statist. 29 (1958) 610, from memory; one of the pair is enough.
pub(crate) fn normal(numbers: &mut ChaCha8Rng) -> f64 {
    let size = (-2.0 * log(1.0 - uniform(numbers))).sqrt();
    size * cos(TAU * uniform(numbers))
}

/// The next length of a gap that is `mean` long on average and forgets how long it has lasted.
pub(crate) fn exponential(mean: f64, numbers: &mut ChaCha8Rng) -> f64 {
    -mean * log(1.0 - uniform(numbers))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_seed_means_the_same_as_ever() {
        // A witness of change, not of truth: rides are named by their seed.
        assert_eq!(stream(1, Purpose::PackVoltage).next_u64(), 15_715_005_604_373_573_095);
        assert_eq!(stream(1, Purpose::Loss).next_u64(), 1_083_826_540_474_460_233);
    }

    /// Shares of a hundred thousand numbers below some values, each within four standard errors.
    fn shares(draw: impl Fn(&mut ChaCha8Rng) -> f64, below: &[(f64, f64)]) {
        let mut numbers = stream(5, Purpose::PackCurrent);
        let drawn: Vec<f64> = (0..100_000).map(|_| draw(&mut numbers)).collect();
        for &(value, share) in below {
            let count = drawn.iter().filter(|&&number| number < value).count();
            let found = f64::from(u32::try_from(count).unwrap()) / 1e5;
            let bound = 4.0 * (share * (1.0 - share) / 1e5_f64).sqrt();
            assert!((found - share).abs() < bound, "{found} of {share} below {value}");
        }
    }

    // Source: the distribution functions, as in any table of the normal distribution.
    #[test]
    fn source_numbers_are_spread_as_their_distributions_say() {
        shares(uniform, &[(0.1, 0.1), (0.5, 0.5), (0.99, 0.99)]);
        let table =
            [(-2.0, 0.022_75), (-1.0, 0.158_66), (0.0, 0.5), (0.5, 0.691_46), (3.0, 0.998_65)];
        shares(normal, &table);
        shares(|numbers| exponential(2.0, numbers), &[(2.0, 0.632_12), (9.210_34, 0.99)]);
    }

    #[test]
    fn no_two_purposes_share_their_numbers() {
        use Purpose::{
            CellVoltage, Counter, Day, Loss, Pack, PackCurrent, PackVoltage, Radio, Rider, Route,
            Schedule, Speed, Temperature,
        };
        let all = [
            PackVoltage,
            PackCurrent,
            CellVoltage,
            Temperature,
            Speed,
            Counter,
            Schedule,
            Loss,
            Radio,
            Rider,
            Route,
            Day,
            Pack,
        ];
        let mut first: Vec<u64> =
            all.into_iter().map(|purpose| stream(1, purpose).next_u64()).collect();
        first.sort_unstable();
        first.dedup();
        assert_eq!(first.len(), all.len());
    }
}
