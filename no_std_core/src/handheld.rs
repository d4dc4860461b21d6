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
use crate::charge::{Charge, Estimate, PLAIN_STEP, Quanta, Rest};
use crate::math::{narrow, scale, scale_wide};
use crate::range::{
    Heading, Height, Leg, PackNow, Range, Remaining, Ridden, Usable, WayHome, Word,
};
use crate::store::Life;
use crate::telemetry::Telemetry;
use crate::throttle::{Conditions, Demand, Hand, Settings, Throttle};
use crate::time::{Duration, Instant};
use crate::units::{Amperes, Celsius, Joules, Metres, MetresPerSecond, Ratio, Volts};

/// How things stand, to be shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Status {
    /// The charge, with the interval that holds it nine times in ten.
    pub charge: Estimate,
    /// The pack's capacity over the board's, as learned; the current sensor's scale is in it.
    pub capacity_share: Ratio,
    /// The cells' resistance over the board's, as load has shown it.
    pub resistance_scale: Ratio,
    /// Whether anything has been heard from the pack since the start.
    pub heard: bool,
    /// The way that is left.
    pub range: Remaining,
    /// What can be had from the pack.
    pub usable: Usable,
    /// Where the ride goes, as far as anybody has said.
    pub heading: Heading,
    /// What to tell of the way home; [`Handheld::way_home`] has its figures.
    pub word: Word,
    /// For how long the pack has been still; nothing where charge moves.
    pub still_for: Option<Duration>,
    /// How old the newest telemetry is; nothing where there has been none, or the clock stepped
    /// back since.
    pub telemetry_age: Option<Duration>,
    /// How many frames could not be true and were not used.
    pub implausible_frames: u32,
    /// The mark of the tuning that rides, so that one can see that it is the one that was tried; none where
    /// the settings were made otherwise than from a tuning.
    pub settings_mark: Option<u32>,
}

/// The results of a tick.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Output {
    /// What to ask of the motor controller, and why no more.
    pub demand: Demand,
    /// What to show.
    pub status: Status,
}

/// What is kept of a frame that was believed, and when it came.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
struct Heard {
    at: Instant,
    pack_voltage: Volts,
    pack_current: Amperes,
    speed: Option<MetresPerSecond>,
    distance: Option<Metres>,
}

/// A temperature in 64ths of a degree, up to 512 of them either way: two bytes of a state that counts
/// its bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
struct Rough(i16);

impl Rough {
    /// None was measured.
    const NONE: Self = Self(i16::MIN);

    fn of(celsius: Option<Celsius>) -> Self {
        celsius
            .and_then(|degrees| i16::try_from(degrees.to_bits() >> 10).ok())
            .map_or(Self::NONE, Self)
    }

    fn celsius(self) -> Option<Celsius> {
        (self != Self::NONE).then(|| Celsius::from_bits(i32::from(self.0) << 10))
    }
}

/// What the newest frame moved, while the range has not been told of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
struct Untold {
    before: Option<Heard>,
    drawn: Option<Quanta>,
}

/// A handheld: everything that it knows between two ticks.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Handheld<'b> {
    board: &'b Board,
    settings: &'b Settings,
    charge: Charge,
    range: Range,
    throttle: Throttle,
    heard: Option<Heard>,
    untold: Option<Untold>,
    /// Whether the throttle has not been told of the newest frame.
    unseen: bool,
    motor: Rough,
    controller: Rough,
    height: Height,
    /// Of the cells; assumed where nothing measures it, for the limits as well: a pack without a
    /// sensor freezes all the same.
    temperature: Celsius,
    implausible_frames: u32,
    /// How many ticks before this one brought a frame, up to a few.
    frames_in_a_row: u8,
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
            range: Range::new(board, life.map(|life| (life.range, life.charge.soc))),
            throttle: Throttle::new(),
            heard: None,
            untold: None,
            unseen: false,
            motor: Rough::NONE,
            controller: Rough::NONE,
            height: Height::UNKNOWN,
            temperature: board.assumed_temperature(),
            implausible_frames: 0,
            frames_in_a_row: 0,
        }
    }

    /// One step of life.
    ///
    /// `hand` is what the handheld's own sensors read, or just the raw count of the thumb's;
    /// `telemetry` a frame, in the tick after it came. To be called some 50 times a second. A late call, the same instant twice, a clock
    /// that steps back, no frame for hours and a counter that restarts are all normal: what is
    /// not known makes the estimate less certain and the demand smaller.
    pub fn tick(
        &mut self,
        now: Instant,
        hand: impl Into<Hand>,
        telemetry: Option<&Telemetry>,
    ) -> Output {
        self.live(now, &hand.into(), telemetry)
    }

    #[inline(never)]
    fn live(&mut self, now: Instant, hand: &Hand, telemetry: Option<&Telemetry>) -> Output {
        if let Some(frame) = telemetry {
            self.receive(now, frame);
        }
        self.ponder(telemetry.is_some());
        self.say(now, hand)
    }

    /// What comes of it. Not inlined: its room on the stack is not that of a frame.
    #[inline(never)]
    fn say(&mut self, now: Instant, hand: &Hand) -> Output {
        let age = self.heard.as_ref().and_then(|heard| now.since(heard.at));
        let charge = self.charge.estimate_at(now, self.board);
        let demand = self.throttle.tick(now, hand, age, self.settings);
        let (heading, word) = self.range.word();
        Output {
            demand,
            status: Status {
                charge,
                capacity_share: self.charge.capacity_share(),
                resistance_scale: self.charge.resistance().scale,
                heard: self.charge.is_known(),
                range: self.range.remaining(),
                usable: self.range.usable(),
                heading,
                word,
                still_for: self.charge.rest().still_for(now),
                telemetry_age: age,
                implausible_frames: self.implausible_frames,
                settings_mark: self.settings.mark(),
            },
        }
    }

    /// Whether something is still being worked out: a voltage that was heard, the way that is left.
    ///
    /// Each takes some twenty ticks, one step in each; until then the older result is told. A host
    /// that has no time to wait may tick on at the same instant until this is over, which moves
    /// nothing else.
    #[must_use]
    pub fn ponders(&self) -> bool {
        self.unseen || self.untold.is_some() || self.charge.ponders() || self.range.ponders()
    }

    /// The way home in figures, worked out when it is asked for: for a screen, some times a second.
    #[must_use]
    pub fn way_home(&self) -> WayHome {
        self.range.way_home(self.board)
    }

    /// Home is here: one press of the rider's. A hand that starts for the first time marks it by
    /// itself.
    pub fn mark_home(&mut self) {
        self.range.mark_home();
    }

    /// From now on the way is the one back home: another press. A hand without a map cannot see it.
    pub fn turn_home(&mut self) {
        self.range.turn_home();
    }

    /// The charge, for a look inside.
    #[must_use]
    pub const fn charge(&self) -> &Charge {
        &self.charge
    }

    /// The range, for a look inside.
    #[must_use]
    pub const fn range(&self) -> &Range {
        &self.range
    }

    /// The throttle, for a look inside.
    #[must_use]
    pub const fn throttle(&self) -> &Throttle {
        &self.throttle
    }

    /// What has to outlive a power cut; nothing before the pack has been heard of.
    #[must_use]
    pub fn life(&self) -> Option<Life> {
        let charge = self.charge.memory(self.board)?;
        let range = self.range.memory();
        Some(Life { pack_mark: self.board.pack_mark(), charge, range })
    }

    /// Takes in a frame. Not inlined: its room on the stack is not that of the rest of a tick.
    #[inline(never)]
    fn receive(&mut self, now: Instant, frame: &Telemetry) {
        match frame.checked(self.board) {
            Ok(frame) => self.hear(now, &frame),
            Err(_) => self.doubt(frame),
        }
    }

    /// One step of what charge and range have to work out, in a tick without a frame: a frame is
    /// work enough. Where tick after tick brings one, in those ticks after all.
    #[inline(never)]
    fn ponder(&mut self, frame_came: bool) {
        /// So many ticks in a row with a frame are no chance any more.
        const FRAMES_IN_A_ROW: u8 = 5;
        if frame_came && self.frames_in_a_row < FRAMES_IN_A_ROW {
            self.frames_in_a_row = self.frames_in_a_row.saturating_add(1);
            return;
        }
        if !frame_came {
            self.frames_in_a_row = 0;
        }
        // A frame tells throttle and range of the one before by itself.
        if (self.unseen || self.untold.is_some()) && !frame_came {
            self.tell_throttle();
            self.tell_range();
        } else if self.charge.ponders() {
            self.charge.ponder(self.board);
            if let (false, Some(heard)) = (self.charge.ponders(), &self.heard) {
                let pack = self.pack_now();
                self.range.first_look(heard.at, pack);
            }
        } else if self.range.ponders() {
            self.range.ponder(self.board);
        }
    }

    /// A frame that cannot be true: nothing of it is used, but for a voltage above all that the
    /// pack can have, which nobody believes but the limit that it may break.
    fn doubt(&mut self, frame: &Telemetry) {
        let full = self.board.cell().highest.times(self.board.pack().series);
        if frame.pack_voltage > full {
            self.throttle.surge(frame.pack_voltage, self.settings);
        }
        self.implausible_frames = self.implausible_frames.saturating_add(1);
    }

    /// The pack as far as it is known.
    fn pack_now(&self) -> PackNow {
        PackNow {
            charge: self.charge.estimate(),
            capacity_share: self.charge.capacity_share(),
            temperature: self.temperature,
            resistance_scale: self.charge.resistance().scale,
        }
    }

    fn hear(&mut self, now: Instant, frame: &Telemetry) {
        // Where frames come tick after tick.
        self.tell_throttle();
        self.tell_range();
        self.temperature = frame.cell_temperature.unwrap_or(self.board.assumed_temperature());
        let drawn = self.charge.hear(now, frame, self.board);
        // What it takes away at once does not wait for the next tick.
        self.throttle.surge(frame.pack_voltage, self.settings);
        self.unseen = true;
        self.motor = Rough::of(frame.motor_temperature);
        self.controller = Rough::of(frame.controller_temperature);
        let after_silence = self
            .heard
            .is_none_or(|heard| now.since(heard.at).is_none_or(|silence| silence > PLAIN_STEP));
        self.untold = Some(Untold { before: self.heard, drawn });
        self.heard = Some(Heard {
            at: now,
            pack_voltage: frame.pack_voltage,
            pack_current: frame.pack_current,
            speed: frame.speed,
            distance: frame.distance,
        });
        self.height = Height::of(frame.elevation);
        // Bridging a silence, or filling the window of a rest, is work enough for one tick.
        if !after_silence && *self.charge.rest() == Rest::Moving {
            self.tell_range();
        }
    }

    /// Tells the throttle what the newest frame says, and what the charge is by it, once. In the tick
    /// after it came: a frame is work enough.
    #[inline(never)]
    fn tell_throttle(&mut self) {
        let Some(heard) = self.heard.filter(|_| self.unseen) else { return };
        self.unseen = false;
        let charge = self.charge.estimate();
        let conditions = Conditions {
            pack_voltage: Some(heard.pack_voltage),
            pack_current: Some(heard.pack_current),
            cell_temperature: Some(self.temperature),
            motor_temperature: self.motor.celsius(),
            controller_temperature: self.controller.celsius(),
            // Nobody knows: no reserve is being used up yet.
            charge: if self.charge.is_known() { charge.soc } else { Ratio::ONE },
            charge_high: charge.high,
            speed: heard.speed,
        };
        self.throttle.hear(&conditions, self.settings);
    }

    /// Tells the range what the newest frame moved, once.
    #[inline(never)]
    fn tell_range(&mut self) {
        let (Some(untold), Some(after)) = (self.untold.take(), &self.heard) else { return };
        let Untold { before, drawn } = untold;
        let still_under = self.charge.still_under();
        let (leg, stood) = before.zip(drawn).map_or_else(Default::default, |(before, drawn)| {
            leg(&before, after, drawn, still_under)
        });
        let drawn = drawn.unwrap_or(Quanta::ZERO);
        let capacity = self.charge.capacity();
        let load = self.range.load().after(after.pack_current, drawn, capacity, self.board);
        let pack = self.pack_now();
        let height = self.height;
        self.range.ride(after.at, &Ridden { leg, stood, load, pack, height });
    }
}

/// Of all that changes from tick to tick, for a digest of it. Board and settings stay as they are
/// and have digests of their own.
impl core::hash::Hash for Handheld<'_> {
    fn hash<H: core::hash::Hasher>(&self, state: &mut H) {
        self.charge.hash(state);
        self.range.hash(state);
        self.throttle.hash(state);
        self.heard.hash(state);
        self.untold.hash(state);
        self.unseen.hash(state);
        self.motor.hash(state);
        self.controller.hash(state);
        self.height.hash(state);
        self.temperature.hash(state);
        self.implausible_frames.hash(state);
        self.frames_in_a_row.hash(state);
    }
}

/// What moved since the frame before: the charge at the mean voltage, and the way; and what a board that
/// stands draws (lights, a motor controller that waits), which costs time and no way. A push that the
/// odometer has not noticed yet is no standing, and a charger's charge no cost.
#[inline(never)]
fn leg(before: &Heard, after: &Heard, drawn: Quanta, still_under: Amperes) -> (Leg, Joules) {
    let time = after.at.since(before.at).unwrap_or(Duration::ZERO);
    let Some(distance) = way(time, before, after) else { return Default::default() };
    let volts = before.pack_voltage.to_bits().midpoint(after.pack_voltage.to_bits());
    let energy = energy(drawn, Volts::from_bits(volts));
    if distance <= Metres::ZERO && after.pack_current < still_under {
        return (Leg::default(), energy.max(Joules::ZERO));
    }
    (Leg { energy, distance }, Joules::ZERO)
}

/// Energy of a charge at a voltage.
fn energy(charge: Quanta, volts: Volts) -> Joules {
    /// Rounding by 2^22 quanta, 32 µC, is 80 µA at five frames a second; 100 A for the longest
    /// silence are 31 bits of them.
    const COARSER_BITS: u32 = 22;
    /// Joules have 32 fraction bits, volts 16, and a quantum is 2^-17 µC, so that 2^22 of them are
    /// 2^21 / 10^6 of the product; here with 24 fraction bits.
    const PER_VOLT: i32 = 35_184_372;
    let volts = i64::from(scale::<24>(volts.to_bits(), PER_VOLT));
    let charge = i64::from(narrow(charge.count() >> COARSER_BITS));
    Joules::from_bits(charge.wrapping_mul(volts))
}

/// The way between two frames: by the odometer where both have one and it did not jump, by the
/// mean speed otherwise; nothing where neither is known.
fn way(time: Duration, before: &Heard, after: &Heard) -> Option<Metres> {
    /// No small vehicle is faster; an odometer that is has restarted.
    const FASTEST_M_S: i64 = 40;
    // Twelve days are more than any ride.
    let micros = i64::try_from(time.to_micros().min(1 << 40)).unwrap_or(0);
    // Metres have 32 fraction bits: 2^32 · 10^-6 is 4295.
    let most = Metres::from_bits(micros.wrapping_mul(4295 * FASTEST_M_S));
    let by_odometer = before.distance.zip(after.distance).map(|(from, to)| to - from);
    if let Some(way) = by_odometer.filter(|way| (Metres::ZERO..=most).contains(way)) {
        return Some(way);
    }
    let (from, to) = before.speed.zip(after.speed)?;
    /// Speeds have 16 fraction bits, metres 32: 2^16 / 10^6, in 2^-32.
    const PER_SPEED_MICROSECOND: i32 = 281_474_977;
    let mean = i64::from(from.to_bits().midpoint(to.to_bits()).max(0));
    let way = scale_wide::<32>(mean.wrapping_mul(micros), PER_SPEED_MICROSECOND);
    Some(Metres::from_bits(way).min(most))
}

#[cfg(test)]
mod tests;
