//! `homestretch import`: a log of another shape becomes a ride.

use std::path::PathBuf;

use anyhow::Context as _;
use clap::Args;
use serde_json::json;

use super::output::{distinct, show};
use super::progress::Watched;
use crate::ride::{Mapping, RideWriter, import};

/// Arguments of `import`.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  homestretch import examples/other-logger/log.csv \
    --mapping examples/other-logger/mapping.toml --out ride.csv")]
pub(super) struct Import {
    /// The log to read
    log: PathBuf,
    /// Which of its columns is which quantity, in which unit (docs/files.md)
    #[arg(long, value_name = "MAPPING.toml")]
    mapping: PathBuf,
    /// The ride to write
    #[arg(long, value_name = "RIDE.csv")]
    out: PathBuf,
    /// One JSON object on standard output
    #[arg(long)]
    json: bool,
}

impl Import {
    pub(super) fn run(self) -> anyhow::Result<()> {
        distinct(&[&self.log, &self.mapping], &[&self.out])?;
        let mapping = Mapping::open(&self.mapping)?;
        let name = self.log.display().to_string();
        let log =
            Watched::open(&self.log).with_context(|| format!("cannot read the log `{name}`"))?;
        let mut writer = RideWriter::create(&self.out, &mapping.columns(), &[])?;
        let imported = import(log, &name, &mapping, &mut writer)?;
        writer.finish()?;
        let (rows, dropped, out) =
            (imported.rows, imported.dropped, self.out.display().to_string());
        show(&if self.json {
            format!("{}\n", json!({ "rows": rows, "dropped": dropped, "out": out }))
        } else if dropped == 0 {
            format!("{rows} rows into {out}\n")
        } else {
            format!("{rows} rows into {out}, {dropped} with a repeated time left out\n")
        })
    }
}
