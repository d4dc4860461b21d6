//! The command `lockouts`.

use std::fmt::Write;
use std::path::PathBuf;

use clap::Args;
use homestretch_sim::board_file::BoardFile;

use crate::lockouts::grid;

/// Ride through bad radios, and count how often drive had to wait for a neutral thumb.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// The board that is ridden; the bundled `lantern` without it
    #[arg(long)]
    board: Option<PathBuf>,
    /// Rides for each radio
    #[arg(long, default_value_t = 20)]
    rides: u64,
    /// One JSON object instead of a table
    #[arg(long)]
    json: bool,
}

impl Arguments {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        let bundled = concat!(env!("CARGO_MANIFEST_DIR"), "/../examples/boards/lantern.toml");
        let board = self.board.clone().unwrap_or_else(|| PathBuf::from(bundled));
        let cells = grid(&BoardFile::open(&board)?, self.rides)?;
        if self.json {
            return super::show(&(serde_json::to_string(&cells)? + "\n"));
        }
        let mut out = String::new();
        writeln!(out, "{}", super::typed())?;
        writeln!(
            out,
            "| lost | burst, frames | ridden, km | lockouts | in 10 km | silences over 1 s in 10 km, by chance | laws broken |"
        )?;
        writeln!(out, "| --- | --- | --- | --- | --- | --- | --- |")?;
        for cell in cells {
            writeln!(
                out,
                "| {:.1} % | {:.1} | {:.0} | {} | {:.2} | {:.2} | {} |",
                cell.lost * 100.0,
                cell.burst,
                cell.ridden_km,
                cell.lockouts,
                cell.per_10_km,
                cell.long_silences_per_10_km,
                cell.broken
            )?;
        }
        super::show(&out)
    }
}
