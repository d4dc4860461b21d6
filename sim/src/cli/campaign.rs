//! `homestretch campaign`: thousands of drawn rides, on all cores.

use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::atomic::Ordering;
use std::time::Instant;

use anyhow::Context as _;
use clap::Args;

use super::output::{distinct, show};
use super::seal::Seal;
use super::{interrupt, page, pattern, progress};
use crate::atomic_file::AtomicFile;
use crate::board_file::BoardFile;
use crate::campaign::{CampaignError, ClaimWriter, Plan, RecordWriter, Tally, run};
use crate::report::html::Report;
use crate::report::picture::{Cloud, Picture, Target};

/// Arguments of `campaign`.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  homestretch campaign --board examples/boards/lantern.toml \
    --rides 200 --out rides.csv --plot campaign.png")]
pub(super) struct Campaign {
    /// The board as its builder describes it; each ride's own board, pack and day differ from it
    #[arg(long, value_name = "BOARD.toml")]
    board: PathBuf,
    /// How many rides
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(1..=100_000_000))]
    rides: u64,
    /// Chance: the same seed is the same campaign, whatever the number of threads
    #[arg(long, default_value_t = 1, value_name = "N")]
    seed: u64,
    /// A route, a GPX track or a schedule that all ride; an invented town each without it
    #[arg(long, value_name = "ROUTE")]
    route: Option<PathBuf>,
    /// Of how many rides one is ridden on until no drive is left, to know its range; 0: none
    #[arg(long, default_value_t = 4, value_name = "N")]
    range_every: u64,
    /// Rides on other days before each one, not scored, that leave their memory; 0: first rides
    #[arg(long, default_value_t = 0, value_name = "N", value_parser = clap::value_parser!(u32).range(0..=100))]
    rides_before: u32,
    /// Of how many rides one rides away and turns home when told to; 0: none
    #[arg(long, default_value_t = 0, value_name = "N")]
    home_every: u64,
    /// Of how many rides something breaks on one, drawn at random (docs/files.md); 0: none
    #[arg(long, default_value_t = 4, value_name = "N")]
    faults_every: u64,
    /// Whether hand and board seal their frames
    #[arg(long, value_enum, default_value_t, value_name = "ON|OFF")]
    seal: Seal,
    /// A row per ride (docs/files.md)
    #[arg(long, value_name = "OUT.csv")]
    out: Option<PathBuf>,
    /// What was said of the range at each kilometre, and what was left (docs/files.md)
    #[arg(long, value_name = "OUT.csv")]
    claims: Option<PathBuf>,
    /// A picture of all rides, .svg or .png; may be given twice
    #[arg(long, value_name = "OUT.svg|OUT.png")]
    plot: Vec<PathBuf>,
    /// One page with picture, numbers and inputs
    #[arg(long, value_name = "OUT.html")]
    report: Option<PathBuf>,
    /// How many rides at once; as many as there are cores without it
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    threads: Option<u16>,
    /// One JSON object on standard output
    #[arg(long)]
    json: bool,
}

/// A file that is written in rows, opened before the rides so that a bad path is found at once.
fn opened<W>(
    path: Option<&Path>,
    of_what: &str,
    writer: impl FnOnce(AtomicFile) -> std::io::Result<W>,
) -> anyhow::Result<Option<W>> {
    let Some(path) = path else { return Ok(None) };
    let file = AtomicFile::create(path).and_then(writer);
    file.map(Some).with_context(|| format!("cannot write the {of_what} `{}`", path.display()))
}

impl Campaign {
    fn outputs(&self) -> Vec<&Path> {
        let outputs = self.plot.iter().chain(&self.out).chain(&self.claims).chain(&self.report);
        outputs.map(PathBuf::as_path).collect()
    }

    /// The beginning of a report.
    fn page(&self, board: &BoardFile, picture: &Picture) -> Report {
        let (rides, name) = (self.rides, &board.name);
        Report::new(format!("{rides} drawn rides on {name}"), format!("seed {}", self.seed))
            .picture("Each ride", picture)
            .inputs(std::iter::once(&self.board).chain(&self.route))
    }

    pub(super) fn run(self) -> anyhow::Result<ExitCode> {
        let inputs: Vec<&Path> =
            std::iter::once(&self.board).chain(&self.route).map(PathBuf::as_path).collect();
        let outputs: Vec<&Path> = self.outputs();
        distinct(&inputs, &outputs)?;
        let board = BoardFile::open(&self.board)?;
        super::caution::warn(&board);
        let route = self.route.as_deref().map(|path| pattern::open(path, &board)).transpose()?;
        let plan = Plan {
            rides: self.rides,
            seed: self.seed,
            range_every: self.range_every,
            rides_before: self.rides_before,
            home_every: self.home_every,
            faults_every: self.faults_every,
            seal: self.seal.is_on(),
            pattern: route,
        };
        let mut record = opened(self.out.as_deref(), "rides", RecordWriter::new)?;
        let mut claims = opened(self.claims.as_deref(), "claims", ClaimWriter::new)?;
        let report = page::opened(self.report.as_deref())?;
        let plots = self.plot.iter().cloned().map(Target::create).collect::<Result<Vec<_>, _>>()?;
        let threads = rayon::ThreadPoolBuilder::new()
            .num_threads(self.threads.map_or(0, usize::from))
            .build()
            .context("cannot start the threads")?;
        let stop = interrupt::flag()?;
        let bar = progress::rides(self.rides);
        let (mut tally, mut cloud) = (Tally::default(), Cloud::default());
        let began = Instant::now();
        let ridden = threads.install(|| {
            run(&board, &plan, &stop, &|| bar.inc(1), |ride| {
                tally.add(&ride);
                cloud.add(&ride);
                if let Some(claims) = &mut claims {
                    claims.write(&ride).map_err(CampaignError::Record)?;
                }
                match &mut record {
                    Some(record) => record.write(&ride).map_err(CampaignError::Record),
                    None => Ok(()),
                }
            })
        });
        let wall_s = began.elapsed().as_secs_f64();
        bar.finish_and_clear();
        if let Some(record) = record {
            let written = record.into_inner().and_then(AtomicFile::finish);
            written.context("cannot write the rides")?;
        }
        if let Some(claims) = claims {
            let written = claims.into_inner().and_then(AtomicFile::finish);
            written.context("cannot write the claims")?;
        }
        // What was finished before is written all the same.
        ridden?;
        let all = tally.all();
        let text = format!(
            "{}, {} rides, {:.0} km and {:.1} h of riding in {wall_s:.1} s: {:.0} s of riding a second\n{tally}",
            board.name,
            all.rides,
            all.distance_km,
            all.simulated_s / 3600.0,
            all.simulated_s / wall_s.max(1e-9)
        );
        let numbers = tally.json(self.rides, wall_s);
        if !plots.is_empty() || report.is_some() {
            let picture = cloud.picture(&board.name)?;
            for target in plots {
                picture.write(target)?;
            }
            let page = self.page(&board, &picture).words("What came of them", text.clone());
            let page = page.numbers("Numbers", numbers.clone());
            report.map(|target| page::written(target, &page)).transpose()?;
        }
        if stop.load(Ordering::Relaxed) {
            eprintln!(
                "note: interrupted; {} finished rides are told and written",
                tally.all().rides
            );
        }
        show(&if self.json { format!("{numbers}\n") } else { text })?;
        Ok(interrupt::status(&stop))
    }
}
