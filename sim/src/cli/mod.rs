//! Arguments, progress and exit codes; no physics.
//!
//! One file per command. Results go to standard output, progress and warnings to standard error.

mod campaign;
mod caution;
mod handover;
mod homeward;
mod import;
mod interrupt;
mod output;
mod page;
mod pattern;
mod progress;
mod replay;
mod ride;
mod sample;
mod seal;
mod shape;
#[cfg(feature = "workbench")]
mod workbench;

use std::process::ExitCode;

use clap::{Parser, Subcommand};

/// Charge, range and a safe thumb for a small home-built electric vehicle, on the laptop.
#[derive(Debug, Parser)]
#[command(name = "homestretch", version, about, max_term_width = 100)]
pub struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// A recorded ride through the library, exactly as a handheld would live it
    Replay(replay::Replay),
    /// A synthetic ride on the truth models, with the library in the loop
    Ride(ride::Ride),
    /// Thousands of drawn rides: how far off, how often inside, what went wrong
    Campaign(campaign::Campaign),
    /// A log with other column names, units and signs becomes a ride
    Import(import::Import),
    /// Curves and rates that all riders bear, and what each trade-off costs
    Shape(shape::Shape),
    /// What was tuned, as the record or the constant of a firmware, and back
    Handover(handover::Handover),
    /// A page on this machine for tuning a board by hand
    #[cfg(feature = "workbench")]
    Workbench(workbench::Workbench),
}

/// Runs the command that was asked for: success, or 130 where Ctrl-C cut it short and what was
/// finished is written.
///
/// # Errors
/// What went wrong, in a line or two; nothing half-written is left behind.
pub fn run(arguments: Arguments) -> anyhow::Result<ExitCode> {
    match arguments.command {
        Command::Replay(replay) => replay.run().map(|()| ExitCode::SUCCESS),
        Command::Ride(ride) => ride.run(),
        Command::Campaign(campaign) => campaign.run(),
        Command::Import(import) => import.run().map(|()| ExitCode::SUCCESS),
        Command::Shape(shape) => shape.run(),
        Command::Handover(handover) => handover.run().map(|()| ExitCode::SUCCESS),
        #[cfg(feature = "workbench")]
        Command::Workbench(workbench) => workbench.run().map(|()| ExitCode::SUCCESS),
    }
}
