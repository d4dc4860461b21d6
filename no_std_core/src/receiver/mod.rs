//! The board's end: what the motor controller gets, also when the hand goes silent or breaks.
//!
//! ```text
//! command -> link state -> silence -> rates -> floor of its own -> order -> motor controller
//! ```
//!
//! Fed by `link` with commands that are authentic and fresh, and with what the board itself measures;
//! what comes out goes to a servo pulse (`hal`) or to a serial line ([`MotorController`]). It knows no
//! thumb and no charge: all of that is the hand's. What is here is small enough to be trusted alone.
//!
//! | the last good frame came | drive | brake | when a frame comes |
//! | --- | --- | --- | --- |
//! | up to 80 ms ago | follows the command at drive on; at twice drive off downwards (backwards at drive off) | follows at brake on, brake off | goes on |
//! | up to 100 ms ago | held, or falling already | held | returns at drive on, not above what it was |
//! | up to 250 ms ago | falls in a line, and is zero | held | the same |
//! | up to a second ago | zero | held | the same |
//! | longer ago | zero | comes and goes at brake ease to the board's own, `silent_brake` | locked: drive only after a neutral thumb |
//!
//! The board's own brake is no more than the pack was last said to take: a frozen one is not charged by
//! a board that stops alone. A brake is obeyed even while drive is locked: a rider who brakes means it, and another start of the
//! hand asks for nothing before its own thumb has been neutral.
//! Times are from the moment a frame arrives, for ticks up to [`LONGEST_TICK`] apart. A later tick moves
//! nothing further than a tenth of a second would, but never leaves drive on beyond its time.

mod command;
pub mod controller;
pub mod silence;

pub use command::{Command, Sender};
pub use controller::{Gearing, MotorController, Told};
pub use silence::{GONE_WITHIN, HELD_FOR, LONGEST_TICK, SHORT};

use crate::throttle::hard::Hard;
use crate::throttle::rate::Step;
use crate::throttle::shaping::Shaping;
use crate::throttle::{Half, Reason, Reasons, Settings, Wish};
use crate::time::{Duration, Instant};
use crate::units::{MetresPerSecond, MetresPerSecondSquared, Ratio, Volts};

/// The link has been whole for so long: what was held back after a silence is no longer.
pub const WHOLE_AFTER: Duration = Duration::from_secs(1);

/// Another handheld is listened to once the one that rides has been silent for so long: nobody is
/// still riding with it. No source.
pub const HAND_KEPT_FOR: Duration = Duration::from_secs(10);

/// A tick that comes later than this after the one before does not deserve the watchdog's food: the
/// receiver's own loop is stuck somewhere.
pub const WATCHDOG_TICK: Duration = Duration::from_millis(50);

/// What the board's end measures by itself, where it does.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Measured {
    /// The voltage of the whole pack.
    pub pack_voltage: Option<Volts>,
    /// The speed, forward positive.
    pub speed: Option<MetresPerSecond>,
}

/// Whether the hand's drive is obeyed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Lock {
    /// It is.
    Open,
    /// Not before the thumb has been neutral.
    Locked {
        /// Why.
        why: LockedBy,
    },
}

/// Why drive waits for a neutral thumb.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum LockedBy {
    /// The receiver has just been switched on.
    Started,
    /// Nothing was heard for longer than [`SHORT`].
    Silence,
    /// The hand has been switched on anew, or it is another one.
    AnotherStart,
    /// The receiver's clock stepped back.
    ClockSteppedBack,
}

/// What the motor controller is to do.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Order {
    /// The share of the greatest motor current, -1 to 1: drive positive, brake negative.
    pub share: Ratio,
    /// Whether a negative share is a drive backwards.
    pub backward: bool,
    /// Whether the hand's drive is obeyed.
    pub lock: Lock,
    /// Why it is less than what was commanded, as far as the board's end takes it.
    pub reasons: Reasons,
    /// Whether feeding a watchdog is deserved: the ticks come, and in time.
    pub feed_watchdog: bool,
}

/// What is kept of the last good frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
struct Heard {
    at: Instant,
    command: Command,
    /// What it asks, as an acceleration.
    asks: MetresPerSecondSquared,
    /// Since when no silence has been longer than a tick or two.
    whole_since: Instant,
}

/// The state between two ticks: plain data, to be cloned and compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Receiver {
    last: Option<Instant>,
    heard: Option<Heard>,
    lock: Lock,
    /// After a short silence: no more drive than before it.
    not_above: Option<MetresPerSecondSquared>,
    /// What drive was when the silence began that lasts.
    held: MetresPerSecondSquared,
    backward: bool,
    shaping: Shaping,
    hard: Hard,
    strangers: u32,
}

impl Default for Receiver {
    fn default() -> Self {
        Self::new()
    }
}

impl Receiver {
    /// A receiver that has just been switched on: locked, asking nothing of the motors.
    #[must_use]
    pub fn new() -> Self {
        Self {
            last: None,
            heard: None,
            lock: Lock::Locked { why: LockedBy::Started },
            not_above: None,
            held: MetresPerSecondSquared::ZERO,
            backward: false,
            shaping: Shaping::default(),
            hard: Hard::default(),
            strangers: 0,
        }
    }

    /// What the motor controller is to do at `now`; `command` is a frame that came since the tick
    /// before, and `measured` what the board's end knows by itself.
    ///
    /// To be called at least every [`LONGEST_TICK`].
    ///
    /// Laws: after a silence drive is zero by its deadline at every phase of the radio's timing, and
    /// nothing but a fresh command brings it back; drive and brake are never on together; each rate is
    /// within its limit.
    #[inline(never)]
    pub fn tick(
        &mut self,
        now: Instant,
        command: Option<&Command>,
        measured: &Measured,
        settings: &Settings,
    ) -> Order {
        let step = Step::between(self.last, now);
        self.last = Some(now);
        if step == Step::Backwards {
            self.clock_stepped_back(now);
        }
        // What a silence took is gone, even if a frame has ended it by now.
        let before = self.shaping;
        self.fall(now);
        if let Some(command) = command {
            self.hear(now, command, settings);
        }
        let wish = self.wish(now, (step, before), settings);
        let (backward, curves) = (self.backward, &settings.parts().curves);
        self.look_around(step, measured, settings);
        let hard = self.hard.ceilings;
        let order = wish.held(
            |half| match half {
                Half::Brake if backward => hard.drive,
                half @ (Half::Drive | Half::Brake) => hard.of(half),
            },
            curves,
            backward,
        );
        Order {
            share: settings.share(order.acceleration),
            backward,
            lock: self.lock,
            reasons: order.reasons,
            feed_watchdog: matches!(
                step,
                // A clock that stands still proves nothing.
                Step::OnTime { elapsed } if elapsed > Duration::ZERO && elapsed <= WATCHDOG_TICK
            ),
        }
    }

    /// When drive will be gone if nothing more is heard; nothing where nothing was.
    #[must_use]
    pub fn silent_at(&self) -> Option<Instant> {
        self.heard.map(|heard| heard.at + GONE_WITHIN)
    }

    /// How many commands of other handhelds were not obeyed.
    #[must_use]
    pub const fn strangers(&self) -> u32 {
        self.strangers
    }

    /// How long the hand has been silent, in microseconds, and what that leaves of the drive.
    fn silence(&self, now: Instant) -> (u32, Ratio) {
        let since = self.heard.and_then(|heard| now.since(heard.at));
        let silent_us = since.map_or(u32::MAX, micros);
        (silent_us, silence::drive_left(silent_us))
    }

    /// Takes from the drive what a silence takes.
    fn fall(&mut self, now: Instant) {
        let (_, left) = self.silence(now);
        if left < Ratio::ONE {
            self.shaping = self.shaping.drive_held(self.held, left, self.backward);
        }
    }

    /// What was heard lies in a future that is no more: it counts as heard now, and drive as lost.
    fn clock_stepped_back(&mut self, now: Instant) {
        self.lock = Lock::Locked { why: LockedBy::ClockSteppedBack };
        if let Some(heard) = &mut self.heard {
            (heard.at, heard.whole_since) = (now, now);
        }
    }

    /// Takes in a command, if it is from the hand that rides.
    fn hear(&mut self, now: Instant, command: &Command, settings: &Settings) {
        let silence = self.heard.and_then(|heard| now.since(heard.at));
        let others =
            self.heard.is_some_and(|heard| heard.command.sender.hand != command.sender.hand);
        if others && silence.is_some_and(|silence| silence <= HAND_KEPT_FOR) {
            self.strangers = self.strangers.saturating_add(1);
            return;
        }
        let started = self.heard.is_some_and(|heard| heard.command.sender != command.sender);
        let silence = silence.map_or(0, micros);
        if started {
            self.lock = Lock::Locked { why: LockedBy::AnotherStart };
        } else if silence > micros(SHORT) && self.lock == Lock::Open {
            self.lock = Lock::Locked { why: LockedBy::Silence };
        }
        let asks = settings.acceleration(command.share);
        let whole = silence <= silence::FALLS_AFTER_US;
        let whole_since =
            self.heard.map_or(now, |heard| if whole { heard.whole_since } else { now });
        if !whole {
            // Two silences with hardly a frame in between are one.
            let last = self.heard.map_or(MetresPerSecondSquared::ZERO, drive_of);
            self.not_above = Some(self.not_above.map_or(last, |most| most.min(last)));
        }
        let settled = now.since(whole_since).is_some_and(|time| time >= WHOLE_AFTER);
        let heard = Heard { at: now, command: *command, asks, whole_since };
        if settled || self.not_above.is_some_and(|most| drive_of(heard) <= most) {
            self.not_above = None;
        }
        // A drive that is still on its way off under a thumb that rests is no rest.
        if command.neutral && drive_of(heard) == MetresPerSecondSquared::ZERO {
            self.lock = Lock::Open;
        }
        self.heard = Some(heard);
    }

    /// What is left of the last command by now, and why no more.
    fn wish(&mut self, now: Instant, (step, before): (Step, Shaping), settings: &Settings) -> Wish {
        let Some(heard) = self.heard else {
            return Wish { acceleration: MetresPerSecondSquared::ZERO, reasons: Reasons::NONE };
        };
        let (silent_us, left) = self.silence(now);
        let long = silent_us > micros(SHORT);
        // Another direction only through nothing; alone the board knows no backwards.
        if self.shaping.is_neutral() {
            self.backward = heard.command.backward && !long;
        }
        let asks = if heard.command.backward == self.backward {
            self.allowed(heard.asks)
        } else {
            MetresPerSecondSquared::ZERO
        };
        let drives = asks > MetresPerSecondSquared::ZERO || self.backward;
        let wish = match (long, drives) {
            (true, _) if self.backward => MetresPerSecondSquared::ZERO,
            (true, _) => -self.own_brake(&heard.command, settings),
            (false, true) if left < Ratio::ONE => MetresPerSecondSquared::ZERO,
            (false, _) => asks,
        };
        let (followed, silent) = settings.board_end(self.backward);
        // A hand that started anew asks for nothing yet: a brake that its last life held is eased off.
        let anew = self.lock == Lock::Locked { why: LockedBy::AnotherStart };
        let eases = anew && wish >= self.shaping.acceleration();
        let rates = if long || eases { silent } else { followed };
        let falls = left < Ratio::ONE && drives && !long;
        if !falls {
            let fallen = self.shaping;
            let felt = fallen.acceleration();
            let less = if self.backward { wish > felt } else { wish < felt };
            self.shaping = if fallen != before && less {
                // What the silence took and what the command takes: the more of both, not their sum.
                let taken = before.after(wish, step.micros(), rates);
                taken.drive_held(fallen.acceleration(), Ratio::ONE, self.backward)
            } else {
                fallen.after(wish, step.micros(), rates)
            };
        }
        if left < Ratio::ONE {
            self.fall(now);
        } else {
            self.held = self.shaping.acceleration();
        }
        let acceleration = self.shaping.acceleration();
        let lost = acceleration.magnitude() < heard.asks.magnitude();
        let reasons = match self.lock {
            _ if left < Ratio::ONE && lost => Reasons::of(Reason::SilentHand),
            Lock::Locked { .. } if lost => Reasons::of(Reason::NotArmed),
            Lock::Open | Lock::Locked { .. } => Reasons::NONE,
        };
        Wish { acceleration, reasons }
    }

    /// What the board brakes with by itself: no more than the pack was last said to take.
    fn own_brake(&self, command: &Command, settings: &Settings) -> MetresPerSecondSquared {
        let parts = settings.parts();
        let left = command.brake_left.held_within(Ratio::ZERO, Ratio::ONE);
        parts.silent_brake.min(parts.curves.brake.greatest().scaled(left))
    }

    /// What of a command's drive is obeyed; a brake always is.
    fn allowed(&self, asks: MetresPerSecondSquared) -> MetresPerSecondSquared {
        // Backwards there is no drive forward, whatever a frame says.
        let asks = if self.backward { asks.min(MetresPerSecondSquared::ZERO) } else { asks };
        let drives = asks > MetresPerSecondSquared::ZERO || self.backward;
        if !drives {
            return asks;
        }
        match (self.lock, self.not_above) {
            (Lock::Locked { .. }, _) => MetresPerSecondSquared::ZERO,
            (Lock::Open, Some(most)) => asks.held_within(-most, most),
            (Lock::Open, None) => asks,
        }
    }

    /// The floor of its own: the pack's voltage and the speed, where the board's end measures them.
    fn look_around(&mut self, step: Step, measured: &Measured, settings: &Settings) {
        let limits = settings.limits();
        let standstill = match measured.speed {
            Some(speed) if !self.backward => limits.standstill(speed),
            Some(_) | None => Ratio::ONE,
        };
        self.hard = self.hard.heard(measured.pack_voltage, &limits.hard).after(
            (standstill, Reason::Standstill),
            step.micros(),
            &limits.hard,
        );
    }
}

/// The drive that a frame asks for, either way; none where it brakes.
fn drive_of(heard: Heard) -> MetresPerSecondSquared {
    if heard.command.backward {
        heard.asks.magnitude()
    } else {
        heard.asks.max(MetresPerSecondSquared::ZERO)
    }
}

/// Microseconds, as many as fit 32 bits.
fn micros(time: Duration) -> u32 {
    u32::try_from(time.to_micros()).unwrap_or(u32::MAX)
}

#[cfg(test)]
mod tests;
