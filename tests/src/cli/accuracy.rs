//! The command `accuracy`.

use std::path::PathBuf;

use clap::Args;
use indicatif::ProgressBar;

use crate::accuracy::{self, Trial};
use crate::floor;
use crate::reference::Reference;
use crate::report::{self, Report};

/// Score the estimators of charge on traces whose true charge is known.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// Folder of traces, each NAME.csv and NAME.json; without it those of this package
    folder: Option<PathBuf>,
    /// How many different sets of sensors each trace is seen through
    #[arg(long, value_name = "N", default_value_t = 5)]
    #[arg(value_parser = clap::value_parser!(u64).range(1..=1000))]
    seeds: u64,
    /// One JSON object instead of tables, with the scores of each seed
    #[arg(long)]
    json: bool,
    /// Exact rows instead of sensors and a radio
    #[arg(long)]
    exact: bool,
    /// End with status 1 where a group, or a cell with nickel or cobalt, is further off than the
    /// floor allows
    #[arg(long)]
    floor: bool,
}

impl Arguments {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        let folder = super::folder(self.folder.as_deref());
        let references = Reference::all(&folder)?;
        let seeds = if self.exact { Vec::new() } else { super::seeds(self.seeds) };
        let trial = Trial { seeds: seeds.clone(), exact: self.exact };
        let progress = ProgressBar::new(0);
        let boards = accuracy::run(&references, &trial, &progress);
        progress.finish_and_clear();
        let boards = boards?;
        let broken = floor::broken(&boards);
        let folder = folder.display().to_string();
        let report = Report::new(super::typed(), folder, seeds, boards);
        super::show(&if self.json {
            serde_json::to_string(&report)? + "\n"
        } else {
            report::text(&report)?
        })?;
        if self.floor && !broken.is_empty() {
            anyhow::bail!("the floor is broken: {}", broken.join("; "));
        }
        Ok(())
    }
}
