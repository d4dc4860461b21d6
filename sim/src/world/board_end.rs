//! The board's end in the world: the very receiver that is flashed, with a watchdog beside it.
//!
//! Used by `world` in each step of the plant. What it puts out is a pulse: while the receiver hangs the
//! last one goes on, which is what a watchdog is for; while it is off there is none, and the motor
//! controller's own timeout is all there is.

use homestretch::receiver::{Command, Lock, LockedBy, Measured, Order, Receiver};
use homestretch::throttle::Settings;
use homestretch::time::Instant;

use crate::faults::Power;

/// A watchdog that is not fed for so long resets the receiver. Common practice, no source.
const WATCHDOG_US: u64 = 100_000;

/// It is up again after so long. Common practice, no source.
const BOOT_US: u64 = 300_000;

/// Whether the receiver runs.
#[derive(Clone, Copy, Debug)]
enum Runs {
    /// It does.
    Yes,
    /// It hangs; its pulse goes on.
    Hangs,
    /// It is off, or has been reset, and is up again then; nothing where it is kept off.
    OffUntil(Option<u64>),
}

/// A receiver and its watchdog.
#[derive(Clone, Debug)]
pub(super) struct BoardEnd<'b> {
    settings: &'b Settings,
    receiver: Receiver,
    runs: Runs,
    /// When its watchdog was last fed.
    fed_us: u64,
    /// A hang that the watchdog has ended does not come back by itself.
    bitten: bool,
    /// What it last put out.
    order: Option<Order>,
    /// Whether a demand for drive waits for a neutral thumb after a silence.
    waits: bool,
    lockouts: u32,
}

impl<'b> BoardEnd<'b> {
    /// Just switched on.
    pub(super) fn new(settings: &'b Settings) -> Self {
        Self {
            settings,
            receiver: Receiver::new(),
            runs: Runs::Yes,
            fed_us: 0,
            bitten: false,
            order: None,
            waits: false,
            lockouts: 0,
        }
    }

    /// What it puts out at `now_us`; nothing where there is no pulse.
    pub(super) fn tick(
        &mut self,
        power: Power,
        now_us: u64,
        command: Option<&Command>,
        measured: &Measured,
    ) -> Option<Order> {
        self.runs = self.runs_now(power, now_us);
        match self.runs {
            Runs::Hangs => return self.order,
            Runs::OffUntil(_) => {
                self.order = None;
                return None;
            }
            Runs::Yes => {}
        }
        let now = Instant::from_micros(now_us);
        let order = self.receiver.tick(now, command, measured, self.settings);
        if order.feed_watchdog {
            self.fed_us = now_us;
        }
        self.count(&order, command);
        self.order = Some(order);
        self.order
    }

    fn runs_now(&mut self, power: Power, now_us: u64) -> Runs {
        self.bitten &= power == Power::Hangs;
        match (self.runs, power) {
            (_, Power::Off) => Runs::OffUntil(None),
            (Runs::OffUntil(None), _) => Runs::OffUntil(Some(now_us + BOOT_US)),
            (Runs::OffUntil(Some(up_us)), _) if now_us < up_us => self.runs,
            (Runs::OffUntil(Some(_)), _) => {
                self.receiver = Receiver::new();
                self.fed_us = now_us;
                Runs::Yes
            }
            (Runs::Yes | Runs::Hangs, _) if now_us - self.fed_us >= WATCHDOG_US => {
                self.bitten = true;
                Runs::OffUntil(Some(now_us + BOOT_US))
            }
            (Runs::Yes | Runs::Hangs, Power::Hangs) if !self.bitten => Runs::Hangs,
            (Runs::Yes | Runs::Hangs, Power::On | Power::Hangs) => Runs::Yes,
        }
    }

    /// Counts the times that a silence has left a demand for drive waiting for a neutral thumb.
    fn count(&mut self, order: &Order, command: Option<&Command>) {
        let locked = order.lock == Lock::Locked { why: LockedBy::Silence };
        let asks = command.is_some_and(|command| command.share.to_f64() > 0.0);
        if locked && asks && !self.waits {
            self.lockouts += 1;
        }
        self.waits = locked && (self.waits || asks);
    }

    /// How often a demand for drive had to wait for a neutral thumb after a silence.
    pub(super) const fn lockouts(&self) -> u32 {
        self.lockouts
    }
}
