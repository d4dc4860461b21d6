//! The command `strangers`.

use std::fmt::Write;
use std::time::Instant;

use clap::Args;
use homestretch::link::Refused;

use crate::strangers::{TRIES, attempt};

/// Try replays, forgeries and damaged frames on both ends of a link, very many times.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// How many tries
    #[arg(default_value_t = 1_000_000)]
    tries: u64,
    /// Chance
    #[arg(long, default_value_t = 1)]
    seed: u64,
}

impl Arguments {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        let began = Instant::now();
        let tried = attempt(self.tries, self.seed);
        let mut out = String::new();
        writeln!(out, "{}", super::typed())?;
        writeln!(
            out,
            "{} tries in {:.0} s, between {} honest frames, {} of them taken, and {} starts of either end",
            tried.total(),
            began.elapsed().as_secs_f64(),
            tried.arrived,
            tried.rightly,
            tried.starts
        )?;
        writeln!(out, "\n{:>10} {:>12}", "taken", "of tries")?;
        for (what, (taken, tries)) in TRIES.iter().zip(tried.taken.iter().zip(tried.tries)) {
            writeln!(out, "{taken:>10} {tries:>12}  {what}")?;
        }
        writeln!(
            out,
            "\n{} lost frames were played in their time and taken as late ones; {} old calls misled a hand \
             that had just started, until it heard the board",
            tried.late, tried.misled
        )?;
        writeln!(out, "\n{:>23}  refused as", "")?;
        for (name, count) in Refused::NAMES.iter().zip(tried.reasons) {
            writeln!(out, "{count:>23}  {}", name.replace('_', " "))?;
        }
        super::show(&out)?;
        anyhow::ensure!(tried.taken.iter().all(|&count| count == 0), "a stranger was obeyed");
        Ok(())
    }
}
