//! A motor controller on a serial line: what it is told, and what its answers mean here.
//!
//! The wire is the caller's: every make has its own. A type of the caller's implements
//! [`MotorController`] and fills [`Told`] from whatever the make sends; [`Told::telemetry`] turns that
//! into the telemetry of this house. A controller without a line back gets a servo pulse (`hal`).
//!
//! | what controllers tell | here | to look out for |
//! | --- | --- | --- |
//! | voltage at the battery's terminals | `pack_voltage` | behind a long wire it sags further than the pack |
//! | current from the battery | `pack_current` | **not** the motors' current, which is larger at low speed; discharge positive; of two controllers the sum |
//! | charge drawn, charge returned | `charge_drawn`, the difference | both counted up since the start; where there is one counter it is drawn less returned already |
//! | electrical turns per minute | `speed` | pole **pairs** times turns of the motor; of two motors the mean |
//! | electrical turns since the start | `distance` | the same |
//! | temperature of the switches | `controller_temperature` | of two the hotter |
//! | temperature of the windings | `motor_temperature` | a sensor that is not connected often reads very cold or very hot |
//!
//! The order's share is one of the greatest **motor** current (torque). Where a controller can only be
//! told a duty or a speed, the laws of the throttle do not hold: don't use it that way.

use super::Order;
use crate::math::{divide, scale_wide};
use crate::telemetry::Telemetry;
use crate::units::{Amperes, Celsius, Coulombs, Metres, MetresPerSecond, Ratio, Volts};

/// A motor controller that takes orders and tells how things are.
pub trait MotorController {
    /// What can go wrong on the way.
    type Error;

    /// Passes an order on. A negative share is a **brake**, unless `backward` says that it drives
    /// backwards. Called in every tick of the receiver, so that the controller's own timeout never
    /// runs out while the receiver lives.
    ///
    /// # Errors
    /// Its own; the receiver's next order comes all the same.
    fn obey(&mut self, order: &Order) -> Result<(), Self::Error>;

    /// What it has told since it was last asked; nothing where no answer is complete.
    ///
    /// # Errors
    /// Its own.
    fn told(&mut self) -> Result<Option<Told>, Self::Error>;
}

/// What a motor controller tells.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Told {
    /// At the battery's terminals.
    pub battery_voltage: Volts,
    /// From the battery, discharge positive.
    pub battery_current: Amperes,
    /// Charge drawn since its start.
    pub charge_drawn: Option<Coulombs>,
    /// Charge returned since its start.
    pub charge_returned: Option<Coulombs>,
    /// Electrical turns per minute, forward positive.
    pub electrical_per_minute: Option<i32>,
    /// Electrical turns since its start, in sixths: one for each step of a three-phase motor.
    pub electrical_sixths: Option<i32>,
    /// Of its switches.
    pub switch_temperature: Option<Celsius>,
    /// Of the hottest winding.
    pub winding_temperature: Option<Celsius>,
}

/// From the motor's electrical turns to the road.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Gearing {
    /// Way for an electrical turn, in `2^-32` m.
    per_turn: i32,
}

/// A gearing that makes no sense.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct NotAGearing {
    /// The pole pairs given, 1 to 64.
    pub pole_pairs: u8,
    /// The turns of the motor for one of the wheel, 0.1 to 30.
    pub motor_turns: Ratio,
    /// The wheel's diameter, 0.03 to 1 m.
    pub wheel_diameter: Metres,
}

impl core::fmt::Display for NotAGearing {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(
            f,
            "{} pole pairs, {} turns of the motor for one of the wheel, wheels of {}; allowed are 1 to \
             64, 0.1 to 30 and 0.03 to 1 m, and less than 0.5 m of way for an electrical turn",
            self.pole_pairs, self.motor_turns, self.wheel_diameter
        )
    }
}

impl core::error::Error for NotAGearing {}

impl Gearing {
    /// A motor of so many pole pairs that turns `motor_turns` times for one turn of the wheel.
    ///
    /// # Errors
    /// [`NotAGearing`], with what was given and what is allowed.
    pub fn new(
        pole_pairs: u8,
        motor_turns: Ratio,
        wheel_diameter: Metres,
    ) -> Result<Self, NotAGearing> {
        /// Pi with 29 fraction bits.
        const PI: i32 = 1_686_629_713;
        let pairs = 1..=64;
        let turns = Ratio::from_fraction(1, 10)..=Ratio::from_whole(30);
        let wheels = Metres::from_milli(30)..=Metres::from_milli(1000);
        if !pairs.contains(&pole_pairs)
            || !turns.contains(&motor_turns)
            || !wheels.contains(&wheel_diameter)
        {
            return Err(NotAGearing { pole_pairs, motor_turns, wheel_diameter });
        }
        let round = scale_wide::<29>(wheel_diameter.to_bits(), PI);
        // Metres have 32 fraction bits, ratios 24.
        let turns = i64::from(motor_turns.to_bits()).saturating_mul(i64::from(pole_pairs));
        let per_turn = divide(round, turns, 24);
        // Half a metre for one electrical turn is beyond any gear, and beyond what this can hold.
        if per_turn == i32::MAX {
            return Err(NotAGearing { pole_pairs, motor_turns, wheel_diameter });
        }
        Ok(Self { per_turn })
    }

    fn speed(self, electrical_per_minute: i32) -> MetresPerSecond {
        // 2^-32 m a minute to 2^-16 m/s: 2^16 times 60.
        let way = i64::from(electrical_per_minute).saturating_mul(i64::from(self.per_turn));
        MetresPerSecond::from_bits(divide(way, 60 << 16, 0))
    }

    fn way(self, electrical_sixths: i32) -> Metres {
        let way = i64::from(electrical_sixths).saturating_mul(i64::from(self.per_turn));
        Metres::from_bits(way.wrapping_div(6))
    }
}

impl Told {
    /// The same as telemetry; what it does not tell is missing there too.
    #[must_use]
    pub fn telemetry(&self, gearing: Gearing) -> Telemetry {
        let charge_drawn = self.charge_drawn.map(|drawn| {
            let returned = self.charge_returned.unwrap_or(Coulombs::ZERO);
            drawn - returned
        });
        Telemetry {
            pack_voltage: self.battery_voltage,
            pack_current: self.battery_current,
            charge_drawn,
            speed: self.electrical_per_minute.map(|turns| gearing.speed(turns)),
            distance: self.electrical_sixths.map(|sixths| gearing.way(sixths)),
            controller_temperature: self.switch_temperature,
            motor_temperature: self.winding_temperature,
            ..Telemetry::default()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Seven pole pairs, 2.5 turns, wheels of 100 mm: an electrical turn is 17.95 mm.
    fn gearing() -> Gearing {
        Gearing::new(7, Ratio::from_fraction(5, 2), Metres::from_milli(100)).unwrap()
    }

    #[test]
    fn electrical_turns_become_speed_and_way() {
        let told = Told {
            electrical_per_minute: Some(20_000),
            electrical_sixths: Some(-6000),
            ..Told::default()
        };
        let telemetry = told.telemetry(gearing());
        // Pi · 0.1 m / 17.5 is 17.952 mm; 333.3 of them a second.
        assert!((telemetry.speed.unwrap().to_f64() - 5.984).abs() < 1e-3);
        assert!((telemetry.distance.unwrap().to_f64() + 17.952).abs() < 1e-3);
    }

    #[test]
    fn charge_is_what_was_drawn_less_what_came_back_and_nothing_where_it_is_not_told() {
        let told = |drawn, returned| Told {
            charge_drawn: drawn,
            charge_returned: returned,
            ..Told::default()
        };
        let coulombs = |whole| Some(Coulombs::from_whole(whole));
        let drawn = |told: Told| told.telemetry(gearing()).charge_drawn;
        assert_eq!(drawn(told(coulombs(300), coulombs(40))), coulombs(260));
        assert_eq!(drawn(told(coulombs(300), None)), coulombs(300));
        assert_eq!(drawn(told(None, coulombs(40))), None);
    }

    #[test]
    fn a_gearing_that_makes_no_sense_is_refused_with_what_was_given() {
        let (turns, wheel) = (Ratio::from_whole(3), Metres::from_milli(100));
        for (pairs, turns, wheel) in [
            (0, turns, wheel),
            (65, turns, wheel),
            (7, Ratio::ZERO, wheel),
            (7, turns, Metres::ZERO),
            (1, Ratio::ONE, Metres::from_milli(300)),
        ] {
            let fault = Gearing::new(pairs, turns, wheel).unwrap_err();
            assert_eq!((fault.pole_pairs, fault.motor_turns), (pairs, turns));
            assert!(std::format!("{fault}").contains("1 to 64"));
        }
    }

    #[test]
    fn no_count_is_too_large() {
        for turns in [i32::MIN, i32::MAX] {
            let told = Told {
                electrical_per_minute: Some(turns),
                electrical_sixths: Some(turns),
                ..Told::default()
            };
            let telemetry = told.telemetry(gearing());
            assert!(telemetry.speed.is_some() && telemetry.distance.is_some());
        }
    }
}
