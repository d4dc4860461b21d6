//! The command `life`.

use std::fmt::Write;
use std::path::PathBuf;

use clap::Args;

use crate::life::{self, Lived};
use crate::reference::Reference;

/// Live the rides of traces of several days one by one, with the memory between them, and hold the
/// capacity that is believed against the true one.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// Folder of traces, each NAME.csv and NAME.json; without it those of this package, which has none
    /// of several days
    folder: Option<PathBuf>,
    /// How many different sets of sensors each life is seen through
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
        let lives = life::lives(&references, &super::seeds(self.seeds))?;
        super::show(&if self.json { serde_json::to_string(&lives)? + "\n" } else { text(&lives)? })
    }
}

fn text(lives: &[Lived]) -> Result<String, std::fmt::Error> {
    let mut out = String::new();
    writeln!(out, "{}", super::typed())?;
    writeln!(out, "Capacity of a cell in % over the true one; half, of its 90 % interval.")?;
    for life in lives {
        writeln!(out, "\n{}, true capacity {:.4} Ah", life.name, life.cell_capacity_Ah)?;
        writeln!(out, "{:32}{:+7.2}", "the board file", life.board_file_percent)?;
        writeln!(out, "{:32}{:+7.2}", "exact voltages of long rests", life.rested_percent)?;
        writeln!(out, "{:32}{:>7}{:>8}{:>7}{:>7}", "", "mean", "largest", "half", "in90")?;
        for (ride, told) in (1..).zip(&life.rides) {
            writeln!(
                out,
                "{:32}{:+7.2}{:8.2}{:7.2}{:7.1}",
                format!("after ride {ride}"),
                told.mean_percent,
                told.largest_percent,
                told.half_width_percent,
                100.0 * told.covered
            )?;
        }
        if let Some(charge) = life.charge {
            let interval = charge.interval.map_or(f64::NAN, |interval| 100.0 * interval.covered);
            writeln!(
                out,
                "charge from each ride's first word on: rms {:.2} %, p99 {:.2} %, in90 {interval:.1} %",
                charge.rms_percent, charge.p99_percent
            )?;
        }
    }
    Ok(out)
}
