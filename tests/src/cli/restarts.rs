//! The command `restarts`.

use std::fmt::Write;
use std::time::Instant;

use clap::Args;

use crate::restarts::start_often;

/// Start an end very many times with power cuts at any point: does a session number ever come twice?
#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// How many starts
    #[arg(default_value_t = 100_000)]
    starts: u64,
    /// Chance
    #[arg(long, default_value_t = 1)]
    seed: u64,
}

impl Arguments {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        let began = Instant::now();
        let told = start_often(self.starts, self.seed);
        let mut out = String::new();
        writeln!(out, "{}", super::typed())?;
        writeln!(out, "{:>10} starts in {:.0} s", told.starts, began.elapsed().as_secs_f64())?;
        writeln!(out, "{:>10} cut off", told.cuts)?;
        writeln!(out, "{:>10} sessions given out", told.sessions)?;
        writeln!(out, "{:>10} refused: nothing certain could be read or kept", told.refused)?;
        writeln!(out, "{:>10} numbers passed over", told.skipped)?;
        writeln!(out, "{:>10} numbers that came again", told.repeated)?;
        super::show(&out)?;
        anyhow::ensure!(told.repeated == 0, "a session number came again");
        Ok(())
    }
}
