//! `homestretch ride`: a synthetic ride on the truth models, with the library in the loop.

use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Instant;

use anyhow::Context as _;
use clap::Args;
use serde_json::Value;

use super::caution::{ANOTHER_PACK, warn};
use super::homeward::{self, Homeward};
use super::output::{distinct, show};
use super::progress::Ridden;
use super::sample::sample;
use super::seal::Seal;
use super::{interrupt, page, pattern};
use crate::atomic_file::AtomicFile;
use crate::board_file::BoardFile;
use crate::campaign::{day, town, town_away};
use crate::faults::{Script, draw};
use crate::memory_file::{self, MemoryTarget};
use crate::replay::{EstimateRow, EstimatesWriter};
use crate::report::account::Account;
use crate::report::html::{Report, ReportTarget};
use crate::report::picture::{Heading, PictureBuilder, Target};
use crate::report::summary::Summary;
use crate::report::way_home::HomeAccount;
use crate::ride::{Column, RideWriter};
use crate::scenario::Scenario;
use crate::world::{Moment, Pattern, World};

/// Nobody rides longer without a night in between.
const LONGEST_S: f64 = 12.0 * 3600.0;

/// Arguments of `ride`.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  homestretch ride --board examples/boards/lantern.toml \
    --route examples/routes/mill-lane.toml --scenario examples/scenarios/autumn-morning.toml \
    --log ride.csv --plot ride.png")]
#[allow(clippy::struct_excessive_bools, reason = "flags of a command line")]
pub(super) struct Ride {
    /// The board that is ridden
    #[arg(long, value_name = "BOARD.toml")]
    board: PathBuf,
    /// A route (.toml, .csv), a GPX track or a speed schedule (.csv); an invented town without it
    #[arg(long, value_name = "ROUTE")]
    route: Option<PathBuf>,
    /// Weather, pack, rider, sensors and radio (docs/files.md); a mild day without it
    #[arg(long, value_name = "SCENARIO.toml")]
    scenario: Option<PathBuf>,
    /// A day drawn as a campaign draws it: with the seed of one of its rides, that very ride
    #[arg(long, conflicts_with = "scenario")]
    drawn: bool,
    /// Chance: the same seed is the same ride, byte for byte
    #[arg(long, default_value_t = 1, value_name = "N")]
    seed: u64,
    /// A fault script: what breaks, when (docs/files.md)
    #[arg(long, value_name = "FAULTS.toml")]
    faults: Option<PathBuf>,
    /// With what breaks as a campaign draws it for this seed
    #[arg(long, conflicts_with = "faults")]
    drawn_faults: bool,
    /// Whether hand and board seal their frames
    #[arg(long, value_enum, default_value_t, value_name = "ON|OFF")]
    seal: Seal,
    /// The pace that is ridden in, by its name in the board file; the first one without it
    #[arg(long, value_name = "NAME")]
    pace: Option<String>,
    /// How many times over the route is ridden
    #[arg(long, default_value_t = 1, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=1000))]
    laps: u32,
    /// Ride on, over and over, until no drive is left: tells the true range
    #[arg(long)]
    until_empty: bool,
    /// Ride away, over and over, turn as soon as the handheld says so, and ride home
    #[arg(long, conflicts_with_all = ["until_empty", "laps"])]
    home: bool,
    /// A picture of the way home, .svg or .png; may be given twice
    #[arg(long, requires = "home", value_name = "OUT.svg|OUT.png")]
    home_plot: Vec<PathBuf>,
    /// The handheld's flash: read where it exists, written at the end
    #[arg(long, value_name = "FILE")]
    memory: Option<PathBuf>,
    /// The ride as the handheld lived it, for `replay`; a row per telemetry frame
    #[arg(long, value_name = "OUT.csv")]
    log: Option<PathBuf>,
    /// What the handheld knew, a row per row of the log
    #[arg(long, value_name = "OUT.csv")]
    estimates: Option<PathBuf>,
    /// A picture of the ride, .svg or .png; may be given twice
    #[arg(long, value_name = "OUT.svg|OUT.png")]
    plot: Vec<PathBuf>,
    /// One page with pictures, numbers and inputs
    #[arg(long, value_name = "OUT.html")]
    report: Option<PathBuf>,
    /// One JSON object on standard output
    #[arg(long)]
    json: bool,
}

/// The columns of a log.
const COLUMNS: [Column; 12] = [
    Column::Time,
    Column::PackVoltage,
    Column::PackCurrent,
    Column::ChargeDrawn,
    Column::CellVoltageMin,
    Column::CellTemperature,
    Column::MotorTemperature,
    Column::Speed,
    Column::Distance,
    Column::Thumb,
    Column::LinkOk,
    Column::TrueSoc,
];

/// Everything that is gathered and written, opened before the ride so that a bad path is found at
/// once.
struct Outputs {
    log: Option<RideWriter<AtomicFile>>,
    estimates: Option<EstimatesWriter<AtomicFile>>,
    plots: Vec<Target>,
    report: Option<ReportTarget>,
    memory: Option<MemoryTarget>,
    summary: Summary,
    account: Account,
    picture: Option<PictureBuilder>,
    home: Option<Homeward>,
}

/// What is told of a ride.
struct Told {
    summary: Summary,
    account: Account,
    home: Option<HomeAccount>,
}

impl Ride {
    pub(super) fn run(self) -> anyhow::Result<ExitCode> {
        let began = Instant::now();
        self.check_paths()?;
        let board = BoardFile::open(&self.board)?;
        warn(&board);
        let scenario = match &self.scenario {
            Some(path) => Scenario::open(path)?,
            None if self.drawn => day(self.seed, &board),
            None => Scenario::default(),
        };
        let pattern = self.pattern(&board)?;
        let name = pattern.name().to_owned();
        let remembered = self.memory.as_deref().map(memory_file::read).transpose()?.flatten();
        if remembered.is_some_and(|life| life.pack_mark != board.board.pack_mark()) {
            eprintln!("note: {ANOTHER_PACK}");
        }
        if scenario.wind_is_lost(&pattern) {
            eprintln!(
                "note: the route has no headings, so that air.wind_m_s blows nowhere; air.headwind_m_s would"
            );
        }
        // Where this ride begins is its home.
        let remembered = if self.home { remembered.map(homeward::from_here) } else { remembered };
        let mut setup = scenario.setup(&board, pattern, self.laps)?;
        setup.faults = self.faults()?;
        setup.pace = self.pace_number(&board)?;
        setup.seal = self.seal.is_on();
        let mut world = World::new(&board, &setup, remembered.as_ref(), self.seed)?;
        let mut outputs = self.outputs(&name, &board, &world)?;
        let stop = interrupt::flag()?;
        self.live(&mut world, &board, &stop, &mut outputs)?;
        outputs.account.finish(&world, stop.load(Ordering::Relaxed));
        let (told, report) = outputs.write(&name, &board, &world)?;
        let numbers = told.json(self.seed, began.elapsed().as_secs_f64());
        if let Some((target, report)) = report {
            let inputs = std::iter::once(&self.board).chain(&self.route).chain(&self.scenario);
            let report = report
                .words("What came of it", told.text())
                .numbers("Numbers", numbers.clone())
                .inputs(inputs.chain(&self.faults));
            page::written(target, &report)?;
        }
        show(&if self.json { format!("{numbers}\n") } else { told.text() })?;
        Ok(interrupt::status(&stop))
    }

    fn check_paths(&self) -> anyhow::Result<()> {
        let inputs = std::iter::once(&self.board).chain(&self.route).chain(&self.scenario);
        let inputs = inputs.chain(&self.faults);
        let outputs = self.plot.iter().chain(&self.log).chain(&self.estimates).chain(&self.memory);
        let outputs = outputs.chain(&self.home_plot).chain(&self.report);
        let paths = |paths: Vec<&PathBuf>| -> Vec<PathBuf> { paths.into_iter().cloned().collect() };
        let (inputs, outputs) = (paths(inputs.collect()), paths(outputs.collect()));
        let inputs: Vec<&Path> = inputs.iter().map(PathBuf::as_path).collect();
        let outputs: Vec<&Path> = outputs.iter().map(PathBuf::as_path).collect();
        distinct(&inputs, &outputs)
    }

    fn faults(&self) -> anyhow::Result<Script> {
        Ok(match &self.faults {
            Some(path) => Script::open(path)?,
            None if self.drawn_faults => draw(self.seed),
            None => Script::default(),
        })
    }

    fn pace_number(&self, board: &BoardFile) -> anyhow::Result<u8> {
        let Some(name) = &self.pace else { return Ok(0) };
        let paces = board.paces.iter().zip(0_u8..);
        let found = paces.filter(|(pace, _)| *pace == name).map(|(_, number)| number).next();
        found.with_context(|| {
            format!("`{name}` is no pace of this board; \"{}\" are", board.paces.join("\", \""))
        })
    }

    fn pattern(&self, board: &BoardFile) -> anyhow::Result<Pattern> {
        let Some(path) = &self.route else {
            let top_m_s = board.throttle.parts().limits.top_speed.end.to_f64();
            let town = if self.home { town_away } else { town };
            return Ok(Pattern::Route(Arc::new(town(self.seed, top_m_s)?)));
        };
        let pattern = pattern::open(path, board)?;
        if self.home {
            homeward::check(&pattern)?;
        }
        Ok(pattern)
    }

    /// The ride, from switching on to its end.
    fn live(
        &self,
        world: &mut World<'_>,
        board: &BoardFile,
        stop: &AtomicBool,
        outputs: &mut Outputs,
    ) -> anyhow::Result<()> {
        if self.until_empty || self.home {
            world.ride_on();
        }
        let bar = Ridden::new(world.length_m());
        while world.ending().is_none() && world.now_s() < LONGEST_S && !stop.load(Ordering::Relaxed)
        {
            let moment = world.tick();
            let Moment { time_s, output, row, .. } = moment;
            if let Some(home) = &mut outputs.home {
                home.look(world, &output);
            }
            let Some(row) = row else { continue };
            outputs.account.note(world);
            bar.at(world.vehicle().distance_m());
            let estimate = EstimateRow::of(time_s, &output, &board.board);
            if let Some(log) = &mut outputs.log {
                log.write(&row)?;
            }
            if let Some(writer) = &mut outputs.estimates {
                writer.write(&estimate).context("cannot write the estimates")?;
            }
            if let Some(picture) = &mut outputs.picture {
                picture.push(&sample(&row, &estimate, &output, board));
            }
            outputs.summary.add(&row, &estimate, &output);
        }
        Ok(())
    }

    fn outputs(&self, name: &str, board: &BoardFile, world: &World<'_>) -> anyhow::Result<Outputs> {
        let log = self.log.as_deref().map(|path| RideWriter::create(path, &COLUMNS, &[]));
        let estimates = self.estimates.as_deref().map(|path| {
            let file = AtomicFile::create(path).and_then(EstimatesWriter::new);
            file.with_context(|| format!("cannot write the estimates `{}`", path.display()))
        });
        Ok(Outputs {
            log: log.transpose()?,
            estimates: estimates.transpose()?,
            plots: self.plot.iter().cloned().map(Target::create).collect::<Result<_, _>>()?,
            memory: self.memory.as_deref().map(MemoryTarget::create).transpose()?,
            summary: Summary::new(name, &board.name),
            account: Account::new(world),
            picture: (!self.plot.is_empty() || self.report.is_some()).then(PictureBuilder::new),
            home: self
                .home
                .then(|| Homeward::new(&self.home_plot, self.report.is_some()))
                .transpose()?,
            report: page::opened(self.report.as_deref())?,
        })
    }
}

impl Outputs {
    /// Writes all files but the report, and gives back what is to be told and the report's beginning.
    fn write(
        self,
        name: &str,
        board: &BoardFile,
        world: &World<'_>,
    ) -> anyhow::Result<(Told, Option<(ReportTarget, Report)>)> {
        let Self { log, estimates, plots, report, memory, summary, account, picture, home } = self;
        let names = (board.name.as_str(), name);
        let (home, homeward) = home.map(|home| home.finish(names, world)).transpose()?.unzip();
        let mut page = Report::new(format!("{name} on {}", board.name), summary.in_a_line());
        if let Some(picture) = picture {
            let heading = Heading {
                board: board.name.clone(),
                ride: name.to_owned(),
                result: summary.in_a_line(),
            };
            let picture = picture.finish(&heading)?;
            page = page.picture("What the handheld knew, asked for and let through", &picture);
            for target in plots {
                picture.write(target)?;
            }
        }
        if let Some(picture) = homeward.flatten() {
            page = page.picture("The way home, as the handheld had it", &picture);
        }
        if let Some(log) = log {
            log.finish()?;
        }
        if let Some(writer) = estimates {
            writer.into_inner().finish().context("cannot write the estimates")?;
        }
        if let (Some(target), Some(learned)) = (memory, world.life()) {
            target.write(&learned)?;
        }
        Ok((Told { summary, account, home }, report.map(|target| (target, page))))
    }
}

impl Told {
    fn json(&self, seed: u64, wall_s: f64) -> Value {
        let ride = merged(self.summary.json(), self.account.json(seed, wall_s));
        merged(ride, homeward::json(self.home.as_ref()))
    }

    fn text(&self) -> String {
        let home = self.home.as_ref().map(ToString::to_string).unwrap_or_default();
        format!("{}{}{home}", self.summary, self.account)
    }
}

/// The fields of two objects in one.
fn merged(mut one: Value, other: Value) -> Value {
    if let (Value::Object(one), Value::Object(other)) = (&mut one, other) {
        one.extend(other);
    }
    one
}
