//! The laws of throttle and receiver, held against every tick of a ride.
//!
//! Used by `watch`. Looks at what hand and board put out and at what was heard, with bounds that are
//! worked out here from the board's settings and not asked of the library.

use homestretch::receiver::{Command, Order, Sender};
use homestretch::throttle::Settings;

use super::super::TICKS_PER_S;
use super::super::hand::OWN;
use super::violation::Violation;
use super::{PUSHES_FROM, Scene};
use crate::plant::radio::Frame;

/// A tick.
const TICK_S: f64 = 0.02;

/// Ticks after the last command until drive has to be zero: one more would be later than 250 ms.
const SILENT_TICKS: u32 = 12;

/// More ticks than this without a command are a long silence: over a second.
const LONG_TICKS: u32 = TICKS_PER_S;

/// Ticks in which the hand's drive goes once its sensor reads neutral: 0.3 s and one for rounding.
const GONE_TICKS: u32 = 16;

/// Ticks after which a brake that was asked for is there: 0.3 s for drive to go, 0.75 s for whatever
/// brake there was to become another, and a little.
const BRAKE_TICKS: u32 = 55;

/// In a silence what was held goes within this, in seconds; hard limits take all in half a second.
const SILENCE_TAKES_S: f64 = 0.15;
const HARD_TAKES_S: f64 = 0.5;

/// What rounding may add to a rate over a tick, m/s².
const SLACK_M_S2: f64 = 2e-3;

/// The bounds of a board, in m/s² and m/s³.
#[derive(Clone, Copy, Debug)]
struct Bounds {
    full_m_s2: f64,
    drive_on_m_s3: f64,
    drive_off_m_s3: f64,
    brake_on_m_s3: f64,
    brake_off_m_s3: f64,
    pause_ticks: u32,
}

/// What was seen so far.
#[derive(Clone, Debug)]
pub(super) struct Laws {
    settings: Settings,
    bounds: Bounds,
    /// What the board's end asked of the motors in the tick before: drive positive. Nothing where there
    /// was no pulse.
    felt_m_s2: Option<f64>,
    since_brake: u32,
    silent_for: u32,
    sender: Option<Sender>,
    needs_neutral: bool,
    /// Ticks since a neutral thumb is needed: drive that was on may go in its time.
    needed_for: u32,
    neutral_for: u32,
    asked: f64,
    asked_for: u32,
}

impl Laws {
    /// Before the first tick.
    pub(super) fn new(settings: &Settings) -> Self {
        let parts = settings.parts();
        let (drive, brake) =
            (parts.curves.drive.greatest().to_f64(), parts.curves.brake.greatest().to_f64());
        let rates = &parts.rates;
        let off_s = rates.drive_off_within.to_millis() as f64 / 1000.0;
        let bounds = Bounds {
            full_m_s2: parts.full_current_acceleration.to_f64(),
            drive_on_m_s3: rates.drive_on.to_f64(),
            // The board's end follows at twice the rate, and drive never goes slower than it comes.
            drive_off_m_s3: (2.0 * (drive / off_s).max(rates.drive_on.to_f64()))
                .max(drive / SILENCE_TAKES_S)
                .max(drive / HARD_TAKES_S),
            brake_on_m_s3: rates.brake_on.to_f64(),
            brake_off_m_s3: rates.brake_off.to_f64().max(brake / HARD_TAKES_S),
            pause_ticks: whole_ticks(rates.pause.to_millis()),
        };
        Self {
            settings: *settings,
            bounds,
            felt_m_s2: None,
            since_brake: u32::MAX,
            silent_for: u32::MAX,
            sender: None,
            needs_neutral: true,
            needed_for: SILENT_TICKS,
            neutral_for: 0,
            asked: 0.0,
            asked_for: 0,
        }
    }

    /// What is broken in this tick, a bit for each kind.
    pub(super) fn broken(&mut self, scene: &Scene<'_>) -> u32 {
        let bit = |kind: Violation, broken: bool| if broken { kind.bit() } else { 0 };
        self.hear(scene.taken, scene.order);
        self.needed_for = if self.needs_neutral { self.needed_for.saturating_add(1) } else { 0 };
        let felt_m_s2 = scene.order.map(|order| self.felt(order));
        let drives = felt_m_s2.is_some_and(|felt| felt > PUSHES_FROM * self.bounds.full_m_s2);
        let rates = self.rates(felt_m_s2);
        // Drive that was on may go in its time; it may not come.
        let rises =
            self.felt_m_s2.zip(felt_m_s2).is_some_and(|(before, felt)| felt > before + SLACK_M_S2);
        let broken = bit(Violation::DriveInSilence, drives && self.silent_for >= SILENT_TICKS)
            | bit(
                Violation::DriveBeforeNeutral,
                drives && (self.needed_for > SILENT_TICKS || self.needs_neutral && rises),
            )
            | bit(Violation::DriveAgainstRider, drives && scene.thumb <= 0.0)
            | bit(Violation::DriveTooSoon, drives && self.since_brake < self.bounds.pause_ticks)
            | rates
            | self.hand(scene);
        let brakes = felt_m_s2.is_some_and(|felt| felt < 0.0);
        self.since_brake = if brakes { 0 } else { self.since_brake.saturating_add(1) };
        self.felt_m_s2 = felt_m_s2;
        broken
    }

    /// What the commands of the hand that rides say about silence and neutral.
    fn hear(&mut self, taken: &[(Frame, Command)], order: Option<&Order>) {
        let own = |command: &&Command| command.sender.hand == u16::from(OWN);
        let mut heard = false;
        for command in taken.iter().map(|(_, command)| command).filter(own) {
            heard = true;
            let another = self.sender.is_some_and(|sender| sender != command.sender);
            let long = self.silent_for >= LONG_TICKS;
            self.needs_neutral |= another || long || order.is_none();
            let rests = command.neutral && command.share.to_f64() <= 0.0;
            self.needs_neutral &= !(rests && order.is_some());
            self.silent_for = 0;
            self.sender = Some(command.sender);
        }
        if !heard {
            self.silent_for = self.silent_for.saturating_add(1);
            self.needs_neutral |= order.is_none();
        }
    }

    fn felt(&self, order: &Order) -> f64 {
        order.share.to_f64() * self.bounds.full_m_s2
    }

    /// Where pulses come and go altogether there is no rate to be kept: the motor controller's own
    /// timeout acts then.
    fn rates(&self, felt_m_s2: Option<f64>) -> u32 {
        let Some((before, after)) = self.felt_m_s2.zip(felt_m_s2) else { return 0 };
        let most = |rate_m_s3: f64| rate_m_s3 * TICK_S + SLACK_M_S2;
        let drive = after.max(0.0) - before.max(0.0);
        let brake = before.min(0.0) - after.min(0.0);
        let Bounds { drive_on_m_s3, drive_off_m_s3, brake_on_m_s3, brake_off_m_s3, .. } =
            self.bounds;
        [
            (Violation::DriveOnTooFast, drive > most(drive_on_m_s3)),
            (Violation::DriveOffTooFast, -drive > most(drive_off_m_s3)),
            (Violation::BrakeOnTooFast, brake > most(brake_on_m_s3)),
            (Violation::BrakeOffTooFast, -brake > most(brake_off_m_s3)),
        ]
        .into_iter()
        .fold(0, |bits, (kind, broken)| if broken { bits | kind.bit() } else { bits })
    }

    /// What the hand asks for by what its own sensor reads.
    fn hand(&mut self, scene: &Scene<'_>) -> u32 {
        if !scene.hand_lives {
            (self.neutral_for, self.asked_for) = (0, 0);
            return 0;
        }
        let demand = &scene.output.demand;
        let asked = demand.asked.to_f64();
        self.neutral_for = if asked <= 0.0 { self.neutral_for.saturating_add(1) } else { 0 };
        let still = (asked - self.asked).abs() < 0.01;
        self.asked_for = if still { self.asked_for.saturating_add(1) } else { 0 };
        if !still {
            self.asked = asked;
        }
        let drives = demand.share.to_f64() > PUSHES_FROM;
        let mut broken = 0;
        if drives && self.neutral_for > GONE_TICKS {
            broken |= Violation::DriveAtNeutralThumb.bit();
        }
        let settled = asked < 0.0 && self.asked_for > BRAKE_TICKS;
        if settled && demand.armed.is_armed() && !demand.backward && demand.reasons.is_empty() {
            let curve = self.settings.parts().curves.brake;
            // What the thumb asked for at the weakest since it came to rest.
            let least = homestretch::units::Ratio::from_f64((-asked - 0.01).max(0.0));
            let wanted = least.map_or(0.0, |least| curve.acceleration(least).to_f64());
            if -demand.acceleration.to_f64() < wanted - SLACK_M_S2 {
                broken |= Violation::BrakeWeakened.bit();
            }
        }
        broken
    }
}

/// Whole ticks in so many milliseconds, less the one in which a brake ends.
fn whole_ticks(millis: u64) -> u32 {
    u32::try_from(millis / 20).unwrap_or(0).saturating_sub(1)
}
