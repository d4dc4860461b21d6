//! The slow limits: what pack, motors, speed and silence leave of drive and brake.
//!
//! Before shaping, so they are felt as a softer board and never as a blow. Looked up when telemetry
//! comes, and kept until the next ([`Outlook`]); what age takes is looked up in each tick. Those that
//! look at the pack move at a rate of their own on top; the top speed doesn't need one, because a speed
//! cannot jump. The one at standstill is told here and acts in `hard`. Settings: `limit_settings`.
//!
//! A brake works by charging. It is held to the current that the pack takes, down to none, and where
//! what is left would not stop the board within its stated distance, the speed is held beforehand
//! (`stopping`): a rider who leans into a brake that vanishes falls.

use super::ceilings::{Ceiling, CeilingRates, Ceilings};
use super::direction::Motion;
use super::hard::HardLimits;
use super::pace::Pace;
use super::ramp::Ramp;
use super::rate::Rate;
use super::reasons::{Reason, Reasons};
use super::stopping::Stopping;
use crate::math::{narrow, scale};
use crate::time::Duration;
use crate::units::{Amperes, Celsius, MetresPerSecond, Ratio, Volts};

/// How fast the pack's limits move, from all to nothing or back. Drive that is taken in a second
/// is 1.6 m/s³ of 1.6 m/s², near the 1.5 m/s³ of AS 3860 for guided vehicles (second hand) and a third
/// of what letting go does; it comes back half as fast, so that a pack that recovers as soon as it
/// is left alone does not make the board surge. Common practice, no source, beyond that.
pub(super) const PACE: CeilingRates = CeilingRates {
    drive_falls: Rate::all_within(1000),
    drive_rises: Rate::all_within(2000),
    brake_falls: Rate::all_within(1000),
    brake_rises: Rate::all_within(1000),
};

/// What a frame of telemetry says of the board.
///
/// Missing values: without a voltage, drive is held as for data that has just gone stale; without
/// a temperature, a current or a speed, the limits that look at it do not act (many packs have no
/// such sensor), and the brake is held as for the greatest speed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Conditions {
    /// The voltage of the whole pack, under whatever load there is.
    pub pack_voltage: Option<Volts>,
    /// The current out of the pack, discharge positive.
    pub pack_current: Option<Amperes>,
    /// The temperature of the cells.
    pub cell_temperature: Option<Celsius>,
    /// The temperature of the hottest motor.
    pub motor_temperature: Option<Celsius>,
    /// The temperature of the motor controller.
    pub controller_temperature: Option<Celsius>,
    /// The likely state of charge, 0 to 1.
    pub charge: Ratio,
    /// The upper bound of the state of charge, 0 to 1: how full the pack may be.
    pub charge_high: Ratio,
    /// The speed, forward positive.
    pub speed: Option<MetresPerSecond>,
}

/// [`super::LimitSettings`] that make sense, prepared. Made by [`Limits::new`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Limits {
    pub(super) sagging: Ramp,
    pub(super) discharge_current: Ramp,
    pub(super) cold_pack: Option<Ramp>,
    pub(super) hot_pack: Option<Ramp>,
    pub(super) hot_motor: Ramp,
    pub(super) hot_controller: Ramp,
    pub(super) reserve: Ramp,
    /// The share of the top speed.
    pub(super) reserve_speed: Ramp,
    pub(super) taper: Ramp,
    pub(super) push_start: Option<Ramp>,
    pub(super) nearly_full: Ramp,
    pub(super) near_full_voltage: Ramp,
    pub(super) cold_charge: Ramp,
    pub(super) hot_charge: Ramp,
    /// Between these two none of the four limits by temperature acts: most of the year two
    /// comparisons instead of four look-ups.
    pub(super) coldest_free: Celsius,
    pub(super) hottest_free: Celsius,
    pub(super) standstill: Ramp,
    pub(super) backward: Ramp,
    pub(super) stale_soften: Ramp,
    pub(super) stale_stop: Ramp,
    pub(super) stale_brake: Ramp,
    pub(super) stale_drive: Ratio,
    pub(super) stale_brake_left: Ratio,
    pub(super) stopping: Stopping,
    pub(crate) hard: HardLimits,
    pub(super) top_speed: MetresPerSecond,
    /// 2^24 over the width of the band below any top speed, in `2^-16` m/s, with 8 more bits.
    pub(super) per_speed_band: i32,
    /// Up to this age a speed is believed.
    pub(super) fresh_until: Duration,
}

/// How the board is being ridden.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Riding {
    /// The pace that holds.
    pub pace: Pace,
    /// The speed that the board may go by now, on its slow way to a new one.
    pub limit: MetresPerSecond,
    /// What a speed limit of this pace is called.
    pub why: Reason,
    /// Whether the brake's half of the thumb drives backwards.
    pub backward: bool,
}

/// What a frame of telemetry means for drive and brake, until the next one comes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Outlook {
    /// What the pack and the motors leave.
    pub by_pack: Ceilings,
    /// What the speed leaves of drive.
    pub by_speed: Ceiling,
    /// What the speed leaves of a brake, nothing at standstill; riding backwards, of drive backwards.
    pub brake_by_speed: Ratio,
    /// The share of the drive curve: the pace's, tapered by speed.
    pub drive: Ratio,
    /// The speed that the board may go.
    pub speed_limit: MetresPerSecond,
    /// How the board moves.
    pub motion: Motion,
}

impl Outlook {
    /// Nothing has been heard yet: the limits by silence are all there is.
    pub(super) const NOTHING_HEARD: Self = Self {
        by_pack: Ceilings::OPEN,
        by_speed: Ceiling::OPEN,
        brake_by_speed: Ratio::ONE,
        drive: Ratio::ONE,
        speed_limit: MetresPerSecond::ZERO,
        motion: Motion::Unknown,
    };
}

impl Limits {
    /// What `conditions` leave in a pace, before any rate.
    ///
    /// Laws: drive never grows as the voltage falls or as current, temperature of motors or controller
    /// and speed rise; brake never grows as the charge or the speed rises or the cells leave their
    /// charging temperatures.
    #[must_use]
    pub fn outlook(&self, conditions: &Conditions, riding: &Riding) -> Outlook {
        let Riding { pace, limit, why, backward } = *riding;
        let charging = self.charging(conditions);
        let by_brake = self.stopping.speed(charging.share);
        let wanted = pace.top_speed.min(self.top_speed);
        let of_speed =
            |ramp: &Ramp| conditions.speed.map_or(Ratio::ONE, |speed| ramp.at(speed.magnitude()));
        let taper = of_speed(&self.taper);
        let by_reserve = self.top_speed.scaled(self.reserve_speed.at(conditions.charge));
        let why = if by_brake < wanted.min(by_reserve) {
            Reason::WeakBrake
        } else if by_reserve < wanted {
            Reason::Reserve
        } else {
            why
        };
        Outlook {
            by_pack: Ceilings {
                drive: self.drive_by_pack(conditions),
                brake: self.brake_by_pack(conditions, charging, limit),
            },
            by_speed: self.by_speed(conditions.speed, limit, why),
            brake_by_speed: if backward {
                conditions.speed.map_or(Ratio::ZERO, |speed| self.backward.at(-speed))
            } else {
                of_speed(&self.standstill)
            },
            drive: if pace.drive >= Ratio::ONE { taper } else { pace.drive.scaled(taper) },
            speed_limit: wanted.min(by_brake).min(by_reserve),
            motion: conditions.speed.map_or(Motion::Unknown, Motion::of),
        }
    }

    /// `ceilings`, and what is left of them where all that is known is as old as `age`; nothing is
    /// older than what was never heard.
    ///
    /// Laws: never more as data ages; the brake keeps the share that is stated for stale data, or
    /// what it had.
    #[must_use]
    pub fn by_age(&self, ceilings: Ceilings, age: Option<Duration>) -> Ceilings {
        match age {
            Some(age) if age <= self.fresh_until => ceilings,
            Some(age) => ceilings
                .drive_held(self.stale_drive(age), Reason::StaleTelemetry)
                .brake_held(self.stale_brake.at(age), Reason::StaleTelemetry),
            None => ceilings
                .drive_held(Ratio::ZERO, Reason::StaleTelemetry)
                .brake_held(self.stale_brake_left, Reason::StaleTelemetry),
        }
    }

    /// Whether something so old is still believed of what changes fast.
    pub(super) fn is_fresh(&self, age: Option<Duration>) -> bool {
        age.is_some_and(|age| age <= self.fresh_until)
    }

    /// The share of braking, 0 to 1, that a speed leaves: nothing at standstill. Rolling backwards is
    /// moving too: a brake works there as well.
    #[must_use]
    pub fn standstill(&self, speed: MetresPerSecond) -> Ratio {
        self.standstill.at(speed.magnitude())
    }

    /// The share of its greatest charging current that the pack takes, and why no more.
    fn charging(&self, conditions: &Conditions) -> Ceiling {
        let charging = Ceiling::OPEN
            .lowered(self.nearly_full.at(conditions.charge_high), Reason::NearlyFull)
            .lowered(
                conditions
                    .pack_voltage
                    .map_or(Ratio::ONE, |volts| self.near_full_voltage.at(volts)),
                Reason::NearlyFull,
            );
        match self.limiting_temperature(conditions) {
            Some(degrees) => charging
                .lowered(self.cold_charge.at(degrees), Reason::ColdCharge)
                .lowered(self.hot_charge.at(degrees), Reason::HotCharge),
            None => charging,
        }
    }

    fn drive_by_pack(&self, conditions: &Conditions) -> Ceiling {
        let c = conditions;
        let volts = c.pack_voltage;
        let mut drive = Ceiling::OPEN
            .lowered(volts.map_or(self.stale_drive, |_| Ratio::ONE), Reason::StaleTelemetry)
            .lowered(volts.map_or(Ratio::ONE, |volts| self.sagging.at(volts)), Reason::Sagging)
            .lowered(
                c.pack_current.map_or(Ratio::ONE, |amperes| self.discharge_current.at(amperes)),
                Reason::DischargeCurrent,
            )
            .lowered(self.reserve.at(c.charge), Reason::Reserve);
        if let Some(degrees) = c.motor_temperature {
            drive = drive.lowered(self.hot_motor.at(degrees), Reason::HotMotor);
        }
        if let Some(degrees) = c.controller_temperature {
            drive = drive.lowered(self.hot_controller.at(degrees), Reason::HotController);
        }
        if let Some(degrees) = self.limiting_temperature(c) {
            let allowed = |ramp: Option<&Ramp>| ramp.map_or(Ratio::ONE, |ramp| ramp.at(degrees));
            drive = drive
                .lowered(allowed(self.hot_pack.as_ref()), Reason::HotPack)
                .lowered(allowed(self.cold_pack.as_ref()), Reason::ColdPack);
        }
        drive
    }

    /// What of the brake charges with no more than the pack takes. Without a voltage the lowest that
    /// still drives is taken for it, without a speed the greatest.
    fn brake_by_pack(
        &self,
        conditions: &Conditions,
        charging: Ceiling,
        limit: MetresPerSecond,
    ) -> Ceiling {
        let volts = conditions.pack_voltage.unwrap_or(self.hard.stop.trip);
        let speed = conditions.speed.unwrap_or(limit);
        let share = self.stopping.brake(volts, charging.share, speed);
        if share >= Ratio::ONE {
            return Ceiling::OPEN;
        }
        let by_current = Reasons::of(Reason::ChargeCurrent);
        let reasons = if charging.reasons.is_empty() { by_current } else { charging.reasons };
        Ceiling { share, reasons }
    }

    /// The temperature of the cells where one of the limits acts by it.
    fn limiting_temperature(&self, conditions: &Conditions) -> Option<Celsius> {
        let free =
            |&degrees: &Celsius| degrees >= self.coldest_free && degrees <= self.hottest_free;
        conditions.cell_temperature.filter(|degrees| !free(degrees))
    }

    /// Drive folds back over the last of the speed, and waits for a push where it is to.
    fn by_speed(
        &self,
        speed: Option<MetresPerSecond>,
        limit: MetresPerSecond,
        why: Reason,
    ) -> Ceiling {
        let pushed = |speed: Option<MetresPerSecond>| {
            self.push_start
                .map_or(Ratio::ONE, |ramp| speed.map_or(Ratio::ZERO, |speed| ramp.at(speed)))
        };
        let Some(fast) = speed else {
            return Ceiling::OPEN.lowered(pushed(None), Reason::PushStart);
        };
        let left = limit.to_bits().saturating_sub(fast.to_bits()).max(0);
        let share = Ratio::from_bits(scale::<8>(left, self.per_speed_band));
        Ceiling::OPEN.lowered(share, why).lowered(pushed(speed), Reason::PushStart)
    }

    /// Two straight pieces, from all to the stated share and on to nothing.
    fn stale_drive(&self, age: Duration) -> Ratio {
        let late = self.stale_stop.at(age);
        if late < self.stale_drive { late } else { self.stale_soften.at(age) }
    }
}

/// How fast the speed limit moves: a metre per second each second, in `2^-16` m/s per 2^16 µs.
const LIMIT_MOVES: u32 = 4295;

/// The share of the drive curve on its way from `now` to `wanted`, `micros` later: as fast as the pack's
/// limits move.
#[must_use]
pub(super) fn paced(now: Ratio, wanted: Ratio, micros: u32) -> Ratio {
    if now == wanted {
        return now;
    }
    let lowest = now - Ratio::from_bits(PACE.drive_falls.over(micros));
    let highest = now + Ratio::from_bits(PACE.drive_rises.over(micros));
    wanted.held_within(lowest, highest)
}

/// The speed limit on its way from `now` to `wanted`, `micros` later.
///
/// Laws: no faster than a metre per second each second, either way; never past `wanted`.
#[must_use]
pub(super) fn slid(now: MetresPerSecond, wanted: MetresPerSecond, micros: u32) -> MetresPerSecond {
    if now == wanted {
        return now;
    }
    let most = narrow(i64::from(micros.saturating_mul(LIMIT_MOVES) >> 16));
    let way = wanted.to_bits().saturating_sub(now.to_bits()).max(most.saturating_neg()).min(most);
    MetresPerSecond::from_bits(now.to_bits().saturating_add(way))
}

#[cfg(test)]
pub(crate) mod tests;
