//! What each place of the thumb comes to, at a speed that is held: once everything has settled.
//!
//! A drum under the wheels, so to speak: the board pulls and pushes, and its speed stays. Limits that look at
//! the pack see what the load makes of it, so it is looked at until nothing moves any more.

use homestretch::throttle::{Demand, Reasons, Settings, Throttle};
use homestretch::time::{Duration, Instant};
use serde::Serialize;

use super::machine::Standing;
use super::trial::{conditions, hand};
use super::words::{ids, rounded};
use crate::plant::Vehicle;

/// From full brake to full drive.
const THUMBS: u32 = 41;

/// Ticks of a tenth of a second, the longest that the library counts in full: neutral, then until all slow
/// limits have gone their way, two seconds at the most, and shaping its own.
const RESTS_FOR_TICKS: u64 = 7;
const SETTLES_WITHIN_TICKS: u64 = 60;
const TICK_MS: u64 = 100;

/// What never settles swings with a period of less than that.
const MEAN_OF_TICKS: u64 = 20;

/// Nothing has moved for so many ticks: it has settled.
const STILL_FOR_TICKS: u32 = 4;

/// What is felt at each thumb and each speed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ThumbMap {
    /// From a stand to the top speed.
    pub speeds_m_s: Vec<f64>,
    /// From -1, full brake, to 1.
    pub thumbs: Vec<f64>,
    /// What is felt, by speed and thumb.
    pub acceleration_m_s2: Vec<Vec<f64>>,
    /// What the library asks, likewise.
    pub asked_m_s2: Vec<Vec<f64>>,
    /// Which limits act, likewise.
    pub limits: Vec<Vec<Vec<String>>>,
}

/// What one thumb came to.
#[derive(Clone, Copy, Debug)]
pub struct Settled {
    /// What is felt, m/s².
    pub felt_m_s2: f64,
    /// What the library asks, m/s².
    pub asked_m_s2: f64,
    /// What it asks of what the curve says here.
    pub left: Option<f64>,
    /// Which limits act.
    pub reasons: Reasons,
}

/// A thumb that rests at a speed that is held.
#[derive(Clone, Debug)]
pub struct Drum<'s> {
    settings: &'s Settings,
    board: &'s Standing,
    vehicle: Vehicle,
    throttle: Throttle,
    ticks: u64,
}

impl<'s> Drum<'s> {
    /// `board` at `speed_m_s`, its thumb believed.
    #[must_use]
    pub fn new(board: &'s Standing, settings: &'s Settings, speed_m_s: f64) -> Self {
        let vehicle = board.vehicle.clone().at_speed(speed_m_s);
        let mut drum = Self { settings, board, vehicle, throttle: Throttle::new(), ticks: 0 };
        let pack_V = board.pack.voltage_V();
        for _ in 0..RESTS_FOR_TICKS {
            drum.tick(0.0, (pack_V, 0.0));
        }
        drum
    }

    fn tick(&mut self, thumb: f64, (pack_V, pack_A): (f64, f64)) -> Demand {
        let heard = conditions(self.board, &self.vehicle, (pack_V, pack_A));
        self.throttle.hear(&heard, self.settings);
        let now = Instant::from_millis(self.ticks * TICK_MS);
        self.ticks += 1;
        let hand = hand(self.settings, thumb);
        self.throttle.tick(now, &hand, Some(Duration::ZERO), self.settings)
    }

    /// What `thumb` comes to here, from the resting thumb on.
    ///
    /// Limits that chase a sagging pack swing about a middle: then it is the mean of the last two seconds.
    #[must_use]
    pub fn settled(&self, thumb: f64) -> Settled {
        let mut drum = self.clone();
        let source = drum.board.pack.source();
        let mut demand = drum.tick(thumb, (source.emf_V, 0.0));
        let (mut still_for, mut before) = (0, None);
        let mut sums = Sums::default();
        for tick in 0..SETTLES_WITHIN_TICKS {
            let mut vehicle = self.vehicle.clone();
            let share = Some(demand.share.to_f64());
            let drawn = vehicle.step(share, 0.0, source, &drum.board.road);
            let felt = (vehicle.acceleration_m_s2(), demand);
            let now = (demand.share, demand.reasons, drum.throttle.ceilings());
            still_for = if before == Some(now) { still_for + 1 } else { 0 };
            before = Some(now);
            if still_for >= STILL_FOR_TICKS {
                sums = Sums::default();
                sums.add(felt);
                break;
            }
            if tick >= SETTLES_WITHIN_TICKS - MEAN_OF_TICKS {
                sums.add(felt);
            }
            demand = drum.tick(thumb, (drawn.battery_voltage_V, drawn.battery_current_A));
        }
        let (felt_m_s2, asked_m_s2) = sums.means();
        let curves = &self.settings.parts().curves;
        let curve = if thumb < 0.0 { &curves.brake } else { &curves.drive };
        let of_thumb = curve.acceleration(demand.asked.magnitude()).to_f64();
        let paced = if thumb < 0.0 { 1.0 } else { demand.paced.to_f64() };
        let whole = of_thumb * paced;
        let left = (whole > 0.0).then(|| (asked_m_s2.abs() / whole).min(1.0));
        Settled { felt_m_s2, asked_m_s2, left, reasons: sums.reasons }
    }
}

/// What the last ticks came to together.
#[derive(Clone, Copy, Debug)]
struct Sums {
    felt_m_s2: f64,
    asked_m_s2: f64,
    ticks: f64,
    reasons: Reasons,
}

impl Default for Sums {
    fn default() -> Self {
        Self { felt_m_s2: 0.0, asked_m_s2: 0.0, ticks: 0.0, reasons: Reasons::NONE }
    }
}

impl Sums {
    fn add(&mut self, (felt_m_s2, demand): (f64, Demand)) {
        self.felt_m_s2 += felt_m_s2;
        self.asked_m_s2 += demand.acceleration.to_f64();
        self.ticks += 1.0;
        self.reasons = self.reasons.and(demand.reasons);
    }

    fn means(&self) -> (f64, f64) {
        let ticks = self.ticks.max(1.0);
        (self.felt_m_s2 / ticks, self.asked_m_s2 / ticks)
    }
}

/// The map of a board on its stand, at these speeds.
#[must_use]
pub fn thumb_map(board: &Standing, settings: &Settings, speeds_m_s: &[f64]) -> ThumbMap {
    let middle = f64::from(THUMBS / 2);
    let thumbs: Vec<f64> = (0..THUMBS).map(|at| (f64::from(at) - middle) / middle).collect();
    let mut map = ThumbMap {
        speeds_m_s: speeds_m_s.iter().copied().map(rounded).collect(),
        thumbs: thumbs.iter().copied().map(rounded).collect(),
        acceleration_m_s2: Vec::new(),
        asked_m_s2: Vec::new(),
        limits: Vec::new(),
    };
    for &speed_m_s in speeds_m_s {
        let drum = Drum::new(board, settings, speed_m_s);
        let row: Vec<Settled> = thumbs.iter().map(|&thumb| drum.settled(thumb)).collect();
        map.acceleration_m_s2.push(row.iter().map(|at| rounded(at.felt_m_s2)).collect());
        map.asked_m_s2.push(row.iter().map(|at| rounded(at.asked_m_s2)).collect());
        map.limits.push(row.iter().map(|at| ids(at.reasons)).collect());
    }
    map
}

/// Five speeds from a stand to the board's top speed, in steps that a person would choose.
#[must_use]
pub fn speeds_shown(settings: &Settings) -> Vec<f64> {
    let top_m_s = settings.parts().limits.top_speed.end.to_f64();
    // To the half metre per second below, so that the last one has some drive left.
    let step = ((top_m_s / 4.0 * 2.0).floor() / 2.0).max(0.25);
    (0..5_u32).map(|at| f64::from(at) * step).collect()
}
