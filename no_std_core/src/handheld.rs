//! The one call that ties the rooms together.
//!
//! ```text
//! telemetry ─► charge ─► range ─► status
//!                 │
//! thumb ─► throttle ─► demand
//! ```
//!
//! No clock, no I/O, no allocation. The caller says what time it is, what the thumb's sensor
//! reads and whether a telemetry frame has come; it gets what to ask of the motor controller and
//! what to show.

use crate::board::Board;
use crate::charge::{Charge, Estimate, Quanta, Rest};
use crate::range::{Leg, PackNow, Range, Remaining, Ridden, Usable};
use crate::store::Life;
use crate::telemetry::Telemetry;
use crate::throttle::{Conditions, Demand, Settings, Throttle};
use crate::time::{Duration, Instant};
use crate::units::{Celsius, Coulombs, Joules, Metres, Ratio, Volts};

/// How things stand, to be shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Status {
    /// The charge, with the interval that holds it nine times in ten.
    pub charge: Estimate,
    /// The pack's capacity over the board's, as learned; the current sensor's scale is in it.
    pub capacity_share: Ratio,
    /// Whether anything has been heard from the pack since the start.
    pub heard: bool,
    /// The way that is left.
    pub range: Remaining,
    /// What can be had from the pack.
    pub usable: Usable,
    /// Whether the pack rests, and since when.
    pub rest: Rest,
    /// How old the newest telemetry is; nothing where there has been none, or the clock stepped
    /// back since.
    pub telemetry_age: Option<Duration>,
    /// How many frames could not be true and were not used.
    pub implausible_frames: u32,
}

/// The results of a tick.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Output {
    /// What to ask of the motor controller, and why no more.
    pub demand: Demand,
    /// What to show.
    pub status: Status,
}

/// The frame that was last believed, and when it came.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Heard {
    at: Instant,
    frame: Telemetry,
}

/// A handheld: everything that it knows between two ticks.
#[derive(Clone, Debug, PartialEq)]
pub struct Handheld<'b> {
    board: &'b Board,
    settings: &'b Settings,
    charge: Charge,
    range: Range,
    throttle: Throttle,
    heard: Option<Heard>,
    /// A voltage above all that the pack can have, in the newest frame.
    surge: Option<Volts>,
    implausible_frames: u32,
}

impl<'b> Handheld<'b> {
    /// A handheld just switched on; `life` is what the one before a power cut had learned. One
    /// that was learned on another pack is not used.
    #[must_use]
    pub fn new(board: &'b Board, settings: &'b Settings, life: Option<&Life>) -> Self {
        let life = life.filter(|life| life.pack_mark == board.pack_mark());
        Self {
            board,
            settings,
            charge: Charge::new(board, life.map(|life| life.charge)),
            range: Range::new(board, life.map(|life| life.consumption)),
            throttle: Throttle::new(),
            heard: None,
            surge: None,
            implausible_frames: 0,
        }
    }

    /// One step of life.
    ///
    /// `thumb` is the raw count of the thumb's sensor; `telemetry` a frame, in the tick after it
    /// came. To be called some 50 times a second. A late call, the same instant twice, a clock
    /// that steps back, no frame for hours and a counter that restarts are all normal: what is
    /// not known makes the estimate less certain and the demand smaller.
    pub fn tick(&mut self, now: Instant, thumb: u16, telemetry: Option<&Telemetry>) -> Output {
        if let Some(frame) = telemetry {
            match frame.checked(self.board) {
                Ok(frame) => {
                    self.surge = None;
                    self.hear(now, frame);
                }
                Err(_) => {
                    let full = self.board.cell().highest.times(self.board.pack().series);
                    self.surge = Some(frame.pack_voltage).filter(|&volts| volts > full);
                    self.implausible_frames = self.implausible_frames.saturating_add(1);
                }
            }
        }
        let age = self.heard.and_then(|heard| now.since(heard.at));
        let demand = self.throttle.tick(now, thumb, &self.conditions(now, age), self.settings);
        Output { demand, status: self.status(now, age) }
    }

    /// What has to outlive a power cut; nothing before the pack has been heard of.
    #[must_use]
    pub fn life(&self) -> Option<Life> {
        let charge = self.charge.memory(self.board)?;
        let consumption = self.range.consumption().memory();
        Some(Life { pack_mark: self.board.pack_mark(), charge, consumption })
    }

    fn hear(&mut self, now: Instant, frame: Telemetry) {
        let drawn = self.charge.hear(now, &frame, self.board);
        let leg = self
            .heard
            .zip(drawn)
            .map_or(Leg::default(), |(before, drawn)| leg(now, &before, &frame, drawn, self.board));
        let load = self.range.load().after(
            frame.pack_current,
            drawn.unwrap_or(Quanta::ZERO),
            self.charge.capacity(),
            self.board,
        );
        let pack = PackNow {
            charge: self.charge.estimate(),
            capacity_share: self.charge.capacity_share(),
            temperature: self.temperature(&frame),
        };
        self.range.ride(now, &Ridden { leg, load, pack }, self.board);
        self.heard = Some(Heard { at: now, frame });
    }

    /// Of the cells; assumed where nothing measures it, for the limits as well: a pack without a
    /// sensor freezes all the same.
    fn temperature(&self, frame: &Telemetry) -> Celsius {
        frame.cell_temperature.unwrap_or(self.board.assumed_temperature())
    }

    fn conditions(&self, now: Instant, telemetry_age: Option<Duration>) -> Conditions {
        let frame = self.heard.map(|heard| heard.frame);
        Conditions {
            // A voltage too high to be true is believed by nobody but the limit that it may break.
            pack_voltage: self.surge.or(frame.map(|frame| frame.pack_voltage)),
            pack_current: frame.map(|frame| frame.pack_current),
            cell_temperature: frame.map(|frame| self.temperature(&frame)),
            charge_high: self.charge.estimate_at(now, self.board).high,
            speed: frame.and_then(|frame| frame.speed),
            telemetry_age,
        }
    }

    fn status(&self, now: Instant, telemetry_age: Option<Duration>) -> Status {
        Status {
            charge: self.charge.estimate_at(now, self.board),
            capacity_share: self.charge.capacity_share(),
            heard: self.charge.is_known(),
            range: self.range.remaining(),
            usable: self.range.usable(),
            rest: self.charge.rest(),
            telemetry_age,
            implausible_frames: self.implausible_frames,
        }
    }
}

/// What moved since the frame before: the charge at the mean voltage, and the way. Energy that
/// flows while the board stands (lights, a night, a charger) costs no way and is left out; a push
/// that the odometer has not noticed yet is not.
fn leg(now: Instant, before: &Heard, frame: &Telemetry, drawn: Quanta, board: &Board) -> Leg {
    let time = now.since(before.at).unwrap_or(Duration::ZERO);
    let Some(distance) = way(time, &before.frame, frame) else { return Leg::default() };
    if distance <= Metres::ZERO && frame.pack_current < Charge::still_under(board) {
        return Leg::default();
    }
    let volts = before.frame.pack_voltage.to_bits().midpoint(frame.pack_voltage.to_bits());
    Leg { energy: energy(drawn.to_coulombs(), Volts::from_bits(volts)), distance }
}

fn energy(charge: Coulombs, volts: Volts) -> Joules {
    let joules = i128::from(charge.to_bits()).saturating_mul(i128::from(volts.to_bits()))
        >> Volts::FRACTION_BITS;
    Joules::from_bits(i64::try_from(joules).unwrap_or(0))
}

/// The way between two frames: by the odometer where both have one and it did not jump, by the
/// mean speed otherwise; nothing where neither is known.
fn way(time: Duration, before: &Telemetry, frame: &Telemetry) -> Option<Metres> {
    /// No small vehicle is faster; an odometer that is has restarted.
    const FASTEST_M_S: i64 = 40;
    let micros = i64::try_from(time.to_micros()).unwrap_or(i64::MAX);
    // Metres have 32 fraction bits: 2^32 · 10^-6 is 4295.
    let most = Metres::from_bits(micros.saturating_mul(4295).saturating_mul(FASTEST_M_S));
    let by_odometer = before.distance.zip(frame.distance).map(|(from, to)| to - from);
    if let Some(way) = by_odometer.filter(|way| (Metres::ZERO..=most).contains(way)) {
        return Some(way);
    }
    let (from, to) = before.speed.zip(frame.speed)?;
    // Speeds have 16 fraction bits: the mean times microseconds, over 10^6, times 2^16.
    let mean = i64::from(from.to_bits().midpoint(to.to_bits()).max(0));
    let way =
        i128::from(mean).saturating_mul(i128::from(micros)).saturating_mul(1 << 16) / 1_000_000;
    Some(Metres::from_bits(i64::try_from(way).unwrap_or(i64::MAX)).min(most))
}

#[cfg(test)]
mod tests;
