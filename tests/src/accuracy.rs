//! Lets the three estimators live the same spoiled rides and scores them.
//!
//! Rides, seeds and the presence of a temperature sensor are the tasks, done on all cores; what
//! comes out does not depend on how many those are. Written down by `report`.

use std::collections::BTreeMap;

use anyhow::Context;
use homestretch_sim::board_file::BoardFile;
use homestretch_sim::ride::RideRow;
use indicatif::ProgressBar;
use rayon::prelude::*;
use serde::Serialize;

use crate::board_file;
use crate::counting::Counting;
use crate::ekf::{FOUND, Filter};
use crate::estimator::{Estimate, Estimator};
use crate::group::Group;
use crate::ours::Library;
use crate::reference::Reference;
use crate::score::{SCORED_FROM, Score};
use crate::side_by_side::{SideBySide, Summaries};
use crate::spoiled::{self, Spoiling};

/// What is to be done to each trace.
#[derive(Clone, Debug)]
pub struct Trial {
    /// One run each; none of them where the rows are to be exact.
    pub seeds: Vec<u64>,
    /// Whether the rows go in as they are, once.
    pub exact: bool,
}

/// The scores with, or without, a temperature sensor.
#[derive(Clone, Debug, Serialize)]
pub struct Scoreboard {
    /// Which.
    pub with_temperature: bool,
    /// One for each trace.
    pub traces: Vec<TraceLine>,
    /// Traces of one cell pooled.
    pub by_cell: Vec<PooledLine>,
    /// Traces of one [`Group`] pooled.
    pub by_group: Vec<PooledLine>,
    /// Iron phosphate, from the first row on whose true charge lies where the curve is steep enough to
    /// tell.
    pub iron_phosphate_told: Summaries,
    /// Everything pooled.
    pub all: Summaries,
}

/// The scores of a trace.
#[derive(Clone, Debug, Serialize)]
pub struct TraceLine {
    /// Its name.
    pub ride: String,
    /// Its cell.
    pub cell: String,
    /// Its group.
    pub group: Group,
    /// Its scores by seed, where there are seeds.
    pub seeds: Vec<SeedLine>,
    /// The seeds pooled.
    pub pooled: Summaries,
}

/// The scores of a trace with one seed.
#[derive(Clone, Debug, Serialize)]
pub struct SeedLine {
    /// As asked for.
    pub seed: u64,
    /// As given to the sensors.
    pub sensor_seed: u64,
    /// The scores.
    pub scores: Summaries,
}

/// The scores of several traces.
#[derive(Clone, Debug, Serialize)]
pub struct PooledLine {
    /// What they share.
    pub name: String,
    /// The scores.
    pub scores: Summaries,
}

/// The scores of all `references`, first with a temperature sensor and then without.
///
/// # Errors
/// Those of writing and reading board files and of the sensors, with the trace's name.
pub fn run(
    references: &[Reference],
    trial: &Trial,
    progress: &ProgressBar,
) -> anyhow::Result<Vec<Scoreboard>> {
    let boards = boards(references)?;
    let seeds: Vec<Option<u64>> =
        if trial.exact { vec![None] } else { trial.seeds.iter().copied().map(Some).collect() };
    let tasks: Vec<(usize, Spoiling)> = [true, false]
        .iter()
        .flat_map(|&with_temperature| {
            (0..references.len()).map(move |trace| (trace, with_temperature))
        })
        .flat_map(|(trace, with_temperature)| {
            let spoiling = move |&seed: &Option<u64>| Spoiling { seed, with_temperature };
            seeds.iter().map(move |seed| (trace, spoiling(seed)))
        })
        .collect();
    progress.set_length(u64::try_from(tasks.len()).unwrap_or(u64::MAX));
    let scores = tasks
        .par_iter()
        .map(|&(trace, spoiling)| {
            let reference = &references[trace];
            let score = live(reference, spoiling, &boards[trace]);
            progress.inc(1);
            score.with_context(|| reference.name.clone())
        })
        .collect::<anyhow::Result<Vec<_>>>()?;
    let per_board = references.len() * seeds.len();
    Ok([true, false]
        .into_iter()
        .zip(scores.chunks(per_board))
        .map(|(with_temperature, scores)| scoreboard(references, with_temperature, &seeds, scores))
        .collect())
}

/// The board of each trace, by way of a file as a builder would have it.
fn boards(references: &[Reference]) -> anyhow::Result<Vec<BoardFile>> {
    let folder = tempfile::tempdir().context("a folder for board files")?;
    let board = |reference: &Reference| {
        let path = board_file::write(reference, folder.path())?;
        BoardFile::open(path).with_context(|| format!("the board of {}", reference.name))
    };
    references.iter().map(board).collect()
}

/// One ride through all estimators.
fn live(reference: &Reference, spoiling: Spoiling, board: &BoardFile) -> anyhow::Result<Scores> {
    let rows = spoiled::rows(reference, spoiling)?;
    let told_from_s = told_from_s(reference);
    let mut counting = Counting::new(reference.build.clone());
    let mut filter = Filter::new(reference.build.clone(), FOUND);
    let mut scores = Scores::default();
    let Scores { all, told } = &mut scores;
    let live = |estimator: &mut dyn Estimator, all: &mut Score, told: &mut Score| {
        scored(&rows, estimator, |estimate, row, lasts_s| {
            all.add(estimate, row.0, lasts_s);
            if row.1 >= told_from_s {
                told.add(estimate, row.0, lasts_s);
            }
        });
    };
    live(&mut counting, &mut all.counting, &mut told.counting);
    live(&mut filter, &mut all.filter, &mut told.filter);
    live(&mut Library::new(board), &mut all.ours, &mut told.ours);
    Ok(scores)
}

/// All rows that count, and those among them from which on the curve could have told.
#[derive(Clone, Debug, Default)]
struct Scores {
    all: SideBySide<Score>,
    told: SideBySide<Score>,
}

/// Volts a charge: twice the slope of an iron phosphate plateau, half of that of its step.
const TELLING_SLOPE: f64 = 0.2;

/// When a trace first stands where its curve is steep enough to tell; never, where it does not.
fn told_from_s(reference: &Reference) -> f64 {
    let tells = |row: &&RideRow| {
        let slope = |soc| reference.build.resting.slope_V(soc, 25.0);
        row.true_soc.is_some_and(|soc| slope(soc) >= TELLING_SLOPE)
    };
    reference.rows.iter().find(tells).map_or(f64::INFINITY, |row| row.measured.time_s)
}

/// Takes `rows` through `estimator`, and scores those that are to be scored.
pub fn through(rows: &[RideRow], estimator: &mut dyn Estimator, score: &mut Score) {
    scored(rows, estimator, |estimate, (true_soc, _), lasts_s| {
        score.add(estimate, true_soc, lasts_s);
    });
}

/// Takes `rows` through `estimator`, and hands on what is to be scored: the estimate, the true charge
/// and the time, and for how long the row stands.
fn scored(
    rows: &[RideRow],
    estimator: &mut dyn Estimator,
    mut score: impl FnMut(Estimate, (f64, f64), f64),
) {
    let Some(first) = rows.first() else { return };
    let from_s = first.measured.time_s + SCORED_FROM;
    let mut before_s = first.measured.time_s;
    for row in rows {
        let estimate = estimator.step(&row.measured);
        let time_s = row.measured.time_s;
        if let (Some(true_soc), true) = (row.true_soc, time_s >= from_s) {
            score(estimate, (true_soc, time_s), time_s - before_s);
        }
        before_s = time_s;
    }
}

fn scoreboard(
    references: &[Reference],
    with_temperature: bool,
    seeds: &[Option<u64>],
    scores: &[Scores],
) -> Scoreboard {
    let mut by_cell: BTreeMap<&str, SideBySide<Score>> = BTreeMap::new();
    let mut by_group: BTreeMap<Group, SideBySide<Score>> = BTreeMap::new();
    let (mut all, mut told) = (SideBySide::default(), SideBySide::default());
    let mut traces = Vec::new();
    for (reference, scores) in references.iter().zip(scores.chunks(seeds.len())) {
        let mut pooled = SideBySide::default();
        for score in scores {
            pooled.absorb(&score.all);
        }
        let group = Group::of(&reference.facts);
        if group == Group::IronPhosphate {
            scores.iter().for_each(|score| told.absorb(&score.told));
        }
        let cell = reference.facts.cell.as_str();
        by_cell.entry(cell).or_default().absorb(&pooled);
        by_group.entry(group).or_default().absorb(&pooled);
        all.absorb(&pooled);
        let seed_lines = seeds.iter().zip(scores).filter_map(|(&seed, score)| {
            let seed = seed?;
            Some(SeedLine {
                seed,
                sensor_seed: spoiled::sensor_seed(&reference.name, seed),
                scores: score.all.summaries(),
            })
        });
        traces.push(TraceLine {
            ride: reference.name.clone(),
            cell: cell.to_owned(),
            group,
            seeds: seed_lines.collect(),
            pooled: pooled.summaries(),
        });
    }
    let pooled =
        |(name, score): (String, SideBySide<Score>)| PooledLine { name, scores: score.summaries() };
    let by_cell = by_cell.into_iter().map(|(k, v)| (k.to_owned(), v));
    let by_group = by_group.into_iter().map(|(k, v)| (k.to_string(), v));
    Scoreboard {
        with_temperature,
        traces,
        by_cell: by_cell.map(pooled).collect(),
        by_group: by_group.map(pooled).collect(),
        iron_phosphate_told: told.summaries(),
        all: all.summaries(),
    }
}

#[cfg(test)]
mod tests;
