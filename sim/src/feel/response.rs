//! What follows a sudden thumb: demand, acceleration, jerk and speed by time.
//!
//! Jerk is the difference of two accelerations a tenth of a second apart, over that tenth: shorter, and it
//! would be that of the plant's own steps; longer, and it would hide what a rider's legs feel (common
//! practice, no source).

use std::collections::VecDeque;

use homestretch::throttle::{Reason, Reasons, Settings};
use serde::Serialize;

use super::machine::Standing;
use super::trial::{Felt, Trial};
use super::words::{id, rounded};
use crate::board_file::Riders;
use crate::plant::STEP_S;
use crate::report::summary::name;

/// Steps between the two accelerations of a jerk.
const JERK_STEPS: usize = 10;

/// Points are shown fifty times a second.
const STEPS_PER_POINT: usize = 2;

/// Before the thumb moves, and after it.
const BEFORE_S: f64 = 0.3;
const AFTER_S: f64 = 3.5;

/// A drive that is let go has come as far as it comes: it has not grown for so long, or so long was enough.
const GROWN_FOR_S: f64 = 0.2;
const DRIVEN_FOR_S: f64 = 8.0;
const GROWS_M_S2: f64 = 0.002;

/// A slow roll, from which drive begins.
pub(super) const SLOW_ROLL_M_S: f64 = 0.5;

/// A board that is slower stands.
pub(super) const STANDS_M_S: f64 = 0.02;

/// A step of a trial, with its thumb and its jerk.
#[derive(Clone, Copy, Debug)]
pub struct Point {
    /// What the trial says.
    pub felt: Felt,
    /// The thumb in this step.
    pub thumb: f64,
    /// m/s³.
    pub jerk_m_s3: f64,
}

/// Watches accelerations for their jerk.
#[derive(Clone, Debug, Default)]
pub struct JerkWatch {
    last: VecDeque<f64>,
}

impl JerkWatch {
    /// The jerk after one more step; zero before there are enough of them.
    pub fn after(&mut self, acceleration_m_s2: f64) -> f64 {
        self.last.push_back(acceleration_m_s2);
        if self.last.len() <= JERK_STEPS {
            return 0.0;
        }
        let before = self.last.pop_front().unwrap_or(acceleration_m_s2);
        let tenth = f64::from(u32::try_from(JERK_STEPS).unwrap_or(1)) * STEP_S;
        (acceleration_m_s2 - before) / tenth
    }
}

/// Rides `trial` for `seconds` with the thumb that a time has, and tells of each step; ends early where
/// `look` says so.
pub fn ride(
    trial: &mut Trial<'_>,
    seconds: f64,
    thumb: impl Fn(f64) -> f64,
    mut look: impl FnMut(&Point) -> bool,
) {
    let mut jerk = JerkWatch::default();
    let mut time_s = 0.0;
    while time_s < seconds - 0.5 * STEP_S {
        let thumb = thumb(time_s);
        let felt = trial.step(thumb);
        let jerk_m_s3 = jerk.after(felt.acceleration_m_s2);
        if !look(&Point { felt, thumb, jerk_m_s3 }) {
            break;
        }
        time_s += STEP_S;
    }
}

/// A limit that acted for a while.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ReasonSpan {
    /// From when on.
    pub from_s: f64,
    /// Until when.
    pub to_s: f64,
    /// Its short name.
    pub id: String,
    /// In words.
    pub name: &'static str,
}

/// What the lightest rider bears, lowest and highest.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Bears {
    /// m/s².
    pub acceleration_m_s2: (f64, f64),
    /// m/s³.
    pub jerk_m_s3: (f64, f64),
}

/// What followed a thumb; all lists are as long as the times.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Response {
    /// Since the beginning, s.
    pub time_s: Vec<f64>,
    /// -1 to 1.
    pub thumb: Vec<f64>,
    /// What the library asks, m/s².
    pub demand_m_s2: Vec<f64>,
    /// What is felt, m/s².
    pub acceleration_m_s2: Vec<f64>,
    /// What is felt, m/s³.
    pub jerk_m_s3: Vec<f64>,
    /// m/s.
    pub speed_m_s: Vec<f64>,
    /// Which limits acted when.
    pub reasons: Vec<ReasonSpan>,
    /// What riders bear.
    pub bears: Bears,
}

/// The thumb from nothing to all, from a slow roll.
#[must_use]
pub fn step(board: &Standing, settings: &Settings, riders: &Riders) -> Response {
    let mut trial = Trial::rolling(board, settings, SLOW_ROLL_M_S);
    let thumb = |time_s: f64| if time_s < BEFORE_S { 0.0 } else { 1.0 };
    recorded(&mut trial, BEFORE_S + AFTER_S, thumb, coming(riders))
}

/// The thumb let go from all, at two thirds of the speed that the library allows.
#[must_use]
pub fn release(board: &Standing, settings: &Settings, riders: &Riders) -> Response {
    let mut trial = from_speed(board, settings, 2.0 / 3.0);
    drive_up(&mut trial);
    let thumb = |time_s: f64| if time_s < BEFORE_S { 1.0 } else { 0.0 };
    let let_go = riders.bear_let_go_jerk_m_s3;
    let bears = coming(riders);
    let bears = Bears { jerk_m_s3: (-let_go, bears.jerk_m_s3.1), ..bears };
    recorded(&mut trial, BEFORE_S + 1.2, thumb, bears)
}

/// The thumb to the full brake, from the speed that the library allows, until it stands.
#[must_use]
pub fn brake(board: &Standing, settings: &Settings, riders: &Riders) -> Response {
    let mut trial = from_speed(board, settings, 1.0);
    let thumb = |time_s: f64| if time_s < BEFORE_S { 0.0 } else { -1.0 };
    recorded(&mut trial, 12.0, thumb, coming(riders))
}

/// Drives with the whole thumb until drive grows no more; the time then.
pub(super) fn drive_up(trial: &mut Trial<'_>) -> f64 {
    let (mut most_m_s2, mut grown_s, mut time_s) = (0.0, None, 0.0);
    ride(
        trial,
        DRIVEN_FOR_S,
        |_| 1.0,
        |point| {
            time_s = point.felt.time_s;
            let since_s = *grown_s.get_or_insert(time_s);
            if point.felt.demand_m_s2 > most_m_s2 + GROWS_M_S2 {
                (most_m_s2, grown_s) = (point.felt.demand_m_s2, Some(time_s));
            }
            time_s - since_s < GROWN_FOR_S
        },
    );
    time_s
}

/// `board` rolling at this share of the speed that the library allows it.
#[must_use]
pub fn from_speed<'s>(board: &Standing, settings: &'s Settings, share: f64) -> Trial<'s> {
    let allowed = allowed_m_s(board, settings);
    Trial::rolling(board, settings, allowed * share)
}

/// The speed that the library allows a board, as it says before riding.
#[must_use]
pub fn allowed_m_s(board: &Standing, settings: &Settings) -> f64 {
    Trial::rolling(board, settings, 0.0).speed_limit_m_s()
}

const fn coming(riders: &Riders) -> Bears {
    Bears {
        acceleration_m_s2: (-riders.bear_brake_m_s2, riders.bear_drive_m_s2),
        jerk_m_s3: (-riders.bear_brake_jerk_m_s3, riders.bear_drive_jerk_m_s3),
    }
}

fn recorded(
    trial: &mut Trial<'_>,
    seconds: f64,
    thumb: impl Fn(f64) -> f64,
    bears: Bears,
) -> Response {
    let mut points = Vec::new();
    let mut stood_for = 0;
    ride(trial, seconds, thumb, |point| {
        points.push(*point);
        let stands = point.felt.speed_m_s.abs() < STANDS_M_S;
        stood_for = if stands { stood_for + 1 } else { 0 };
        stood_for < 30
    });
    let shown = || points.iter().skip(STEPS_PER_POINT - 1).step_by(STEPS_PER_POINT);
    let list =
        |of: fn(&Point) -> f64| -> Vec<f64> { shown().map(|point| rounded(of(point))).collect() };
    let began_s = points.first().map_or(0.0, |point| point.felt.time_s - STEP_S);
    let time_s = shown().map(|point| rounded(point.felt.time_s - began_s)).collect();
    Response {
        time_s,
        thumb: list(|point| point.thumb),
        demand_m_s2: list(|point| point.felt.demand_m_s2),
        acceleration_m_s2: list(|point| point.felt.acceleration_m_s2),
        jerk_m_s3: list(|point| point.jerk_m_s3),
        speed_m_s: list(|point| point.felt.speed_m_s),
        reasons: spans(&points, began_s),
        bears,
    }
}

fn spans(points: &[Point], began_s: f64) -> Vec<ReasonSpan> {
    let mut spans = Vec::new();
    let ever = points.iter().fold(Reasons::NONE, |all, point| all.and(point.felt.reasons));
    for reason in ever.iter() {
        let mut open: Option<(f64, f64)> = None;
        for point in points {
            let at_s = point.felt.time_s - began_s;
            if point.felt.reasons.contains(reason) {
                let from_s = open.map_or(at_s - STEP_S, |(from_s, _)| from_s);
                open = Some((from_s, at_s));
            } else if let Some(span) = open.take() {
                spans.push(span_of(reason, span));
            }
        }
        spans.extend(open.map(|span| span_of(reason, span)));
    }
    spans.sort_by(|one, other| one.from_s.total_cmp(&other.from_s));
    spans
}

fn span_of(reason: Reason, (from_s, to_s): (f64, f64)) -> ReasonSpan {
    ReasonSpan { from_s: rounded(from_s), to_s: rounded(to_s), id: id(reason), name: name(reason) }
}
