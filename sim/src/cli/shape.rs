//! `homestretch shape`: curves and rates that all riders bear, with what they cost.

use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::{Duration, Instant};

use anyhow::Context as _;
use clap::Args;

use super::output::{distinct, show};
use super::{interrupt, page, progress};
use crate::atomic_file::AtomicFile;
use crate::board_file::BoardFile;
use crate::report::tuned::searched;
use crate::shape::{GENERATIONS, Order, Shaped, search};
use crate::tuning::Draft;

/// Arguments of `shape`.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  homestretch shape --board examples/boards/lantern.toml \
    --out lantern.shaped.toml")]
pub(super) struct Shape {
    /// The board as its builder describes it; [riders] says who rides and what they bear
    #[arg(long, value_name = "BOARD.toml")]
    board: PathBuf,
    /// The board file with the balanced settings
    #[arg(long, value_name = "CURVE.toml")]
    out: Option<PathBuf>,
    /// Stops searching after so many seconds, with what is there by then; without it the search goes its
    /// whole way, and the same seed gives the same bytes
    #[arg(long, value_name = "S", value_parser = seconds)]
    within: Option<f64>,
    /// Chance: the same seed is the same search, whatever the number of threads
    #[arg(long, default_value_t = 1, value_name = "N")]
    seed: u64,
    /// How soon the board is at this speed is its liveliness; six tenths of its top speed without it
    #[arg(long, value_name = "V")]
    to_speed_m_s: Option<f64>,
    /// How many settings at once; as many as there are cores without it
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    threads: Option<u16>,
    /// One page with the curves, the numbers and the board files
    #[arg(long, value_name = "OUT.html")]
    report: Option<PathBuf>,
    /// One JSON object on standard output
    #[arg(long)]
    json: bool,
}

/// Seconds of a search.
fn seconds(text: &str) -> Result<f64, String> {
    let given: f64 = text.parse().map_err(|_| format!("`{text}` is no number"))?;
    if (0.1..=86_400.0).contains(&given) {
        Ok(given)
    } else {
        Err(format!("{given} s; 0.1 to 86400 is allowed"))
    }
}

impl Shape {
    pub(super) fn run(self) -> anyhow::Result<ExitCode> {
        let outputs: Vec<&Path> =
            self.out.iter().chain(&self.report).map(PathBuf::as_path).collect();
        distinct(&[&self.board], &outputs)?;
        let board = BoardFile::open(&self.board)?;
        super::caution::warn(&board);
        let text = std::fs::read_to_string(&self.board)
            .with_context(|| format!("cannot read `{}`", self.board.display()))?;
        let draft = Draft::new(&self.board, text).map_err(|faults| {
            let told: Vec<_> = faults.iter().map(ToString::to_string).collect();
            anyhow::anyhow!("{}", told.join("; "))
        })?;
        // A file that could not be written, or would not find its tables there, is known before the search.
        let target = self.out.as_deref().map(|out| opened(out, draft.text())).transpose()?;
        let report = page::opened(self.report.as_deref())?;
        let shaped = self.search(&draft)?;
        if let Some(target) = report {
            page::written(target, &searched(&draft, &shaped.0)?)?;
        }
        if let (Some((mut file, out)), Some(balanced)) = (target, shaped.0.balanced()) {
            let text = balanced.draft.text();
            BoardFile::parse(text, out)?;
            let written = file.write_all(text.as_bytes()).and_then(|()| file.finish());
            written.with_context(|| format!("cannot write `{}`", out.display()))?;
        }
        let (shaped, status) = shaped;
        show(&if self.json { format!("{}\n", shaped.json()) } else { shaped.to_string() })?;
        Ok(status)
    }

    fn search(&self, draft: &Draft) -> anyhow::Result<(Shaped, ExitCode)> {
        let threads = rayon::ThreadPoolBuilder::new()
            .num_threads(self.threads.map_or(0, usize::from))
            .build()
            .context("cannot start the threads")?;
        let interrupted = interrupt::flag()?;
        let until = self.within.map(|within| Instant::now() + Duration::from_secs_f64(within));
        let asked = Arc::clone(&interrupted);
        let late = move || until.is_some_and(|until| Instant::now() >= until);
        let order = Order {
            seed: self.seed,
            to_speed_m_s: self.to_speed_m_s,
            generations: GENERATIONS,
            stop: Arc::new(move || asked.load(Ordering::Relaxed) || late()),
        };
        let bar = progress::settings(crate::shape::CANDIDATES);
        let shaped = threads.install(|| search(draft, &order, &|| bar.inc(1)));
        bar.finish_and_clear();
        Ok((shaped?, interrupt::status(&interrupted)))
    }
}

/// The file that is written at the end.
fn opened<'o>(out: &'o Path, text: &str) -> anyhow::Result<(AtomicFile, &'o Path)> {
    BoardFile::parse(text, out)
        .context("the tables of a board lie beside its file: write the other one there too")?;
    let file = AtomicFile::create(out);
    Ok((file.with_context(|| format!("cannot write `{}`", out.display()))?, out))
}
