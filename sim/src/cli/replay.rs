//! `homestretch replay`: a recorded ride through the library.

use std::path::{Path, PathBuf};

use anyhow::Context as _;
use clap::Args;

use super::caution::{ANOTHER_PACK, warn};
use super::output::{distinct, show};
use super::page::{opened, written};
use super::progress::Watched;
use super::sample::sample;
use crate::atomic_file::AtomicFile;
use crate::board_file::BoardFile;
use crate::memory_file::{self, MemoryTarget};
use crate::replay::{EstimatesWriter, Replay as Life};
use crate::report::html::{Report, ReportTarget};
use crate::report::picture::{Heading, PictureBuilder, Sample, Target};
use crate::report::summary::Summary;
use crate::ride::{Column, RideReader};

/// Arguments of `replay`.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  homestretch replay examples/rides/town-crossings.csv \
    --board examples/boards/lantern.toml --plot ride.png --estimates estimates.csv")]
pub(super) struct Replay {
    /// The ride to live
    ride: PathBuf,
    /// The board that was ridden
    #[arg(long, value_name = "BOARD.toml")]
    board: PathBuf,
    /// The handheld's flash: read where it exists, written at the end
    #[arg(long, value_name = "FILE")]
    memory: Option<PathBuf>,
    /// What the handheld knew, a row per row of the ride
    #[arg(long, value_name = "OUT.csv")]
    estimates: Option<PathBuf>,
    /// A picture of the ride, .svg or .png; may be given twice
    #[arg(long, value_name = "OUT.svg|OUT.png")]
    plot: Vec<PathBuf>,
    /// One page with picture, numbers and inputs
    #[arg(long, value_name = "OUT.html")]
    report: Option<PathBuf>,
    /// One JSON object on standard output
    #[arg(long)]
    json: bool,
}

/// Everything that is written, opened before the ride so that a bad path is found at once.
struct Outputs {
    estimates: Option<EstimatesWriter<AtomicFile>>,
    plots: Vec<Target>,
    memory: Option<MemoryTarget>,
    report: Option<ReportTarget>,
}

impl Replay {
    pub(super) fn run(self) -> anyhow::Result<()> {
        let outputs = self.plot.iter().chain(&self.estimates).chain(&self.memory);
        let outputs = outputs.chain(&self.report);
        let outputs: Vec<&Path> = outputs.map(PathBuf::as_path).collect();
        distinct(&[&self.ride, &self.board], &outputs)?;
        let board = BoardFile::open(&self.board)?;
        warn(&board);
        let remembered = self.memory.as_deref().map(memory_file::read).transpose()?.flatten();
        if remembered.is_some_and(|life| life.pack_mark != board.board.pack_mark()) {
            eprintln!("note: {ANOTHER_PACK}");
        }
        let name = self.ride.display().to_string();
        let file =
            Watched::open(&self.ride).with_context(|| format!("cannot read the ride `{name}`"))?;
        let mut rows = RideReader::new(file, &name)?;
        rows.require(&[Column::PackVoltage, Column::PackCurrent])?;
        let mut outputs = self.outputs()?;
        let mut life = Life::new(&board.board, &board.throttle, remembered.as_ref());
        let mut summary = Summary::new(&name, &board.name);
        let mut began_s = None;
        let drawn = !outputs.plots.is_empty() || outputs.report.is_some();
        let mut picture = drawn.then(PictureBuilder::new);
        for row in &mut rows {
            let row = row?;
            let output = life.live(&row.measured);
            let estimate = life.estimate(&row.measured, &output);
            if let Some(writer) = &mut outputs.estimates {
                writer.write(&estimate).context("cannot write the estimates")?;
            }
            if let Some(picture) = &mut picture {
                // A log may count from 1970: a picture counts from its own start.
                let time_s = row.measured.time_s - *began_s.get_or_insert(row.measured.time_s);
                picture.push(&Sample { time_s, ..sample(&row, &estimate, &output, &board) });
            }
            summary.add(&row, &estimate, &output);
        }
        let Outputs { estimates, plots, memory, report } = outputs;
        if let Some(picture) = picture {
            let heading = Heading {
                board: board.name.clone(),
                ride: file_name(&self.ride),
                result: summary.in_a_line(),
            };
            let picture = picture.finish(&heading)?;
            for target in plots {
                picture.write(target)?;
            }
            if let Some(target) = report {
                let title = format!("{} on {}", heading.ride, board.name);
                // Where a ride lies on this machine is nobody's business.
                let page = Report::new(title, heading.result)
                    .picture("What the handheld knew, asked for and let through", &picture)
                    .words("What came of it", summary.to_string().replace(&name, &heading.ride))
                    .numbers("Numbers", told_of(&summary, &heading.ride))
                    .inputs([&self.board]);
                written(target, &page)?;
            }
        }
        if let Some(writer) = estimates {
            writer.into_inner().finish().context("cannot write the estimates")?;
        }
        if let (Some(target), Some(learned)) = (memory, life.life()) {
            target.write(&learned)?;
        }
        show(&if self.json { format!("{}\n", summary.json()) } else { summary.to_string() })
    }

    fn outputs(&self) -> anyhow::Result<Outputs> {
        let estimates = self.estimates.as_deref().map(|path| {
            let file = AtomicFile::create(path).and_then(EstimatesWriter::new);
            file.with_context(|| format!("cannot write the estimates `{}`", path.display()))
        });
        Ok(Outputs {
            estimates: estimates.transpose()?,
            plots: self.plot.iter().cloned().map(Target::create).collect::<Result<_, _>>()?,
            memory: self.memory.as_deref().map(MemoryTarget::create).transpose()?,
            report: opened(self.report.as_deref())?,
        })
    }
}

/// The summary's numbers, with the ride's name in place of its path.
fn told_of(summary: &Summary, ride: &str) -> serde_json::Value {
    let mut numbers = summary.json();
    if let Some(named) = numbers.get_mut("ride") {
        *named = ride.into();
    }
    numbers
}

fn file_name(path: &Path) -> String {
    path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default()
}
