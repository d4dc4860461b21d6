//! The command `range`.

use std::fmt::Write;
use std::path::PathBuf;

use clap::Args;

use crate::range::{self, Errors, Told};
use crate::reference::Reference;

/// Hold the way left that the library tells against what was really left, on traces that were ridden to
/// empty, beside common practice.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// Folder of traces, each NAME.csv and NAME.json; without it those of this package
    folder: Option<PathBuf>,
    /// How many different sets of sensors each ride is seen through
    #[arg(long, value_name = "N", default_value_t = 20)]
    #[arg(value_parser = clap::value_parser!(u64).range(1..=1000))]
    seeds: u64,
    /// One JSON object instead of a table
    #[arg(long)]
    json: bool,
}

impl Arguments {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        let references = Reference::all(&super::folder(self.folder.as_deref()))?;
        let told = range::told(&references, &super::seeds(self.seeds))?;
        super::show(&if self.json { serde_json::to_string(&told)? + "\n" } else { text(&told)? })
    }
}

fn text(told: &[Told]) -> Result<String, std::fmt::Error> {
    let mut out = String::new();
    writeln!(out, "{}", super::typed())?;
    writeln!(
        out,
        "The way left, from the first kilometre on: error in % of what was really left.\n\
         {:18}{:>9}  {:^31}  {:^24}",
        "", "empty at", "ours", "common practice, true charge"
    )?;
    writeln!(
        out,
        "{:18}{:>9}  {:>7}{:>8}{:>8}{:>8}  {:>8}{:>8}{:>8}",
        "", "km", "median", "p90", "bias", "met %", "median", "p90", "bias"
    )?;
    for Told { name, empty_at_km, ours, met, common } in told {
        let three = |errors: &Errors| {
            let Errors { median_percent, nine_in_ten_percent, bias_percent, .. } = *errors;
            format!("{median_percent:8.1}{nine_in_ten_percent:8.1}{bias_percent:+8.1}")
        };
        let met = met * 100.0;
        writeln!(out, "{name:18}{empty_at_km:9.2} {}{met:8.1}  {}", three(ours), three(common))?;
    }
    writeln!(
        out,
        "Published: trip energy of electric trucks 7.4 % off with true speeds, 10.8 % with predicted\n\
         ones (SciTePress 2025, paper 133629); dashboards of cars 5 to 10 % (seen second hand)."
    )?;
    Ok(out)
}
