//! The command `reserve`.

use std::fmt::Write;
use std::path::PathBuf;

use clap::Args;
use homestretch_sim::board_file::BoardFile;

use crate::reserve::bought;

/// Ride to empty with drive and speed folded back and without, and count the metres between.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// The board that is ridden; the bundled `lantern` without it
    #[arg(long)]
    board: Option<PathBuf>,
    /// Pairs of rides on each road
    #[arg(long, default_value_t = 100)]
    rides: u64,
    /// One JSON object instead of a table
    #[arg(long)]
    json: bool,
}

impl Arguments {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        let bundled = concat!(env!("CARGO_MANIFEST_DIR"), "/../examples/boards/lantern.toml");
        let board = self.board.clone().unwrap_or_else(|| PathBuf::from(bundled));
        let roads = bought(&BoardFile::open(&board)?, self.rides)?;
        if self.json {
            return super::show(&(serde_json::to_string(&roads)? + "\n"));
        }
        let mut out = String::new();
        writeln!(out, "{}", super::typed())?;
        writeln!(out, "Metres beyond a plain stop at the lowest voltage.")?;
        writeln!(out, "| road | pairs of rides | median | nine in ten at least |")?;
        writeln!(out, "| --- | --- | --- | --- |")?;
        for road in roads {
            writeln!(
                out,
                "| {} | {} | {:.0} | {:.0} |",
                road.road, road.rides, road.median_m, road.nine_in_ten_m
            )?;
        }
        super::show(&out)
    }
}
