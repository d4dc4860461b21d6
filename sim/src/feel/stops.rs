//! How far it goes until it stands, with the thumb at the full brake.

use homestretch::throttle::Settings;
use serde::Serialize;

use super::machine::Standing;
use super::response::{STANDS_M_S, ride};
use super::trial::Trial;
use super::words::rounded;

/// A board that has not stopped by then does not.
const LONGEST_S: f64 = 40.0;

/// Downhill the motors let go at a walk, and the board creeps on: after so long it is not waited for.
const CREEPS_BELOW_M_S: f64 = 0.5;
const CREEPS_FOR_S: f64 = 3.0;

/// Shares of the top speed from which it is stopped.
const SHARES: [f64; 4] = [0.25, 0.5, 0.75, 1.0];

/// One stop.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Stop {
    /// From here.
    pub speed_m_s: f64,
    /// Rise over run.
    pub grade: f64,
    /// Until it stands, or until it was given up.
    pub distance_m: f64,
    /// Likewise.
    pub time_s: f64,
    /// Whether it stands.
    pub stopped: bool,
    /// The distance that `brake.stop_with_m_s2` states; from the top speed on the level, where it is promised.
    pub limit_m: Option<f64>,
}

/// Way and time of a stop from `speed_m_s`, not rounded.
#[must_use]
pub fn stop(board: &Standing, settings: &Settings, speed_m_s: f64) -> Stop {
    let mut trial = Trial::rolling(board, settings, speed_m_s);
    let grade = board.road.grade;
    let (mut stopped, mut time_s, mut creeps_since_s) = (false, 0.0, None::<f64>);
    ride(
        &mut trial,
        LONGEST_S,
        |_| -1.0,
        |point| {
            time_s = point.felt.time_s;
            stopped = point.felt.speed_m_s < STANDS_M_S;
            let creeps = point.felt.speed_m_s < CREEPS_BELOW_M_S;
            creeps_since_s = creeps.then(|| creeps_since_s.unwrap_or(time_s));
            let crept = creeps_since_s.is_some_and(|since_s| time_s - since_s > CREEPS_FOR_S);
            // One that runs away downhill does not come back.
            !stopped && !crept && point.felt.speed_m_s < speed_m_s + 4.0
        },
    );
    // What is promised is one distance, from the top speed on the level: of a slower board it says little.
    let top_m_s = settings.parts().limits.top_speed.end.to_f64();
    let promised = grade.abs() < f64::EPSILON && (top_m_s - speed_m_s).abs() < 1e-6;
    let limit_m = promised.then(|| stated_m(settings));
    Stop { speed_m_s, grade, distance_m: trial.distance_m(), time_s, stopped, limit_m }
}

/// The distance that the settings state: from the top speed with `stop_with`, as the library reckons it.
#[must_use]
pub fn stated_m(settings: &Settings) -> f64 {
    let limits = &settings.parts().limits;
    let top_m_s = limits.top_speed.end.to_f64();
    top_m_s * top_m_s / (2.0 * limits.brake.stop_with.to_f64())
}

/// Stops from four speeds on each grade.
#[must_use]
pub fn stops(board: &Standing, settings: &Settings, grades: &[f64]) -> Vec<Stop> {
    let top_m_s = settings.parts().limits.top_speed.end.to_f64();
    let mut all = Vec::new();
    for &grade in grades {
        let mut here = board.clone();
        here.road.grade = grade;
        for share in SHARES {
            let made = stop(&here, settings, top_m_s * share);
            all.push(Stop {
                speed_m_s: rounded(made.speed_m_s),
                distance_m: rounded(made.distance_m),
                time_s: rounded(made.time_s),
                limit_m: made.limit_m.map(rounded),
                ..made
            });
        }
    }
    all
}
