//! The command `accuracy`.

use std::path::PathBuf;

use clap::Args;
use indicatif::ProgressBar;

use crate::accuracy::{self, Trial};
use crate::floor;
use crate::reference::Reference;
use crate::report::{self, Report};
use crate::variation;

/// Score the estimators of charge on traces whose true charge is known.
#[derive(Debug, Args)]
#[allow(clippy::struct_excessive_bools, reason = "switches of a command, each on its own")]
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
    /// Leave out so many seconds of each trace: switched on in the middle of a ride
    #[arg(long, value_name = "S", default_value_t = 0.0)]
    late: f64,
    /// Give each builder the resting curve of another cell of the same chemistry, pair by pair
    #[arg(long)]
    another_curve: bool,
    /// What the builder writes as `cell.curve_doubt_V`; without it the key is left out
    #[arg(long, value_name = "V")]
    curve_doubt: Option<f64>,
    /// End with status 1 where a group, or a cell with nickel or cobalt, is further off than the
    /// floor allows
    #[arg(long)]
    floor: bool,
}

impl Arguments {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        let folder = super::folder(self.folder.as_deref());
        let mut references = Reference::all(&folder)?;
        if self.another_curve {
            references = variation::with_another_curve(&references)?;
        }
        for reference in &mut references {
            reference.curve_doubt_V = self.curve_doubt;
        }
        if self.late > 0.0 {
            references = variation::late(references, self.late);
        }
        anyhow::ensure!(!references.is_empty(), "no trace is left that fits the options");
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
