//! The command `drop`.

use std::fmt::Write;
use std::path::PathBuf;

use clap::Args;

use crate::drop::{self, Drop, Fit};
use crate::reference::Reference;

/// Fit what load takes off the voltage of each trace, over what its table of resistance says: what the
/// library's constants of evidence under load stand on.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// Folder of traces, each NAME.csv and NAME.json; without it those of this package
    folder: Option<PathBuf>,
    /// One JSON object instead of a table
    #[arg(long)]
    json: bool,
}

impl Arguments {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        let references = Reference::all(&super::folder(self.folder.as_deref()))?;
        let drops = drop::drops(&references);
        super::show(&if self.json { serde_json::to_string(&drops)? + "\n" } else { text(&drops)? })
    }
}

fn text(drops: &[Drop]) -> Result<String, std::fmt::Error> {
    let mut out = String::new();
    writeln!(out, "{}", super::typed())?;
    writeln!(
        out,
        "Exact rows, windows of 16 s. swing: how steeply voltage falls with current in a window, over\n\
         the table's one-second resistance. quick, slow: the parts of the mean drop, with a lead of\n\
         {} s and with the one that leaves least; left, in mV.\n",
        drop::LEAD
    )?;
    writeln!(
        out,
        "{:20}{:>8}{:>7} |{:>7}{:>7}{:>7}{:>13} |{:>7}{:>7}{:>7}{:>7}",
        "trace",
        "windows",
        "swing",
        "quick",
        "slow",
        "left",
        "quick/swing",
        "lead_s",
        "quick",
        "slow",
        "left"
    )?;
    for drop in drops {
        let Fit { quick, slow, left_mV, .. } = drop.fit;
        let best = drop.best;
        write!(out, "{:20}{:8}", drop.name, drop.windows)?;
        match drop.swing {
            Some(swing) => write!(
                out,
                "{swing:7.2} |{quick:7.2}{slow:7.2}{left_mV:7.1}{:13.2}",
                quick / swing
            )?,
            None => write!(out, "{:>7} |{quick:7.2}{slow:7.2}{left_mV:7.1}{:>13}", "-", "-")?,
        }
        writeln!(
            out,
            " |{:7.0}{:7.2}{:7.2}{:7.1}",
            best.lead_s, best.quick, best.slow, best.left_mV
        )?;
    }
    Ok(out)
}
