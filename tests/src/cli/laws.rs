//! The command `laws`.

use std::fmt::Write;
use std::time::Instant;

use clap::Args;

use crate::laws::{LAWS, live};

/// Hold the laws of thumb and receiver against very many random ticks.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// How many ticks
    #[arg(default_value_t = 1_000_000)]
    ticks: u64,
    /// Chance
    #[arg(long, default_value_t = 1)]
    seed: u64,
}

impl Arguments {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        let began = Instant::now();
        let held = live(self.ticks, self.seed);
        let mut out = String::new();
        writeln!(out, "{}", super::typed())?;
        writeln!(
            out,
            "{} ticks in {:.0} s; drive at the wheels in {}, a brake in {}, backwards in {}; {} frames lost",
            held.ticks,
            began.elapsed().as_secs_f64(),
            held.driven,
            held.braked,
            held.backward,
            held.lost
        )?;
        for (law, broken) in LAWS.iter().zip(held.broken) {
            writeln!(out, "{broken:>10} times broken: {law}")?;
        }
        super::show(&out)?;
        anyhow::ensure!(held.broken.iter().all(|&count| count == 0), "a law was broken");
        Ok(())
    }
}
