//! A pack's life of several rides, each lived alone, with nothing between them but the memory.
//!
//! The handheld is switched on when a ride begins and off a minute after it: it sees neither charger
//! nor night, and does not know how long it was off. What it believes of the capacity is held against
//! the truth. Written down by `cli::life`.

use anyhow::Context;
use homestretch::board::Board;
use homestretch::store::Life;
use homestretch_sim::board_file::BoardFile;
use homestretch_sim::replay::Replay;
use homestretch_sim::ride::RideRow;
use rayon::prelude::*;
use serde::Serialize;

use crate::board_file;
use crate::estimator::{Estimate, Interval};
use crate::facts::Segment;
use crate::reference::Reference;
use crate::resting::RestingCurve;
use crate::score::{Score, Summary};
use crate::spoiled::{self, Spoiling};

/// Seconds of the rest after a ride for which the handheld stays on.
const STAYS_ON: f64 = 60.0;

/// One sigma to the half width of an interval that holds a truth nine times in ten.
const NINE_IN_TEN: f64 = 1.6449;

/// What was believed of a capacity, over all seeds; in percent of the truth.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Belief {
    /// Mean of the estimates, less the truth.
    pub mean_percent: f64,
    /// The largest error, whatever its sign.
    pub largest_percent: f64,
    /// Mean half width of the 90 % interval.
    pub half_width_percent: f64,
    /// Share of the seeds whose interval held the truth, 0 to 1.
    pub covered: f64,
}

/// A life, lived with each seed.
#[derive(Clone, Debug, Serialize)]
pub struct Lived {
    /// The name of the trace.
    pub name: String,
    /// True capacity of a cell.
    pub cell_capacity_Ah: f64,
    /// What the board file says, over the truth, less one, in percent.
    pub board_file_percent: f64,
    /// What exact voltages of the longest rests and exact currents say through the board file's curve,
    /// over the truth, less one, in percent: the curve of a worn cell is another one.
    pub rested_percent: f64,
    /// After each ride.
    pub rides: Vec<Belief>,
    /// Charge over all rides, from their first rows on.
    pub charge: Option<Summary>,
}

/// The lives among `references`: traces of more than one ride.
///
/// # Errors
/// Those of board files and sensors, with the trace's name.
pub fn lives(references: &[Reference], seeds: &[u64]) -> anyhow::Result<Vec<Lived>> {
    let lives = references.iter().filter(|reference| rides(reference).count() > 1);
    lives.map(|reference| lived(reference, seeds).context(reference.name.clone())).collect()
}

fn rides(reference: &Reference) -> impl Iterator<Item = &Segment> {
    reference.facts.segments.iter().filter(|segment| segment.kind == "ride")
}

fn lived(reference: &Reference, seeds: &[u64]) -> anyhow::Result<Lived> {
    let folder = tempfile::tempdir().context("a folder for board files")?;
    let board = BoardFile::open(board_file::write(reference, folder.path())?)?;
    let lives = seeds
        .par_iter()
        .map(|&seed| live(reference, seed, &board))
        .collect::<anyhow::Result<Vec<_>>>()?;
    let truth = reference.facts.cell_capacity_Ah;
    let mut charge = Score::default();
    lives.iter().for_each(|(_, score)| charge.absorb(score));
    let after = |ride: usize| {
        let capacities: Vec<Capacity> =
            lives.iter().filter_map(|(told, _)| told.get(ride).copied()).collect();
        belief(&capacities, truth)
    };
    Ok(Lived {
        name: reference.name.clone(),
        cell_capacity_Ah: truth,
        board_file_percent: percent_over(reference.facts.new_cell_capacity_Ah, truth),
        rested_percent: percent_over(rested_capacity_Ah(reference), truth),
        rides: (0..rides(reference).count()).map(after).collect(),
        charge: charge.summary(),
    })
}

/// What one life believes of its cells' capacity.
#[derive(Clone, Copy, Debug)]
struct Capacity {
    likely_Ah: f64,
    within: Interval,
}

impl Capacity {
    fn of(life: &Life, board: &Board) -> Self {
        let new_Ah = board.cell().capacity.to_f64() / 3600.0;
        let scale = life.charge.scale;
        let (scale, sigma) = (scale.value().to_f64(), scale.sigma().to_f64());
        let half = NINE_IN_TEN * sigma;
        let within =
            Interval { low: new_Ah / (1.0 + scale + half), high: new_Ah / (1.0 + scale - half) };
        Self { likely_Ah: new_Ah / (1.0 + scale), within }
    }
}

/// One life: the capacities believed after each ride, and the score of the charge.
fn live(
    reference: &Reference,
    seed: u64,
    board: &BoardFile,
) -> anyhow::Result<(Vec<Capacity>, Score)> {
    let spoiling = Spoiling { seed: Some(seed), with_temperature: true };
    let rows = spoiled::rows(reference, spoiling)?;
    let (mut life, mut told, mut score) = (None, Vec::new(), Score::default());
    for ride in rides(reference) {
        let mut replay = Replay::new(&board.board, &board.throttle, life.as_ref());
        for row in during(&rows, ride) {
            let output = replay.live(&row.measured);
            let estimate = replay.estimate(&row.measured, &output);
            if let (Some(true_soc), true) = (row.true_soc, output.status.heard) {
                let told = Estimate::within(estimate.soc_low, estimate.soc, estimate.soc_high);
                score.add(told, true_soc, 1.0);
            }
        }
        life = replay.life().or(life);
        told.extend(life.as_ref().map(|life| Capacity::of(life, &board.board)));
    }
    Ok((told, score))
}

/// The rows of a ride and of the minute after it.
fn during<'r>(rows: &'r [RideRow], ride: &Segment) -> impl Iterator<Item = &'r RideRow> + use<'r> {
    let span = ride.start_s..=ride.end_s + STAYS_ON;
    rows.iter().filter(move |row| span.contains(&row.measured.time_s))
}

fn belief(capacities: &[Capacity], truth: f64) -> Belief {
    let count = capacities.len().max(1);
    #[expect(clippy::cast_precision_loss, reason = "far fewer seeds than 2 to the 52")]
    let mean = |sum: f64| sum / count as f64;
    let errors: Vec<f64> =
        capacities.iter().map(|capacity| percent_over(capacity.likely_Ah, truth)).collect();
    let half = |within: Interval| 50.0 * (within.high - within.low) / truth;
    let held = |within: Interval| f64::from((within.low..=within.high).contains(&truth));
    Belief {
        mean_percent: mean(errors.iter().sum()),
        largest_percent: errors.iter().fold(0.0, |most, error| error.abs().max(most)),
        half_width_percent: mean(capacities.iter().map(|capacity| half(capacity.within)).sum()),
        covered: mean(capacities.iter().map(|capacity| held(capacity.within)).sum()),
    }
}

fn percent_over(value: f64, truth: f64) -> f64 {
    100.0 * (value / truth - 1.0)
}

/// Charge drawn in all rides over what the resting curve says was drawn, both exact, from the row
/// before each ride to the last row of the rest after it.
fn rested_capacity_Ah(reference: &Reference) -> f64 {
    let build = &reference.build;
    let curve: &RestingCurve = &build.resting;
    let said = |row: &RideRow| {
        let volts = row.measured.pack_voltage_V.unwrap_or(f64::NAN) / build.series;
        curve.soc(volts, row.measured.cell_temperature_degC.unwrap_or(25.0))
    };
    let (mut drawn_As, mut said_all) = (0.0, 0.0);
    let segments = &reference.facts.segments;
    for (at, ride) in segments.iter().enumerate().filter(|(_, segment)| segment.kind == "ride") {
        let rested = segments.get(at + 1).filter(|next| next.kind == "rest");
        let until_s = rested.map_or(ride.end_s, |rest| rest.end_s);
        let span: Vec<&RideRow> = reference
            .rows
            .iter()
            .filter(|row| (ride.start_s..until_s).contains(&row.measured.time_s))
            .collect();
        if let (Some(first), Some(last)) = (span.first(), span.last()) {
            said_all += said(first) - said(last);
        }
        drawn_As += span
            .windows(2)
            .map(|pair| {
                let current = |row: &RideRow| row.measured.pack_current_A.unwrap_or(0.0);
                let time_s = pair[1].measured.time_s - pair[0].measured.time_s;
                f64::midpoint(current(pair[0]), current(pair[1])) * time_s
            })
            .sum::<f64>();
    }
    drawn_As / 3600.0 / build.parallel / said_all
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::path::Path;

    #[test]
    fn two_halves_of_a_ride_are_two_rides_of_one_life() {
        let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("data");
        let mut trace = Reference::read(&data, "hot-noon").unwrap();
        assert!(lives(std::slice::from_ref(&trace), &[1]).unwrap().is_empty());
        let segment = |start_s, end_s| Segment { kind: "ride".into(), start_s, end_s };
        trace.facts.segments = vec![segment(0.0, 900.0), segment(1000.0, 1900.0)];
        let lives = lives(&[trace], &[1, 2, 3]).unwrap();
        let [life] = lives.as_slice() else { panic!("{lives:?}") };
        assert_eq!((life.rides.len(), life.board_file_percent), (2, 0.0));
        for ride in &life.rides {
            // A new pack is believed to be one.
            assert!(ride.covered > 0.99 && ride.largest_percent < 10.0, "{ride:?}");
        }
        assert!(life.charge.unwrap().rms_percent < 4.0);
    }

    #[test]
    fn a_belief_is_told_in_percent_of_the_truth() {
        let within = |low, high| Interval { low, high };
        let told = belief(
            &[
                Capacity { likely_Ah: 4.4, within: within(3.9, 4.9) },
                Capacity { likely_Ah: 3.8, within: within(3.7, 3.9) },
            ],
            4.0,
        );
        assert!((told.mean_percent - 2.5).abs() < 1e-9 && (told.covered - 0.5).abs() < 1e-12);
        assert!((told.largest_percent - 10.0).abs() < 1e-9);
        assert!((told.half_width_percent - 7.5).abs() < 1e-9);
    }
}
