//! Finds the textbook filter's settings, so that it is no straw man.
//!
//! Every second trace by name order, starting with the first, is looked at, each with every seed
//! and with and without a temperature sensor; the pooled rms error is made small. The other
//! traces tell whether what was found holds beyond them.
//! Source: a pattern search along the axes in logarithms, textbook, from memory.

use std::sync::Arc;

use homestretch_sim::ride::RideRow;
use homestretch_sim::sensors::SensorError;
use indicatif::ProgressBar;
use rayon::prelude::*;
use serde::Serialize;

use crate::accuracy;
use crate::build::Build;
use crate::ekf::{Filter, FilterSettings};
use crate::reference::Reference;
use crate::score::Score;
use crate::spoiled::{self, Spoiling};

/// The settings in one row, so that a search can go along them.
const AXES: usize = 5;

/// Lowest and highest of each setting: from where it has no effect to where it is all that has.
const BOUNDS: [(f64, f64); AXES] =
    [(1e-8, 1e-3), (1e-4, 0.3), (1e-3, 10.0), (1e-3, 0.5), (3.0, 1000.0)];

/// Where searches begin: a trusting and a doubting filter, with a short and a long branch.
const STARTS: [[f64; AXES]; 3] =
    [[1e-5, 0.01, 0.02, 0.05, 30.0], [1e-6, 0.03, 0.3, 0.1, 30.0], [1e-5, 0.02, 0.1, 0.05, 200.0]];

/// A setting is first tried this many times larger and smaller, and in the end by the second.
const STEPS: (f64, f64) = (4.0, 1.08);

/// What a search found.
#[derive(Clone, Debug, Serialize)]
pub struct Found {
    /// The settings.
    pub settings: FilterSettings,
    /// Traces that were looked at.
    pub searched: Vec<String>,
    /// Pooled rms error on those.
    pub searched_rms_percent: f64,
    /// Traces that were not.
    pub others: Vec<String>,
    /// Pooled rms error on those.
    pub others_rms_percent: Option<f64>,
    /// How many settings were tried.
    pub tried: usize,
}

/// A spoiled ride, ready to be lived again and again.
struct Life {
    build: Arc<Build>,
    rows: Vec<RideRow>,
}

/// Settings for which the filter's pooled rms error on every second of `references` is small.
///
/// # Errors
/// Those of the sensors.
pub fn run(
    references: &[Reference],
    seeds: &[u64],
    progress: &ProgressBar,
) -> Result<Found, SensorError> {
    let searched: Vec<&Reference> = references.iter().step_by(2).collect();
    let others: Vec<&Reference> = references.iter().skip(1).step_by(2).collect();
    let lives = lives(&searched, seeds)?;
    let mut tried = 0;
    let mut best: Option<(f64, [f64; AXES])> = None;
    for start in STARTS {
        let mut judge = |point: &[f64; AXES]| {
            tried += 1;
            progress.inc(1);
            rms_percent(&lives, settings(point)).unwrap_or(f64::INFINITY)
        };
        let found = descend(start, &mut judge);
        if best.is_none_or(|best| found.0 < best.0) {
            best = Some(found);
        }
    }
    drop(lives);
    let (searched_rms_percent, point) = best.unwrap_or((f64::INFINITY, STARTS[0]));
    let names = |side: &[&Reference]| side.iter().map(|r| r.name.clone()).collect();
    Ok(Found {
        settings: settings(&point),
        searched: names(&searched),
        searched_rms_percent,
        others_rms_percent: rms_percent(&self::lives(&others, seeds)?, settings(&point)),
        others: names(&others),
        tried,
    })
}

fn lives(references: &[&Reference], seeds: &[u64]) -> Result<Vec<Life>, SensorError> {
    let mut lives = Vec::new();
    for reference in references {
        for &seed in seeds {
            for with_temperature in [true, false] {
                let spoiling = Spoiling { seed: Some(seed), with_temperature };
                lives.push(Life {
                    build: reference.build.clone(),
                    rows: spoiled::rows(reference, spoiling)?,
                });
            }
        }
    }
    Ok(lives)
}

const fn settings(point: &[f64; AXES]) -> FilterSettings {
    FilterSettings {
        soc_drift_per_root_s: point[0],
        polarisation_sd_V: point[1],
        voltage_sd_V: point[2],
        first_soc_sd: point[3],
        polarisation_time_s: point[4],
    }
}

/// Over all rows that are scored; `None` if there are none.
fn rms_percent(lives: &[Life], settings: FilterSettings) -> Option<f64> {
    let squares: Vec<(f64, f64)> = lives
        .par_iter()
        .map(|life| {
            let mut score = Score::default();
            let mut filter = Filter::new(life.build.clone(), settings);
            accuracy::through(&life.rows, &mut filter, &mut score);
            score.squares()
        })
        .collect();
    let (sum, count) =
        squares.into_iter().fold((0.0, 0.0), |all, one| (all.0 + one.0, all.1 + one.1));
    (count > 0.0).then(|| (sum / count).sqrt())
}

/// The lowest value of `judge` that steps along the axes lead to from `start`, and where it is.
fn descend(start: [f64; AXES], judge: &mut impl FnMut(&[f64; AXES]) -> f64) -> (f64, [f64; AXES]) {
    let mut point = start;
    let mut value = judge(&point);
    let (mut step, last) = STEPS;
    while step > last {
        let before = value;
        for axis in 0..AXES {
            for factor in [step, step.recip()] {
                let mut other = point;
                let (lowest, highest) = BOUNDS[axis];
                other[axis] = (point[axis] * factor).clamp(lowest, highest);
                let judged = judge(&other);
                if judged < value {
                    (point, value) = (other, judged);
                    break;
                }
            }
        }
        if value >= before {
            step = step.sqrt();
        }
    }
    (value, point)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_bottom_of_a_bowl_is_found() {
        let bottom = [3e-6, 0.02, 0.7, 0.03, 55.0];
        let mut judge = |point: &[f64; AXES]| {
            let squares = point.iter().zip(bottom).map(|(a, b)| (a / b).ln().powi(2));
            squares.sum()
        };
        for start in STARTS {
            let (value, point) = descend(start, &mut judge);
            assert!(value < 0.01, "{value} {point:?}");
        }
    }
}
