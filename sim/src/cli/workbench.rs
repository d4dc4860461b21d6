//! `homestretch workbench`: a page on this machine for tuning a board by hand.

use std::io::{self, IsTerminal as _};
use std::path::PathBuf;

use clap::Args;
use serde_json::json;

use super::caution::warn;
use super::output::show;
use crate::board_file::BoardFile;
use crate::workbench;

/// Arguments of `workbench`.
#[derive(Debug, Args)]
#[command(after_help = "First runs with what was tuned belong with the wheels off the ground.\n\n\
    Example:\n  homestretch workbench --board examples/boards/lantern.toml")]
pub(super) struct Workbench {
    /// The board that is tuned; it is read, and never written
    #[arg(long, value_name = "BOARD.toml")]
    board: PathBuf,
    /// The port on this machine; a free one without it
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..))]
    port: Option<u16>,
    /// One JSON object on standard output at the start: address and files
    #[arg(long)]
    json: bool,
}

impl Workbench {
    pub(super) fn run(self) -> anyhow::Result<()> {
        // Every fault with its line, as every command tells it.
        warn(&BoardFile::open(&self.board)?);
        let bench = workbench::Workbench::open(&self.board, self.port)?;
        if let Some(why) = bench.set_aside() {
            eprintln!("note: {why}");
        }
        let (url, candidate) = (bench.url(), bench.candidate_path());
        show(&if self.json {
            let files = json!({ "url": url, "board": self.board, "candidate": candidate });
            format!("{files}\n")
        } else {
            format!(
                "{url}\n{} is read, the candidate is kept in {}\n",
                self.board.display(),
                candidate.display()
            )
        })?;
        eprintln!("First runs with what was tuned belong with the wheels off the ground.");
        if io::stdin().is_terminal() {
            eprintln!("Enter opens the page, Ctrl-C ends.");
            std::thread::spawn(move || open_on_enter(&url));
        } else {
            eprintln!("Ctrl-C ends.");
        }
        Ok(bench.serve()?)
    }
}

/// Opens the page whenever a line comes, for as long as lines come.
fn open_on_enter(url: &str) {
    for line in io::stdin().lines() {
        if line.is_err() {
            return;
        }
        if let Err(error) = open::that_detached(url) {
            eprintln!("No browser could be opened ({error}): open {url} in one.");
        }
    }
}
