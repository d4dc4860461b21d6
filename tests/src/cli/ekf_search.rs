//! The command `ekf-search`.

use std::path::PathBuf;

use clap::Args;
use indicatif::ProgressBar;

use crate::reference::Reference;
use crate::{report, search};

/// Find the textbook filter's settings on every second trace, by name order.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// Folder of traces, each NAME.csv and NAME.json; without it those of this package
    folder: Option<PathBuf>,
    /// How many different sets of sensors each trace is seen through
    #[arg(long, value_name = "N", default_value_t = 3)]
    #[arg(value_parser = clap::value_parser!(u64).range(1..=100))]
    seeds: u64,
    /// One JSON object instead of text
    #[arg(long)]
    json: bool,
}

impl Arguments {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        let references = Reference::all(&super::folder(self.folder.as_deref()))?;
        let progress = ProgressBar::new_spinner();
        let found = search::run(&references, &super::seeds(self.seeds), &progress);
        progress.finish_and_clear();
        let found = found?;
        super::show(&if self.json {
            serde_json::to_string(&found)? + "\n"
        } else {
            report::found_text(&super::typed(), &found)?
        })
    }
}
