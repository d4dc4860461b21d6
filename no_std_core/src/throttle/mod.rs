//! From the thumb to the demand: small stages, each testable alone, in one line.
//!
//! ```text
//! count -> thumb -> arming -> curve -> slow limits -> shaping -> hard limits -> demand
//! ```
//!
//! `thumb` reads the sensor, `arming` lets it through once it has been neutral, `curve` says what
//! acceleration it asks for, `limits` hold that to what the board allows, `shaping` lets it come and
//! go no faster than a standing rider bears, `hard` has the last word. Fed by `link` and `charge`;
//! what comes out goes to the receiver. Every stage that takes something says why ([`Reasons`]).
//!
//! The laws of the whole, each tested over any thumb, clock and telemetry with ticks up to 100 ms
//! apart:
//! - more thumb is never less demand;
//! - drive and brake are never on together, and drive waits for a pause after braking;
//! - zero thumb, a broken thumb wire or a brake is no drive within 0.3 s, from any state;
//! - a brake that is asked for is never weakened but for a named reason, and what is taken from it
//!   goes gently; a broken thumb wire eases it off at `brake_ease`;
//! - nothing moves before the thumb has been neutral for half a second.
//!
//! Later ticks stretch these times: none moves further than 100 ms would. One later than a second,
//! or a clock that steps back, disarms; a repeated instant changes no rate. The receiver has a
//! failsafe of its own for a hand that is silent.

pub mod arming;
pub mod ceilings;
mod cubic;
pub mod curve;
mod error;
pub mod hard;
mod limit_settings;
pub mod limits;
mod of_board;
mod ramp;
pub mod rate;
mod reasons;
mod settings;
pub mod shaping;
pub mod thumb;

pub use arming::Arming;
pub use ceilings::{Ceilings, Curves, Wish};
pub use curve::{Curve, Handle};
pub use error::{Error, Quantity};
pub use limit_settings::LimitSettings;
pub use limits::{Conditions, Limits};
pub use ramp::Band;
pub use reasons::{Reason, Reasons};
pub use settings::{Parts, Settings, USUAL_BRAKE, USUAL_DRIVE};
pub use shaping::RateSettings;
pub use thumb::{Calibration, Counts};

use crate::time::Instant;
use crate::units::{MetresPerSecondSquared, Ratio};
use hard::Hard;
use rate::Step;
use shaping::Shaping;
use thumb::{Thumb, Zone};

/// What the board is to do now, and why no more.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Demand {
    /// The share of the greatest motor current, -1 to 1: drive positive, **brake negative**. A
    /// brake opposes the way the wheels turn, whichever that is; it is never a drive backwards, so
    /// the receiver has to pass it on as a brake.
    pub share: Ratio,
    /// What the sensor says the thumb asks, -1 to 1; zero where it cannot be read.
    pub asked: Ratio,
    /// The acceleration that the share stands for.
    pub acceleration: MetresPerSecondSquared,
    /// Why it is less than what the thumb asks; none where nothing was taken. A thumb that cannot
    /// be read counts as taken.
    pub reasons: Reasons,
    /// Whether the thumb may move the board.
    pub armed: Arming,
}

impl Demand {
    /// Its stages as numbers, for a digest or a record: asked, acceleration and share as their
    /// bits, the reasons, and 1 where the thumb may move the board.
    #[must_use]
    pub fn to_words(&self) -> [u32; 5] {
        [
            self.asked.to_bits().cast_unsigned(),
            self.acceleration.to_bits().cast_unsigned(),
            self.share.to_bits().cast_unsigned(),
            u32::from(self.reasons.to_bits()),
            u32::from(self.armed.is_armed()),
        ]
    }
}

/// The state between two ticks: plain data, to be cloned and compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Throttle {
    last: Option<Instant>,
    zone: Zone,
    arming: Arming,
    slow: Ceilings,
    shaping: Shaping,
    hard: Hard,
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
            zone: Zone::Neutral,
            arming: Arming::default(),
            slow: Ceilings::OPEN,
            shaping: Shaping::default(),
            hard: Hard::default(),
        }
    }

    /// What the board is to do at `now`, the thumb's sensor reading `raw`.
    ///
    /// To be called every 10 ms or so, up to 100 ms. The work is the same every time but for one
    /// division where drive and brake change places.
    ///
    /// ```
    /// use homestretch::throttle::{Calibration, Conditions, Counts, Settings, Throttle};
    /// use homestretch::time::{Duration, Instant};
    /// use homestretch::units::{Amperes, MetresPerSecondSquared, Ratio, Volts};
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
    /// let full = MetresPerSecondSquared::from_whole(4);
    /// let settings = Settings::standard(calibration, 12, Amperes::from_whole(40), full)?;
    /// let conditions = Conditions {
    ///     pack_voltage: Some(Volts::from_whole(44)),
    ///     telemetry_age: Some(Duration::ZERO),
    ///     ..Conditions::default()
    /// };
    ///
    /// let mut throttle = Throttle::new();
    /// let mut share = Ratio::ZERO;
    /// for tick in 0..200 {
    ///     let raw = if tick < 60 { 2000 } else { 3300 };
    ///     share = throttle.tick(Instant::from_millis(tick * 10), raw, &conditions, &settings).share;
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
        raw: u16,
        conditions: &Conditions,
        settings: &Settings,
    ) -> Demand {
        let step = Step::between(self.last, now);
        self.last = Some(now);
        let parts = settings.parts();
        let (zone, thumb) = self.zone.read(raw, &parts.calibration);
        self.zone = zone;
        self.arming = self.arming.after(now, step, thumb);
        let slow = self.look_around(step, conditions, settings.limits());

        let wish = Wish::of(self.arming.allow(thumb), &parts.curves)
            .held(&slow, &parts.curves)
            .shaped(&mut self.shaping, step, settings.rates(self.arming))
            .held(&self.hard.ceilings, &parts.curves);

        Demand {
            share: settings.share(wish.acceleration),
            asked: match thumb {
                Thumb::At(thumb) => thumb,
                Thumb::Broken { .. } => Ratio::ZERO,
            },
            acceleration: wish.acceleration,
            reasons: wish.reasons,
            armed: self.arming,
        }
    }

    /// Moves both kinds of ceilings on, and returns the slow ones.
    ///
    /// Unarmed, the slow ones are adopted at once: nothing is asked for, so nothing is felt.
    fn look_around(&mut self, step: Step, conditions: &Conditions, limits: &Limits) -> Ceilings {
        let micros = step.micros();
        let standstill = limits.standstill(conditions);
        self.hard = self.hard.after(conditions.pack_voltage, standstill, micros, &limits.hard);
        let target = limits.by_pack(conditions);
        self.slow = if self.arming.is_armed() {
            self.slow.toward(target, micros, &limits::PACE)
        } else {
            target
        };
        limits.by_speed(self.slow, conditions)
    }

    /// What pack and silence leave of drive and brake, whether or not the thumb asks that much: to
    /// be shown before riding as well, where the brake is less than usual.
    #[must_use]
    pub const fn ceilings(&self) -> Ceilings {
        self.slow
    }
}

#[cfg(test)]
mod laws;
#[cfg(test)]
mod scenarios;
