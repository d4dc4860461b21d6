//! What should not happen to a pack or a rider, counted in the truth.
//!
//! Used by `world` after each tick. Looks at the plant, not at what the handheld believes: a limit
//! that the library keeps by its own telemetry may still be broken in truth, and that is the point.
//! A violation counts once for as long as it lasts.

mod carried;
mod laws;
mod violation;

pub use violation::{Violation, Violations};

use homestretch::handheld::Output;
use homestretch::receiver::{Command, Order};

use crate::board_file::BoardFile;
use crate::plant::pack::Pack;
use crate::plant::radio::Frame;
use crate::plant::{Grip, Vehicle};

use super::TICKS_PER_S;
use carried::Carried;
use laws::Laws;
use violation::KINDS;

/// A current beyond its limit by less than this share is the sensor's and the controller's slack.
const CURRENT_SLACK: f64 = 1.05;

/// A group above its highest voltage by less than this is not yet harmed. 4.25 V is the upper limit
/// of IEC 62133-2, annex A (from memory).
const VOLTAGE_SLACK_V: f64 = 0.05;

/// A group differs from the mean one by less than this near full, and by less than that near empty,
/// a weld that let go and all.
const SPREAD_AT_TOP_V: f64 = 0.1;
const SPREAD_AT_BOTTOM_V: f64 = 0.5;

/// Drive under this share of the stop voltage is beyond what telemetry's age explains.
const STOP_SLACK: f64 = 0.95;

/// Drive faster than the top speed by less than this is what wheels and telemetry are off by.
const SPEED_SLACK: f64 = 1.1;

/// Less than this into a cell is no charging to speak of.
const CHARGES_FROM_A: f64 = 0.2;

/// A share that pushes nobody.
const PUSHES_FROM: f64 = 0.02;

/// A board that rolls back faster than this on level ground was driven there.
const BACKWARDS_M_S: f64 = 0.2;
const LEVEL_UNDER: f64 = 0.005;

/// More than this, taken from under a rider's feet within a tenth of a second, is a fall waiting:
/// half an emergency stop at once (common practice, no source).
const JOLT_M_S2: f64 = 1.5;
const JOLT_TICKS: usize = 5;

/// Slower than a walk a rider steps off.
const JOLT_FROM_M_S: f64 = 1.4;

/// What is looked at after a tick.
#[derive(Debug)]
pub(super) struct Scene<'a> {
    pub(super) output: &'a Output,
    pub(super) thumb: f64,
    /// Whether the hand ticked.
    pub(super) hand_lives: bool,
    /// The commands that the board has taken in this tick.
    pub(super) taken: &'a [(Frame, Command)],
    /// What the board's end put out; nothing where there was no pulse.
    pub(super) order: Option<&'a Order>,
    pub(super) pack: &'a Pack,
    pub(super) pack_voltage_V: f64,
    pub(super) pack_current_A: f64,
    pub(super) vehicle: &'a Vehicle,
    /// What the motors do to the board.
    pub(super) push_m_s2: f64,
    /// Uphill positive.
    pub(super) grade: f64,
}

/// The limits, and for how long each has been broken.
#[derive(Clone, Debug)]
pub(super) struct Watch {
    stop_V: f64,
    top_speed_m_s: f64,
    most_out_A: f64,
    most_in_A: f64,
    charges_from_A: f64,
    series: f64,
    lowest_V: f64,
    highest_V: f64,
    broken_for: [u32; KINDS],
    broken_before: u32,
    laws: Laws,
    group_over: bool,
    group_under: bool,
    ticks: u32,
    /// The last accelerations and thumbs, newest at `ticks`.
    felt_m_s2: [f64; JOLT_TICKS],
    thumbs: [f64; JOLT_TICKS],
    rolled_for: u32,
    /// What each hand has sent, by its number, and what the board has.
    commands: [Carried; 2],
    telemetry: Carried,
    /// Strangers that were believed since the last look, a bit for each kind.
    strange: u32,
    violations: Violations,
}

impl Watch {
    /// The limits of a board, nothing broken yet.
    pub(super) fn new(file: &BoardFile) -> Self {
        let (cell, pack) = (file.board.cell(), file.board.pack());
        let limits = &file.throttle.parts().limits;
        let parallel = f64::from(pack.parallel);
        Self {
            stop_V: pack.stop_below.to_f64(),
            top_speed_m_s: limits.top_speed.end.to_f64(),
            most_out_A: cell.max_discharge.to_f64() * parallel,
            most_in_A: limits.brake.charge_current.to_f64(),
            charges_from_A: CHARGES_FROM_A * parallel,
            series: f64::from(pack.series),
            lowest_V: cell.lowest.to_f64(),
            highest_V: cell.highest.to_f64(),
            broken_for: [0; KINDS],
            broken_before: 0,
            laws: Laws::new(&file.throttle),
            group_over: false,
            group_under: false,
            ticks: 0,
            felt_m_s2: [0.0; JOLT_TICKS],
            thumbs: [0.0; JOLT_TICKS],
            rolled_for: 0,
            commands: Default::default(),
            telemetry: Carried::default(),
            strange: 0,
            violations: Violations::default(),
        }
    }

    /// The hand of this number sends.
    pub(super) fn hand_sends(&mut self, hand: u8, frame: Frame) {
        if let Some(commands) = self.commands.get_mut(usize::from(hand)) {
            commands.send(self.ticks, frame);
        }
    }

    /// The board sends.
    pub(super) fn board_sends(&mut self, frame: Frame) {
        self.telemetry.send(self.ticks, frame);
    }

    /// The hand that rides believes this.
    pub(super) fn hand_takes(&mut self, frame: &Frame) {
        if !self.telemetry.take(self.ticks, frame) {
            self.strange |= Violation::StrangerBelieved.bit();
        }
    }

    /// The hand that rides has started anew: what was for its life before is over. What it sent in that
    /// life is over once the board has heard the new one.
    pub(super) fn hand_starts(&mut self) {
        self.telemetry.forget();
    }

    /// The board has started anew.
    pub(super) fn board_starts(&mut self) {
        self.commands.iter_mut().for_each(Carried::forget);
        self.telemetry.forget();
    }

    /// Holds what the board took against what was sent.
    fn strangers(&mut self, taken: &[(Frame, Command)]) -> u32 {
        for (frame, command) in taken {
            let sent = self.commands.get_mut(usize::from(command.sender.hand));
            if !sent.is_some_and(|sent| sent.take(self.ticks, frame)) {
                self.strange |= Violation::StrangerObeyed.bit();
            }
        }
        std::mem::take(&mut self.strange)
    }

    /// What was broken, how often.
    pub(super) const fn violations(&self) -> &Violations {
        &self.violations
    }

    /// Looks at a tick.
    pub(super) fn look(&mut self, scene: &Scene<'_>) {
        // A group changes little within a tenth of a second, and asking all of them costs.
        if self.ticks.is_multiple_of(5) {
            self.look_at_groups(scene);
        }
        let (jolt, strange) = (self.jolt(scene), self.strangers(scene.taken));
        self.ticks = self.ticks.wrapping_add(1);
        let broken = self.broken(scene, jolt) | self.laws.broken(scene) | strange;
        // As a rule nothing is broken and nothing was.
        if broken == 0 && self.broken_before == 0 {
            return;
        }
        self.broken_before = broken;
        for (at, kind) in Violation::ALL.into_iter().enumerate() {
            let Violations { counts, ticks } = &mut self.violations;
            let sums = counts.get_mut(at).zip(ticks.get_mut(at));
            if let Some((held, (count, ticks))) = self.broken_for.get_mut(at).zip(sums) {
                let is_broken = broken & kind.bit() != 0;
                *held = if is_broken { held.saturating_add(1) } else { 0 };
                *count += u32::from(*held == kind.ticks());
                *ticks += u64::from(*held >= kind.ticks());
            }
        }
    }

    /// No group is that far from the mean one, so that none needs to be asked in mid-voltage.
    fn look_at_groups(&mut self, scene: &Scene<'_>) {
        let mean_V = scene.pack_voltage_V / self.series;
        let far = self.lowest_V + SPREAD_AT_BOTTOM_V < mean_V
            && mean_V < self.highest_V + VOLTAGE_SLACK_V - SPREAD_AT_TOP_V;
        if far && !(self.group_over || self.group_under) {
            return;
        }
        let (lowest_V, highest_V) = scene.pack.group_voltages_V();
        self.group_over = highest_V > self.highest_V + VOLTAGE_SLACK_V;
        self.group_under = lowest_V < self.lowest_V;
    }

    /// What is broken in this very tick, a bit for each kind.
    fn broken(&self, scene: &Scene<'_>, jolt: bool) -> u32 {
        let drives = scene.output.demand.share.to_f64() > PUSHES_FROM;
        let (speed_m_s, charging_A) = (scene.vehicle.speed_m_s(), -scene.pack_current_A);
        let bit = |kind: Violation, broken: bool| if broken { kind.bit() } else { 0 };
        bit(
            Violation::DriveUnderStopVoltage,
            drives && scene.pack_voltage_V < self.stop_V * STOP_SLACK,
        )
            | bit(
                Violation::DriveOverTopSpeed,
                drives && speed_m_s > self.top_speed_m_s * SPEED_SLACK,
            )
            | bit(
                Violation::DischargeOverLimit,
                scene.pack_current_A > self.most_out_A * CURRENT_SLACK,
            )
            | bit(Violation::ChargeOverLimit, charging_A > self.most_in_A * CURRENT_SLACK)
            | bit(
                Violation::ChargeBelowFreezing,
                charging_A > self.charges_from_A && scene.pack.cell_temperature_degC() < 0.0,
            )
            | bit(Violation::CellOverVoltage, self.group_over)
            | bit(Violation::CellUnderVoltage, self.group_under)
            // On a slope a board without drive rolls back by itself.
            | bit(
                Violation::Backwards,
                speed_m_s < -BACKWARDS_M_S && scene.grade < LEVEL_UNDER,
            )
            | bit(Violation::Jolt, jolt)
    }

    /// Whether the push changed at once under a still thumb on a rolling wheel.
    fn jolt(&mut self, scene: &Scene<'_>) -> bool {
        let slot = usize::try_from(self.ticks).unwrap_or(0) % JOLT_TICKS;
        let felt_m_s2 = scene.push_m_s2;
        let (mut before_m_s2, mut thumb) = (felt_m_s2, scene.thumb);
        if let Some((felt, moved)) = self.felt_m_s2.get_mut(slot).zip(self.thumbs.get_mut(slot)) {
            before_m_s2 = std::mem::replace(felt, felt_m_s2);
            thumb = std::mem::replace(moved, scene.thumb);
        }
        let rolls = matches!(scene.vehicle.grip(), Grip::Rolling);
        self.rolled_for = if rolls { self.rolled_for.saturating_add(1) } else { 0 };
        let still = (thumb - scene.thumb).abs() < 0.05;
        let moves = scene.vehicle.speed_m_s() > JOLT_FROM_M_S;
        still
            && moves
            && self.rolled_for > TICKS_PER_S
            && (felt_m_s2 - before_m_s2).abs() > JOLT_M_S2
    }
}
