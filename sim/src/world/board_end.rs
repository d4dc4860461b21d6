//! The board's end in the world: the very link and receiver that are flashed, with a watchdog beside
//! them.
//!
//! Used by `world` in each step of the plant. What it puts out is a pulse: while the receiver hangs the
//! last one goes on, which is what a watchdog is for; while it is off there is none, and the motor
//! controller's own timeout is all there is.

use homestretch::link::{BoardLink, Report};
use homestretch::receiver::{Command, Lock, LockedBy, Measured, Order, Receiver};
use homestretch::telemetry::Telemetry;
use homestretch::throttle::Settings;
use homestretch::time::{Duration, Instant};

use super::hand::OWN;
use super::refusals::Refusals;
use super::seal::{Seal, Sessions};
use crate::faults::Power;
use crate::plant::radio::Frame;

/// A watchdog that is not fed for so long resets the receiver. Common practice, no source.
const WATCHDOG_US: u64 = 100_000;

/// It is up again after so long. Common practice, no source.
const BOOT_US: u64 = 300_000;

/// It was started so often before this ride: as good as any number.
const STARTS_BEFORE: u32 = 77;

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
    seal: Seal,
    sessions: Sessions,
    link: Option<BoardLink<Seal>>,
    /// What its links before this one have refused.
    refused: Refusals,
    runs: Runs,
    /// When its watchdog was last fed.
    fed_us: u64,
    /// A hang that the watchdog has ended does not come back by itself.
    bitten: bool,
    /// How often it has started since the ride began.
    starts: u32,
    /// What it last put out.
    order: Option<Order>,
    /// What it last measured, and when.
    measured: Option<(Telemetry, u64)>,
    /// The commands that it has taken since it was last asked for them.
    taken: Vec<(Frame, Command)>,
    /// Whether a demand for drive waits for a neutral thumb after a silence.
    waits: bool,
    lockouts: u32,
}

impl<'b> BoardEnd<'b> {
    /// Just switched on.
    pub(super) fn new(settings: &'b Settings, seal: Seal) -> Self {
        let mut sessions = Sessions::after(STARTS_BEFORE);
        Self {
            settings,
            receiver: Receiver::new(),
            link: link(&seal, &mut sessions),
            refused: Refusals::default(),
            seal,
            sessions,
            runs: Runs::Yes,
            fed_us: 0,
            bitten: false,
            starts: 1,
            order: None,
            measured: None,
            taken: Vec::new(),
            waits: false,
            lockouts: 0,
        }
    }

    /// What it sends of what it has measured by `now_us`; of what it measured last where its motor
    /// controller is `silent`.
    pub(super) fn tell(
        &mut self,
        now_us: u64,
        measured: Option<Telemetry>,
        silent: bool,
    ) -> Option<Frame> {
        if let Some(telemetry) = measured.filter(|_| !silent) {
            self.measured = Some((telemetry, now_us));
        }
        if !matches!(self.runs, Runs::Yes) {
            return None;
        }
        let (telemetry, at_us) = self.measured?;
        let age = Duration::from_micros(now_us - at_us);
        let order = self.order?;
        let report = Report::new(telemetry, age, &order);
        let frame = self.link.as_mut()?.seal(Instant::from_micros(now_us), &report)?;
        Some(Frame::of(&frame))
    }

    /// The commands that were taken since the last call.
    pub(super) fn taken(&self) -> &[(Frame, Command)] {
        &self.taken
    }

    /// Forgets the commands that were taken.
    pub(super) fn forget(&mut self) {
        self.taken.clear();
    }

    /// What it last put out.
    pub(super) const fn order(&self) -> Option<Order> {
        self.order
    }

    /// How often it has started since the ride began.
    pub(super) const fn starts(&self) -> u32 {
        self.starts
    }

    /// What its end of the link has refused.
    pub(super) fn refused(&self) -> Refusals {
        self.refused.and(self.link.as_ref().map(BoardLink::refused))
    }

    /// What it puts out at `now_us`, having heard these frames; nothing where there is no pulse.
    pub(super) fn tick(
        &mut self,
        power: Power,
        now_us: u64,
        frames: &[Frame],
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
        let before = self.taken.len();
        if let Some(link) = &mut self.link {
            let opened = |frame: &Frame| Some((*frame, link.open(now, frame.bytes()).ok()?));
            self.taken.extend(frames.iter().filter_map(opened));
        }
        // Each command has a tick of its own; the first of them is the one that time passes in.
        let commands = self.taken.get(before..).unwrap_or_default();
        let command = commands.first().map(|(_, command)| command);
        let first = self.receiver.tick(now, command, measured, self.settings);
        let order = commands.iter().skip(1).fold(first, |_, (_, command)| {
            self.receiver.tick(now, Some(command), measured, self.settings)
        });
        if first.feed_watchdog {
            self.fed_us = now_us;
        }
        let own = |command: &Command| command.sender.hand == u16::from(OWN);
        let drives = |command: &Command| command.share.to_f64() > 0.0;
        let asks = commands.iter().any(|(_, command)| own(command) && drives(command));
        self.count(&order, asks);
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
                self.refused = self.refused();
                self.link = link(&self.seal, &mut self.sessions);
                self.starts += 1;
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
    fn count(&mut self, order: &Order, asks: bool) {
        let locked = order.lock == Lock::Locked { why: LockedBy::Silence };
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

fn link(seal: &Seal, sessions: &mut Sessions) -> Option<BoardLink<Seal>> {
    Some(BoardLink::with_cipher(seal.clone(), sessions.next()?))
}
