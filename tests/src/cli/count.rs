//! The command `count`: the library's counter against wide arithmetic, as long as one likes.

use clap::Args;
use homestretch::charge::Quanta;
use homestretch::time::Duration;
use homestretch::units::Amperes;
use indicatif::ProgressBar;

/// Count random ticks with the library's counter and in 128 bits, and compare.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// How many ticks
    #[arg(default_value_t = 1_000_000)]
    ticks: u64,
}

/// Ticks between two looks at both sums: a look costs more than a tick.
const LOOK_EVERY: u64 = 1 << 16;

impl Arguments {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        let progress = ProgressBar::new(self.ticks);
        let (mut counted, mut exact, mut before) = (Quanta::ZERO, 0_i128, 0_i32);
        let mut state = 0x9e37_79b9_7f4a_7c15_u64;
        for tick in 0..self.ticks {
            // A shift-register generator (Marsaglia 2003, xorshift; from memory): any sequence will do.
            state ^= state << 13;
            state ^= state >> 7;
            state ^= state << 17;
            // Up to 500 A either way, evenly, so that the sum stays within what a pack could hold;
            // up to a second.
            let bits = i32::try_from(((state >> 32) * 65_536_000) >> 32)? - 32_768_000;
            let micros = state % 1_000_000;
            let (from, to) = (Amperes::from_bits(before), Amperes::from_bits(bits));
            counted = counted + Quanta::between(from, to, Duration::from_micros(micros));
            exact += (i128::from(before) + i128::from(bits)) * i128::from(micros);
            before = bits;
            if tick % LOOK_EVERY == 0 || tick + 1 == self.ticks {
                progress.set_position(tick);
                anyhow::ensure!(
                    i128::from(counted.count()) == exact,
                    "after {} ticks the counter has {} and wide arithmetic {exact}",
                    tick + 1,
                    counted.count()
                );
            }
        }
        progress.finish_and_clear();
        super::show(&format!(
            "{} ticks: exact, {} quanta of 2^-17 A us\n",
            self.ticks,
            counted.count()
        ))
    }
}
