//! The slow limits: what pack, speed and silence leave of drive and brake.
//!
//! Before shaping, so they are felt as a softer board and never as a blow. Those that look at the
//! pack move at a rate of their own on top; the top speed doesn't need one, because a speed cannot
//! jump. The one at standstill is told here and acts in `hard`. Settings: `limit_settings`.
//!
//! A brake works by charging. Where the pack takes no charge, a floor of braking is left all the
//! same ([`brake_without_charging`]): a rider who leans into a brake that vanishes falls.
//!
//! [`brake_without_charging`]: super::LimitSettings::brake_without_charging

use super::ceilings::{Ceiling, CeilingRates, Ceilings};
use super::hard::HardLimits;
use super::ramp::Ramp;
use super::rate::Rate;
use super::reasons::Reason;
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

/// What is known about the board, as old as `telemetry_age` says.
///
/// Missing values: without a voltage, drive is held as for data that has just gone stale; without
/// a temperature, a current or a speed, the limits that look at it do not act (many packs have no
/// such sensor), and the brake is kept.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Conditions {
    /// The voltage of the whole pack, under whatever load there is.
    pub pack_voltage: Option<Volts>,
    /// The current out of the pack, discharge positive.
    pub pack_current: Option<Amperes>,
    /// The temperature of the cells.
    pub cell_temperature: Option<Celsius>,
    /// The upper bound of the state of charge, 0 to 1: how full the pack may be.
    pub charge_high: Ratio,
    /// The speed, forward positive.
    pub speed: Option<MetresPerSecond>,
    /// How old all of this is; nothing where there has been none yet.
    pub telemetry_age: Option<Duration>,
}

/// [`super::LimitSettings`] that make sense, prepared. Made by [`Limits::new`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Limits {
    pub(super) sagging: Ramp,
    pub(super) discharge_current: Ramp,
    pub(super) cold_pack: Option<Ramp>,
    pub(super) hot_pack: Option<Ramp>,
    pub(super) top_speed: Ramp,
    pub(super) nearly_full: Ramp,
    pub(super) cold_charge: Ramp,
    pub(super) hot_charge: Ramp,
    /// Between these two none of the four limits by temperature acts: most of the year two
    /// comparisons instead of four look-ups.
    pub(super) coldest_free: Celsius,
    pub(super) hottest_free: Celsius,
    pub(super) standstill: Ramp,
    pub(super) stale_soften: Ramp,
    pub(super) stale_stop: Ramp,
    pub(super) stale_brake: Ramp,
    pub(super) stale_drive: Ratio,
    pub(super) floor: Ratio,
    pub(super) hard: HardLimits,
    /// Up to this age a speed is believed.
    pub(super) fresh_until: Duration,
}

impl Limits {
    /// What the pack and the age of what is known about it leave, before any rate.
    ///
    /// Laws: drive never grows as the voltage falls, the current rises or the data ages; brake
    /// never grows as the charge rises, the cells leave their charging temperatures or the data
    /// ages; brake never falls below [`brake_without_charging`].
    ///
    /// [`brake_without_charging`]: super::LimitSettings::brake_without_charging
    #[must_use]
    pub fn by_pack(&self, conditions: &Conditions) -> Ceilings {
        let mut drive = Ceiling::OPEN
            .lowered(self.stale_drive(conditions), Reason::StaleTelemetry)
            .lowered(self.sagging(conditions), Reason::Sagging)
            .lowered(self.discharge_current(conditions), Reason::DischargeCurrent);
        let mut brake = Ceiling::OPEN
            .lowered(self.stale_brake(conditions), Reason::StaleTelemetry)
            .lowered(self.nearly_full(conditions), Reason::NearlyFull);
        if let Some(degrees) = self.limiting_temperature(conditions) {
            let allowed = |ramp: Option<&Ramp>| ramp.map_or(Ratio::ONE, |ramp| ramp.at(degrees));
            drive = drive
                .lowered(allowed(self.hot_pack.as_ref()), Reason::HotPack)
                .lowered(allowed(self.cold_pack.as_ref()), Reason::ColdPack);
            brake = brake
                .lowered(self.cold_charge.at(degrees), Reason::ColdCharge)
                .lowered(self.hot_charge.at(degrees), Reason::HotCharge);
        }
        Ceilings { drive, brake }
    }

    /// `ceilings`, and what the speed leaves of drive: never more as the speed rises.
    #[must_use]
    pub fn by_speed(&self, ceilings: Ceilings, conditions: &Conditions) -> Ceilings {
        ceilings.drive_held(self.top_speed(conditions), Reason::TopSpeed)
    }

    /// Two straight pieces, from all to the stated share and on to nothing.
    fn stale_drive(&self, conditions: &Conditions) -> Ratio {
        let Some(age) = conditions.telemetry_age else {
            return Ratio::ZERO;
        };
        let late = self.stale_stop.at(age);
        let by_age = if late < self.stale_drive { late } else { self.stale_soften.at(age) };
        match conditions.pack_voltage {
            Some(_) => by_age,
            None => by_age.min(self.stale_drive),
        }
    }

    fn stale_brake(&self, conditions: &Conditions) -> Ratio {
        conditions.telemetry_age.map_or(self.floor, |age| self.stale_brake.at(age))
    }

    fn sagging(&self, conditions: &Conditions) -> Ratio {
        conditions.pack_voltage.map_or(Ratio::ONE, |voltage| self.sagging.at(voltage))
    }

    fn discharge_current(&self, conditions: &Conditions) -> Ratio {
        conditions.pack_current.map_or(Ratio::ONE, |current| self.discharge_current.at(current))
    }

    /// The temperature of the cells where one of the limits acts by it.
    fn limiting_temperature(&self, conditions: &Conditions) -> Option<Celsius> {
        let free =
            |&degrees: &Celsius| degrees >= self.coldest_free && degrees <= self.hottest_free;
        conditions.cell_temperature.filter(|degrees| !free(degrees))
    }

    fn nearly_full(&self, conditions: &Conditions) -> Ratio {
        self.nearly_full.at(conditions.charge_high)
    }

    fn top_speed(&self, conditions: &Conditions) -> Ratio {
        conditions.speed.map_or(Ratio::ONE, |speed| self.top_speed.at(speed))
    }

    /// The share of braking, 0 to 1, that the speed leaves: nothing at standstill.
    ///
    /// Rolling backwards is moving too: a brake works there as well. A speed that is unknown, or
    /// older than where data begins to be stale, keeps the brake: a board that stood may roll.
    /// Law: never more as the speed falls towards none.
    #[must_use]
    pub fn standstill(&self, conditions: &Conditions) -> Ratio {
        let fresh = conditions.telemetry_age.is_some_and(|age| age <= self.fresh_until);
        match conditions.speed {
            Some(speed) if fresh => self.standstill.at(speed.magnitude()),
            Some(_) | None => Ratio::ONE,
        }
    }
}

#[cfg(test)]
pub(crate) mod tests;
