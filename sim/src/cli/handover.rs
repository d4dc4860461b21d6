//! `homestretch handover`: what was tuned, to a firmware and back.

use std::io::Write as _;
use std::path::{Path, PathBuf};

use anyhow::Context as _;
use clap::Args;
use serde_json::json;

use super::output::{distinct, show};
use crate::atomic_file::AtomicFile;
use crate::handover::{constant, mark, record, taken};
use crate::tuning::Draft;

/// Arguments of `handover`.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  homestretch handover --board examples/boards/lantern.toml \
    --record lantern.settings --constant lantern_settings.rs\n  homestretch handover \
    --board examples/boards/lantern.toml --take lantern.settings --out tuned.toml")]
pub(super) struct Handover {
    /// The board whose tuning is handed over, or that takes one
    #[arg(long, value_name = "BOARD.toml")]
    board: PathBuf,
    /// Take the tuning of this file first: a record, a constant or a board file
    #[arg(long, value_name = "FILE")]
    take: Option<PathBuf>,
    /// The record that a firmware reads from its flash
    #[arg(long, value_name = "OUT")]
    record: Option<PathBuf>,
    /// The constant that a firmware includes
    #[arg(long, value_name = "OUT.rs")]
    constant: Option<PathBuf>,
    /// The board file with what was taken
    #[arg(long, value_name = "OUT.toml")]
    out: Option<PathBuf>,
    /// One JSON object on standard output
    #[arg(long)]
    json: bool,
}

impl Handover {
    pub(super) fn run(self) -> anyhow::Result<()> {
        let paths = |paths: [&Option<PathBuf>; 3]| -> Vec<PathBuf> {
            paths.into_iter().flatten().cloned().collect()
        };
        let outputs = paths([&self.record, &self.constant, &self.out]);
        let outputs: Vec<&Path> = outputs.iter().map(PathBuf::as_path).collect();
        let inputs: Vec<&Path> =
            std::iter::once(&self.board).chain(&self.take).map(PathBuf::as_path).collect();
        distinct(&inputs, &outputs)?;
        let draft = self.draft()?;
        let file = draft.file();
        for (path, bytes) in [
            (&self.record, record(file)),
            (&self.constant, constant(file).into_bytes()),
            (&self.out, draft.text().as_bytes().to_vec()),
        ] {
            let Some(path) = path else { continue };
            let written = AtomicFile::create(path).and_then(|mut target| {
                target.write_all(&bytes)?;
                target.finish()
            });
            written.with_context(|| format!("cannot write `{}`", path.display()))?;
        }
        let mark = mark(&file.tuning);
        let name = |path: &Option<PathBuf>| path.as_ref().map(|path| path.display().to_string());
        show(&if self.json {
            let told = json!({
                "board": file.name,
                "mark": mark,
                "record": name(&self.record),
                "constant": name(&self.constant),
                "out": name(&self.out),
            });
            format!("{told}\n")
        } else {
            format!(
                "{}: the mark of what was tuned is {mark}; the handheld's status has to show the same.\n",
                file.name
            )
        })
    }

    /// The board, with what is to be taken.
    fn draft(&self) -> anyhow::Result<Draft> {
        let board = crate::board_file::BoardFile::open(&self.board)?;
        let text = std::fs::read_to_string(&self.board);
        let text = text.with_context(|| format!("cannot read `{}`", self.board.display()))?;
        let draft = Draft::new(board.path(), text);
        let said = |faults: Vec<crate::tuning::Fault>| {
            let said: Vec<_> = faults.into_iter().map(|fault| fault.what).collect();
            anyhow::anyhow!("{}", said.join("\n"))
        };
        let draft = draft.map_err(said)?;
        let Some(path) = &self.take else { return Ok(draft) };
        let bytes =
            std::fs::read(path).with_context(|| format!("cannot read `{}`", path.display()))?;
        taken(&draft, &path.display().to_string(), &bytes).map_err(said)
    }
}
