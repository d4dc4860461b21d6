//! Frames that never arrive: now and then one alone, and sometimes all for a while.
//!
//! Asked by `Sensors` for each frame that is sent. Single losses are independent; bursts are what
//! a body, a bus or a wet hedge between the two aerials does.
//! Source: the two-state idea is E. N. Gilbert, "Capacity of a burst-noise channel", Bell System
//! Technical Journal 39 (1960) 1253, from memory; lengths and rates are common practice, no source.

use rand::RngExt;
use rand_chacha::ChaCha8Rng;

use super::settings::{SensorSettings, Span};
use crate::random::exponential;

/// A step this many mean gaps beyond the last burst is not filled with bursts that nobody sees.
const GAPS_FOLLOWED: f64 = 100.0;

/// Both kinds of loss.
#[derive(Clone, Debug)]
pub(super) struct Loss {
    single: f64,
    bursts: Option<Bursts>,
    numbers: ChaCha8Rng,
}

impl Loss {
    /// Losses as in `settings` (checked), their single rate drawn.
    pub(super) fn new(settings: &SensorSettings, mut numbers: ChaCha8Rng) -> Self {
        let single = settings.single_loss.draw(&mut numbers);
        let bursts = settings.mean_gap_s().map(|mean_gap_s| Bursts {
            mean_gap_s,
            length_s: settings.burst_length_s,
            present: None,
        });
        Self { single, bursts, numbers }
    }

    /// Whether the frame sent at `time_s` is lost. Times must not fall.
    pub(super) fn is_lost(&mut self, time_s: f64) -> bool {
        let chance: f64 = self.numbers.random();
        let in_burst = match &mut self.bursts {
            Some(bursts) => bursts.cover(time_s, &mut self.numbers),
            None => false,
        };
        in_burst || chance < self.single
    }
}

#[derive(Clone, Debug)]
struct Bursts {
    mean_gap_s: f64,
    length_s: Span,
    present: Option<Burst>,
}

/// The burst that goes on or comes next.
#[derive(Clone, Copy, Debug)]
struct Burst {
    from_s: f64,
    until_s: f64,
}

impl Bursts {
    fn cover(&mut self, time_s: f64, numbers: &mut ChaCha8Rng) -> bool {
        let mut burst = match self.present {
            // What comes after a long silence does not depend on what came before it.
            Some(burst) if time_s - burst.until_s < GAPS_FOLLOWED * self.mean_gap_s => burst,
            _ => self.after(time_s, numbers),
        };
        while burst.until_s <= time_s {
            burst = self.after(burst.until_s, numbers);
        }
        self.present = Some(burst);
        burst.from_s <= time_s
    }

    fn after(&self, time_s: f64, numbers: &mut ChaCha8Rng) -> Burst {
        let from_s = time_s + exponential(self.mean_gap_s, numbers);
        Burst { from_s, until_s: from_s + self.length_s.draw(numbers) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::random::{Purpose, stream};

    fn loss(settings: &SensorSettings, seed: u64) -> Loss {
        Loss::new(settings, stream(seed, Purpose::Loss))
    }

    fn only_singles() -> SensorSettings {
        SensorSettings { bursts_per_hour: 0.0, ..SensorSettings::default() }
    }

    fn only_bursts() -> SensorSettings {
        SensorSettings { single_loss: Span::exactly(0.0), ..SensorSettings::default() }
    }

    #[test]
    fn single_losses_are_as_frequent_as_drawn_for_the_seed() {
        for seed in 0..40 {
            let mut loss = loss(&only_singles(), seed);
            let single = loss.single;
            assert!((0.02..=0.05).contains(&single), "{single}");
            let lost = (0..20_000).filter(|&frame| loss.is_lost(f64::from(frame) * 0.1)).count();
            let share = f64::from(u32::try_from(lost).unwrap()) / 20_000.0;
            // Four and a half standard errors of a share: forty seeds are forty chances.
            let bound = 4.5 * (single * (1.0 - single) / 20_000.0).sqrt();
            assert!((share - single).abs() < bound, "seed {seed}: {share} for {single}");
        }
    }

    #[test]
    fn bursts_are_as_long_and_as_frequent_as_asked_over_many_seeds() {
        let settings = only_bursts();
        let (mut bursts, mut lost_s) = (0_u32, 0.0);
        for seed in 0..100 {
            let mut loss = loss(&settings, seed);
            let mut began_s = None;
            for frame in 0..72_000 {
                let time_s = f64::from(frame) * 0.1;
                match (loss.is_lost(time_s), began_s) {
                    (true, None) => began_s = Some(time_s),
                    (false, Some(from_s)) => {
                        let length_s: f64 = time_s - from_s;
                        // To the frame. Of some three thousand bursts one follows the last so
                        // closely that both count as one.
                        assert!(length_s > 1.85, "seed {seed}: {length_s} s");
                        lost_s += length_s;
                        bursts += 1;
                        began_s = None;
                    }
                    _ => {}
                }
            }
        }
        // 200 hours with 12 each: 2400 give or take four times the root.
        assert!((2204..=2596).contains(&bursts), "{bursts}");
        let mean_s = lost_s / f64::from(bursts);
        // 2 to 20 s evenly: 11 s, of sd 5.2 s, over some 2400: 0.11 s, four of them and a frame.
        assert!((mean_s - 11.0).abs() < 0.55, "{mean_s}");
    }

    #[test]
    fn a_leap_over_years_ends_and_losses_go_on_after_it() {
        let mut loss = loss(&only_bursts(), 4);
        loss.is_lost(0.0);
        loss.is_lost(1e10);
        let lost = (0..360_000).filter(|&frame| loss.is_lost(1e10 + f64::from(frame) * 0.1));
        assert!(lost.count() > 1000);
    }

    #[test]
    fn without_either_nothing_is_lost() {
        let settings = SensorSettings { single_loss: Span::exactly(0.0), ..only_singles() };
        let mut loss = loss(&settings, 9);
        assert!((0..10_000).all(|frame| !loss.is_lost(f64::from(frame))));
    }
}
