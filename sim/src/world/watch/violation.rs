//! The kinds of what should not happen, and how often and for how long each did.

use super::super::TICKS_PER_S;

/// One kind of what should not happen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Violation {
    /// Drive from the board's end a quarter of a second after the last command was heard.
    DriveInSilence,
    /// Drive from the board's end after a start or a long silence, and before a neutral thumb.
    DriveBeforeNeutral,
    /// Drive that the hand asks for 0.3 s after what its sensor reads came to rest.
    DriveAtNeutralThumb,
    /// Drive from the board's end for a second while the rider's own thumb is at rest or brakes,
    /// whatever the sensor reads.
    DriveAgainstRider,
    /// Drive came sooner after a brake than the pause allows.
    DriveTooSoon,
    /// Drive came faster than its rate.
    DriveOnTooFast,
    /// Drive went faster than any rate, limit or silence takes it.
    DriveOffTooFast,
    /// A brake came faster than its rate.
    BrakeOnTooFast,
    /// A brake went faster than any rate or limit takes it.
    BrakeOffTooFast,
    /// A brake that was asked for was weaker than asked, and no reason was named.
    BrakeWeakened,
    /// Drive asked for two seconds with the pack under its stop voltage.
    DriveUnderStopVoltage,
    /// Drive asked for a second above the top speed.
    DriveOverTopSpeed,
    /// More current out of the pack than its cells give, for a second.
    DischargeOverLimit,
    /// More current into the pack than it takes, for a second.
    ChargeOverLimit,
    /// Current into cells below freezing, for a second.
    ChargeBelowFreezing,
    /// A group above its highest voltage, for a second.
    CellOverVoltage,
    /// A group below its lowest voltage, for a second.
    CellUnderVoltage,
    /// The board was driven backwards.
    Backwards,
    /// The push changed at once under a still thumb.
    Jolt,
    /// The board took a command that no hand of its key sent, or took it twice, or late, or after one
    /// that was sent later.
    StrangerObeyed,
    /// The hand took telemetry that its board did not send, or the same.
    StrangerBelieved,
}

impl Violation {
    /// All kinds.
    pub const ALL: [Self; 21] = [
        Self::DriveInSilence,
        Self::DriveBeforeNeutral,
        Self::DriveAtNeutralThumb,
        Self::DriveAgainstRider,
        Self::DriveTooSoon,
        Self::DriveOnTooFast,
        Self::DriveOffTooFast,
        Self::BrakeOnTooFast,
        Self::BrakeOffTooFast,
        Self::BrakeWeakened,
        Self::DriveUnderStopVoltage,
        Self::DriveOverTopSpeed,
        Self::DischargeOverLimit,
        Self::ChargeOverLimit,
        Self::ChargeBelowFreezing,
        Self::CellOverVoltage,
        Self::CellUnderVoltage,
        Self::Backwards,
        Self::Jolt,
        Self::StrangerObeyed,
        Self::StrangerBelieved,
    ];

    /// What a table or a file calls it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::DriveInSilence => "drive_in_silence",
            Self::DriveBeforeNeutral => "drive_before_neutral",
            Self::DriveAtNeutralThumb => "drive_at_neutral_thumb",
            Self::DriveAgainstRider => "drive_against_rider",
            Self::DriveTooSoon => "drive_too_soon",
            Self::DriveOnTooFast => "drive_on_too_fast",
            Self::DriveOffTooFast => "drive_off_too_fast",
            Self::BrakeOnTooFast => "brake_on_too_fast",
            Self::BrakeOffTooFast => "brake_off_too_fast",
            Self::BrakeWeakened => "brake_weakened",
            Self::DriveUnderStopVoltage => "drive_under_stop_voltage",
            Self::DriveOverTopSpeed => "drive_over_top_speed",
            Self::DischargeOverLimit => "discharge_over_limit",
            Self::ChargeOverLimit => "charge_over_limit",
            Self::ChargeBelowFreezing => "charge_below_freezing",
            Self::CellOverVoltage => "cell_over_voltage",
            Self::CellUnderVoltage => "cell_under_voltage",
            Self::Backwards => "backwards",
            Self::Jolt => "jolt",
            Self::StrangerObeyed => "stranger_obeyed",
            Self::StrangerBelieved => "stranger_believed",
        }
    }

    /// Its place among the bits of what is broken.
    pub(super) const fn bit(self) -> u32 {
        1 << (self as u32)
    }

    /// Ticks that it has to last.
    pub(super) const fn ticks(self) -> u32 {
        match self {
            Self::DriveUnderStopVoltage => 2 * TICKS_PER_S,
            Self::DriveAgainstRider
            | Self::DriveOverTopSpeed
            | Self::DischargeOverLimit
            | Self::ChargeOverLimit
            | Self::ChargeBelowFreezing
            | Self::CellOverVoltage
            | Self::CellUnderVoltage => TICKS_PER_S,
            Self::Backwards => 10,
            // What lasts long enough is part of what they are.
            Self::DriveInSilence
            | Self::DriveBeforeNeutral
            | Self::DriveAtNeutralThumb
            | Self::DriveTooSoon
            | Self::DriveOnTooFast
            | Self::DriveOffTooFast
            | Self::BrakeOnTooFast
            | Self::BrakeOffTooFast
            | Self::BrakeWeakened
            | Self::Jolt
            | Self::StrangerObeyed
            | Self::StrangerBelieved => 1,
        }
    }
}

pub(super) const KINDS: usize = Violation::ALL.len();

/// How often each kind happened, and for how long.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Violations {
    pub(super) counts: [u32; KINDS],
    /// Ticks from the moment that each began to count.
    pub(super) ticks: [u64; KINDS],
}

impl Violations {
    /// Each kind with its count, those that never happened as well.
    pub fn iter(&self) -> impl Iterator<Item = (Violation, u32)> {
        Violation::ALL.into_iter().zip(self.counts)
    }

    /// Each kind with the seconds that it lasted, beyond those that it takes to count.
    pub fn seconds(&self) -> impl Iterator<Item = (Violation, f64)> {
        Violation::ALL.into_iter().zip(self.ticks).map(|(kind, ticks)| (kind, seconds(ticks)))
    }

    /// How often it happened.
    #[must_use]
    pub fn count(&self, violation: Violation) -> u32 {
        self.iter().find(|(kind, _)| *kind == violation).map_or(0, |(_, count)| count)
    }

    /// All of both.
    #[must_use]
    pub fn and(mut self, other: &Self) -> Self {
        for (count, more) in self.counts.iter_mut().zip(other.counts) {
            *count = count.saturating_add(more);
        }
        for (ticks, more) in self.ticks.iter_mut().zip(other.ticks) {
            *ticks = ticks.saturating_add(more);
        }
        self
    }

    /// All kinds together.
    #[must_use]
    pub fn total(&self) -> u32 {
        self.counts.iter().fold(0, |sum: u32, &count| sum.saturating_add(count))
    }
}

#[allow(clippy::cast_precision_loss, reason = "ticks of a campaign lie far below 2^53")]
fn seconds(ticks: u64) -> f64 {
    ticks as f64 / f64::from(TICKS_PER_S)
}
