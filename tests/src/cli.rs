//! Arguments, progress and exit codes; what is computed is computed elsewhere.

mod accuracy;
mod count;
mod drop;
mod ekf_search;
mod fuzz;
mod laws;
mod life;
mod lockouts;
mod on_target;
mod range;
mod reserve;
mod restarts;
mod silence;
mod strangers;

use std::io::Write;
use std::path::{Path, PathBuf};

use anyhow::Context;
use clap::{Parser, Subcommand};

/// Checks of Homestretch against the outside world.
#[derive(Debug, Parser)]
#[command(name = "homestretch-checks", version)]
pub struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    Accuracy(accuracy::Arguments),
    Count(count::Arguments),
    Drop(drop::Arguments),
    EkfSearch(ekf_search::Arguments),
    Fuzz(fuzz::Arguments),
    Laws(laws::Arguments),
    Life(life::Arguments),
    Lockouts(lockouts::Arguments),
    OnTarget(on_target::Arguments),
    Range(range::Arguments),
    Reserve(reserve::Arguments),
    Restarts(restarts::Arguments),
    Silence(silence::Arguments),
    Strangers(strangers::Arguments),
}

impl Arguments {
    /// Does what was asked for.
    ///
    /// # Errors
    /// Whatever stands in the way, with its place.
    pub fn run(&self) -> anyhow::Result<()> {
        match &self.command {
            Command::Accuracy(arguments) => arguments.run(),
            Command::Count(arguments) => arguments.run(),
            Command::Drop(arguments) => arguments.run(),
            Command::EkfSearch(arguments) => arguments.run(),
            Command::Fuzz(arguments) => arguments.run(),
            Command::Laws(arguments) => arguments.run(),
            Command::Life(arguments) => arguments.run(),
            Command::Lockouts(arguments) => arguments.run(),
            Command::OnTarget(arguments) => arguments.run(),
            Command::Range(arguments) => arguments.run(),
            Command::Reserve(arguments) => arguments.run(),
            Command::Restarts(arguments) => arguments.run(),
            Command::Silence(arguments) => arguments.run(),
            Command::Strangers(arguments) => arguments.run(),
        }
    }
}

/// Where traces are read from unless another folder is named.
fn folder(named: Option<&Path>) -> PathBuf {
    named.map_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("data"), Path::to_owned)
}

/// The seeds 1 to `count`.
fn seeds(count: u64) -> Vec<u64> {
    (1..=count).collect()
}

/// The command as it was typed, under the program's own name.
fn typed() -> String {
    let arguments = std::env::args().skip(1);
    let words = std::iter::once(String::from("homestretch-checks")).chain(arguments);
    words.collect::<Vec<_>>().join(" ")
}

/// Puts `text` on standard output.
fn show(text: &str) -> anyhow::Result<()> {
    let mut out = std::io::stdout().lock();
    out.write_all(text.as_bytes()).and_then(|()| out.flush()).context("standard output")
}
