//! From the thumb to the demand: small stages, each testable alone, in one line.
//!
//! ```text
//! count -> thumb -> arming -> curve -> slow limits -> shaping -> hard limits -> demand
//! ```
//!
//! `thumb` reads the sensor, `arming` lets it through once it has been neutral, `curve` says what
//! acceleration it asks for in the pace that was chosen, `limits` hold that to what the board allows,
//! `shaping` lets it come and go no faster than a standing rider bears, `hard` has the last word.
//! `direction` says whether the brake's half may drive backwards, `stillness` whether the thumb is
//! stuck, `battery` how long the hand itself will last. Fed by `link` and `charge`; what comes out
//! goes to the receiver. Every stage that takes something says why ([`Reasons`]).
//!
//! The laws of the whole, each tested over any thumb, clock and telemetry with ticks up to 100 ms
//! apart:
//! - more thumb is never less demand;
//! - drive and brake are never on together, and drive waits for a pause after braking;
//! - zero thumb, a broken thumb wire or a brake is no drive within 0.3 s, from any state;
//! - a brake that is asked for is never weakened but for a named reason, and what is taken from it
//!   goes gently; a broken thumb wire eases it off at `brake_ease`;
//! - nothing moves before the thumb has been neutral for half a second;
//! - nothing drives backwards but from a stand, through neutral, where the board file allows it.
//!
//! Later ticks stretch these times: none moves further than 100 ms would. One later than a second,
//! or a clock that steps back, disarms; a repeated instant changes no rate. The receiver has a
//! failsafe of its own for a hand that is silent.

pub mod arming;
pub mod battery;
pub mod ceilings;
mod cubic;
pub mod curve;
mod demand;
pub mod direction;
mod error;
mod hand;
pub mod hard;
mod limit_settings;
pub mod limits;
mod of_board;
pub mod pace;
mod ramp;
pub mod rate;
mod reasons;
mod settings;
pub mod shaping;
pub mod stillness;
pub mod stopping;
pub mod thumb;
mod tuning;

pub use arming::Arming;
pub use battery::{BatteryLimits, HandBattery};
pub use ceilings::{Ceiling, Ceilings, Curves, Half, Wish};
pub use curve::{Curve, Handle};
pub use demand::Demand;
pub use direction::Direction;
pub use error::{Error, Quantity};
pub use hand::Hand;
pub use hard::Latch;
pub use limit_settings::{LimitSettings, Usual};
pub use limits::{Conditions, Limits, Outlook, Riding};
pub use pace::{Pace, Paces};
pub use ramp::Band;
pub use reasons::{Reason, Reasons};
pub use settings::{Parts, Settings, USUAL_BRAKE, USUAL_DRIVE, USUAL_SILENT_BRAKE};
pub use shaping::RateSettings;
pub use stillness::Stillness;
pub use stopping::BrakeSettings;
pub use thumb::{Calibration, Counts};
pub use tuning::{Handles, Shape, Tuning, TuningError};

use crate::time::{Duration, Instant};
use crate::units::{MetresPerSecond, MetresPerSecondSquared, Ratio, Volts};
use battery::BatteryWatch;
use hard::Hard;
use rate::Step;
use shaping::Shaping;
use thumb::{Thumb, Zone};

/// What a tick knows of its time.
#[derive(Clone, Copy)]
struct Tick {
    /// Microseconds that things move for.
    micros: u32,
    age: Option<Duration>,
    /// Whether telemetry is young enough to be believed of what changes fast.
    fresh: bool,
}

/// The state between two ticks: plain data, to be cloned and compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Throttle {
    last: Option<Instant>,
    arming: Arming,
    stillness: Stillness,
    direction: Direction,
    battery: BatteryWatch,
    outlook: Outlook,
    /// The share of the drive curve and the speed limit, on their slow way to what the pace says.
    drive: Ratio,
    speed_limit: MetresPerSecond,
    slow: Ceilings,
    shaping: Shaping,
    hard: Hard,
    zone: Zone,
    pace: u8,
}

impl Default for Throttle {
    fn default() -> Self {
        Self::new()
    }
}

impl Throttle {
    /// A throttle that has just been switched on: disarmed, asking for nothing.
    #[must_use]
    pub fn new() -> Self {
        Self {
            last: None,
            arming: Arming::default(),
            stillness: Stillness::default(),
            direction: Direction::default(),
            battery: BatteryWatch::default(),
            outlook: Outlook::NOTHING_HEARD,
            drive: Ratio::ONE,
            speed_limit: MetresPerSecond::ZERO,
            slow: Ceilings::OPEN,
            shaping: Shaping::default(),
            hard: Hard::default(),
            zone: Zone::Neutral,
            pace: 0,
        }
    }

    /// Takes in what a frame of telemetry says; it holds until the next one, as far as its age allows.
    #[inline(never)]
    pub fn hear(&mut self, conditions: &Conditions, settings: &Settings) {
        self.hard = self.hard.heard(conditions.pack_voltage, &settings.limits().hard);
        let riding = self.riding(settings);
        self.outlook = settings.limits().outlook(conditions, &riding);
    }

    /// Takes in no more than a voltage, believed or not: a limit that it breaks acts.
    pub fn surge(&mut self, pack_voltage: Volts, settings: &Settings) {
        self.hard = self.hard.heard(Some(pack_voltage), &settings.limits().hard);
    }

    /// What the board is to do at `now`, telemetry being as old as `age` (nothing where there has been
    /// none, or the clock stepped back since).
    ///
    /// To be called every 20 ms or so, up to 100 ms. The work is the same every time but for one
    /// division where drive and brake change places.
    ///
    /// ```
    /// use homestretch::throttle::{Calibration, Conditions, Counts, Settings, Throttle, Usual};
    /// use homestretch::time::{Duration, Instant};
    /// use homestretch::units::{Amperes, Kilograms, MetresPerSecondSquared, Ratio, Volts};
    ///
    /// # fn main() -> Result<(), homestretch::throttle::Error> {
    /// let calibration = Calibration::new(Counts {
    ///     full_scale: 4095,
    ///     low: 800,
    ///     centre: 2000,
    ///     high: 3300,
    ///     deadband: 60,
    ///     hysteresis: 20,
    ///     broken_margin: 200,
    ///     reversed: false,
    /// })?;
    /// let vehicle = Usual {
    ///     series: 12,
    ///     greatest_discharge: Amperes::from_whole(40),
    ///     greatest_charge: Amperes::from_whole(12),
    ///     mass: Kilograms::from_whole(90),
    /// };
    /// let full = MetresPerSecondSquared::from_whole(4);
    /// let settings = Settings::standard(calibration, &vehicle, full)?;
    /// let conditions = Conditions {
    ///     pack_voltage: Some(Volts::from_whole(44)),
    ///     charge: Ratio::from_percent(50),
    ///     charge_high: Ratio::from_percent(55),
    ///     ..Conditions::default()
    /// };
    ///
    /// let mut throttle = Throttle::new();
    /// throttle.hear(&conditions, &settings);
    /// let mut share = Ratio::ZERO;
    /// for tick in 0..200 {
    ///     let thumb = if tick < 60 { 2000 } else { 3300 };
    ///     let (now, age) = (Instant::from_millis(tick * 10), Some(Duration::ZERO));
    ///     share = throttle.tick(now, &thumb.into(), age, &settings).share;
    /// }
    /// // 1.6 m/s² of 4, with 1.4 s to get there.
    /// assert!((share - Ratio::from_percent(40)).magnitude() < Ratio::from_milli(1));
    /// # Ok(())
    /// # }
    /// ```
    #[inline(never)]
    pub fn tick(
        &mut self,
        now: Instant,
        hand: &Hand,
        age: Option<Duration>,
        settings: &Settings,
    ) -> Demand {
        let step = Step::between(self.last, now);
        self.last = Some(now);
        let parts = settings.parts();
        let (zone, thumb) = self.zone.read(hand.thumb, &parts.calibration);
        self.zone = zone;
        // A thumb that becomes believed in this tick changes no rate in it: whether it rests or asks
        // too soon would otherwise turn more thumb into less.
        let was_armed = self.arming.is_armed();
        self.arming = self.arming.after(now, step, thumb);
        let believed = was_armed && self.arming.is_armed();
        let allowed = self.arming.allow(thumb);
        let tick = Tick { micros: step.micros(), age, fresh: settings.limits().is_fresh(age) };
        self.look_around(hand, tick, settings);
        let (asked, neutral) = match thumb {
            Thumb::At(thumb) => (thumb, thumb == Ratio::ZERO),
            Thumb::Broken { .. } => (Ratio::ZERO, false),
        };
        self.look_at_thumb((hand.thumb, allowed.thumb, thumb), tick, settings);
        let backward = self.direction.is_backward();
        let (slow, by_speed, hard) = (self.slow, self.outlook.by_speed, self.hard.ceilings);

        let wish = self
            .wish(allowed, parts)
            .held(|half| slow_ceiling(half, backward, &slow, by_speed), &parts.curves, backward)
            .shaped(&mut self.shaping, step, settings.rates(believed, backward))
            .held(|half| hard_ceiling(half, backward, &hard), &parts.curves, backward);

        Demand {
            share: settings.share(wish.acceleration),
            backward,
            asked,
            paced: self.drive,
            acceleration: wish.acceleration,
            reasons: wish.reasons,
            armed: self.arming,
            neutral,
            brake_left: self.slow.brake.share,
        }
    }

    /// Moves everything on that goes its slow way whatever the thumb does.
    ///
    /// Unarmed, what is left is adopted at once: nothing is asked for, so nothing is felt.
    fn look_around(&mut self, hand: &Hand, tick: Tick, settings: &Settings) {
        let Tick { micros, age, fresh } = tick;
        let limits = settings.limits();
        self.pace = hand.pace;
        if let Some(volts) = hand.battery {
            self.battery = self.battery.after(volts, micros, &settings.parts().hand_battery);
        }
        let armed = self.arming.is_armed();
        // As a rule nothing of it has changed.
        let settled = fresh && self.stillness != Stillness::Stuck;
        if !settled || self.slow != self.outlook.by_pack {
            let target = limits.by_age(self.outlook.by_pack, age);
            let target = match self.stillness {
                Stillness::Alive { .. } => target,
                Stillness::Stuck => target.drive_held(Ratio::ZERO, Reason::StuckThumb),
            };
            self.slow =
                if armed { self.slow.toward(target, micros, &limits::PACE) } else { target };
        }
        let Outlook { drive, speed_limit, .. } = self.outlook;
        if self.drive != drive {
            self.drive = if armed { limits::paced(self.drive, drive, micros) } else { drive };
        }
        if self.speed_limit != speed_limit {
            let slides = armed && self.speed_limit > MetresPerSecond::ZERO;
            self.speed_limit = if slides {
                limits::slid(self.speed_limit, speed_limit, micros)
            } else {
                speed_limit
            };
        }
        let brake = if self.direction.is_backward() {
            (self.outlook.brake_by_speed, Reason::TopSpeed)
        } else if fresh {
            (self.outlook.brake_by_speed, Reason::Standstill)
        } else {
            // A board that stood when it was last heard of may roll.
            (Ratio::ONE, Reason::Standstill)
        };
        self.hard = self.hard.after(brake, micros, &limits.hard);
    }

    /// Whether the thumb is stuck, and which way it acts.
    fn look_at_thumb(
        &mut self,
        (count, thumb, sensed): (u16, Ratio, Thumb),
        tick: Tick,
        settings: &Settings,
    ) {
        let (reads, rests) = match sensed {
            Thumb::At(thumb) => (true, thumb == Ratio::ZERO),
            Thumb::Broken { .. } => (false, false),
        };
        let micros = tick.micros;
        self.stillness = self.stillness.after((count, thumb, rests), micros, settings.stuck());
        if settings.parts().reverse {
            let motion = if tick.fresh { self.outlook.motion } else { direction::Motion::Unknown };
            let idle = matches!(self.shaping, Shaping::Neutral { .. });
            // A wire that is broken holds a brake for a moment, and never a drive.
            let thumb = if reads { thumb } else { Ratio::ZERO };
            self.direction = self.direction.after((thumb, rests), motion, micros, idle);
        }
    }

    /// What the thumb asks, which way it may.
    fn wish(&self, allowed: arming::Allowed, parts: &Parts) -> Wish {
        match self.direction {
            Direction::Forward { .. } => Wish::of(allowed, self.drive, &parts.curves),
            Direction::Backward => Wish::backward(allowed, &parts.curves),
            Direction::Leaving => {
                Wish { acceleration: MetresPerSecondSquared::ZERO, reasons: allowed.reasons }
            }
        }
    }

    /// The pace that holds: the one asked for, or the walk home. Before any speed limit is known, it
    /// is the pace's.
    fn riding(&self, settings: &Settings) -> Riding {
        let (pace, why) = match self.battery.state {
            HandBattery::Fine | HandBattery::Low => {
                (settings.parts().paces.pace(self.pace), Reason::TopSpeed)
            }
            HandBattery::Spent => {
                let asked = settings.parts().paces.pace(self.pace);
                (asked.held(Pace::WALK_HOME), Reason::HandBattery)
            }
        };
        let limit = if self.speed_limit > MetresPerSecond::ZERO {
            self.speed_limit
        } else {
            pace.top_speed.min(settings.limits().top_speed)
        };
        Riding { pace, limit, why, backward: self.direction.is_backward() }
    }

    /// What pack and silence leave of drive and brake, whether or not the thumb asks that much: to
    /// be shown before riding as well, where the brake is less than usual.
    #[must_use]
    pub const fn ceilings(&self) -> Ceilings {
        self.slow
    }

    /// The speed that the board may go: less than its pace's where the brake that is left would not
    /// stop it within the stated distance. To be shown before riding.
    #[must_use]
    pub const fn speed_limit(&self) -> MetresPerSecond {
        self.outlook.speed_limit
    }

    /// How the handheld's own battery is.
    #[must_use]
    pub const fn hand_battery(&self) -> HandBattery {
        self.battery.state
    }

    /// Whether the thumb moves: to warn before it is taken for stuck.
    #[must_use]
    pub const fn stillness(&self) -> Stillness {
        self.stillness
    }
}

/// The slow ceiling for a half of the thumb; backwards, the brake's half is held to what drive is.
fn slow_ceiling(half: Half, backward: bool, slow: &Ceilings, by_speed: Ceiling) -> Ceiling {
    match half {
        Half::Drive => slow.drive.and(by_speed),
        Half::Brake if backward => slow.drive,
        Half::Brake => slow.brake,
    }
}

/// The hard one, likewise.
fn hard_ceiling(half: Half, backward: bool, hard: &Ceilings) -> Ceiling {
    match half {
        Half::Drive => hard.drive,
        Half::Brake if backward => hard.brake.and(hard.drive),
        Half::Brake => hard.brake,
    }
}

#[cfg(test)]
pub(crate) mod laws;
#[cfg(test)]
mod scenarios;
