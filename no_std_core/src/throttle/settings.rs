//! Everything that the thumb's way to the demand is set by, checked once.
//!
//! Made on the host or at start-up, then only read by [`super::Throttle::tick`].

use super::battery::BatteryLimits;
use super::ceilings::Curves;
use super::curve::{Curve, GREATEST_ACCELERATION, LEAST_ACCELERATION, USUAL_BLEND};
use super::error::{Error, Quantity, thousandths, within};
use super::limit_settings::{LimitSettings, Usual};
use super::limits::Limits;
use super::pace::Paces;
use super::shaping::{RateSettings, Rates};
use super::stillness::{StuckLimits, USUAL_STUCK_AFTER};
use super::thumb::Calibration;
use crate::math::{divide, scale};
use crate::time::Duration;
use crate::units::{MetresPerSecondSquared, Ratio};

/// What the full thumb asks of the usual drive curve: 0.16 g, the most that a people mover asks of
/// standing passengers (ASCE 21, from memory).
pub const USUAL_DRIVE: MetresPerSecondSquared = MetresPerSecondSquared::from_milli(1600);

/// What the full thumb asks of the usual brake curve: about 0.32 g, an emergency stop by the same
/// standard (from memory). The German eKFV asks for 3.5 m/s² of two brakes together, and 44 % of
/// that of each alone.
pub const USUAL_BRAKE: MetresPerSecondSquared = MetresPerSecondSquared::from_whole(3);

/// What a board usually brakes with by itself in a long silence: half a metre per second squared, at
/// which standing people begin to lose their balance when it comes suddenly (Human Factors 39, 1997,
/// from memory); it comes at `brake_ease`, so that nobody has to.
pub const USUAL_SILENT_BRAKE: MetresPerSecondSquared = MetresPerSecondSquared::from_milli(500);

/// The parts that settings are made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Parts {
    /// The thumb's sensor.
    pub calibration: Calibration,
    /// What the thumb asks.
    pub curves: Curves,
    /// What the board allows.
    pub limits: LimitSettings,
    /// How fast it comes and goes.
    pub rates: RateSettings,
    /// The paces that the rider may choose from.
    pub paces: Paces,
    /// Whether the brake's half of the thumb may drive backwards, from standstill through neutral.
    pub reverse: bool,
    /// A thumb that asks for the same drive for so long is taken for stuck: 10 s to an hour.
    pub stuck_after: Duration,
    /// What the board brakes with by itself once the hand has been silent for long, up to the brake
    /// curve's greatest; zero lets it roll out.
    pub silent_brake: MetresPerSecondSquared,
    /// When the handheld's own battery is low.
    pub hand_battery: BatteryLimits,
    /// What the vehicle does at the greatest motor current, on the flat, from low speed: what turns
    /// an acceleration into a share of motor current, 0.1 to 10 m/s². The current has to be the
    /// motor's (its torque); where the motor controller takes duty or speed, no law here holds.
    pub full_current_acceleration: MetresPerSecondSquared,
}

/// [`Parts`] that fit together, prepared.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Settings {
    parts: Parts,
    limits: Limits,
    trusted: Rates,
    easing: Rates,
    backing: Rates,
    followed: Rates,
    silent: Rates,
    stuck: StuckLimits,
    mark: Option<u32>,
    /// 2^40 over the full-current acceleration in `2^-16` m/s², rounded up.
    share_per_acceleration: i32,
}

impl Settings {
    /// The settings, checked and prepared.
    ///
    /// # Errors
    /// [`Error::OutOfRange`]: `FullCurrentAcceleration` not within [`LEAST_ACCELERATION`] and
    /// [`GREATEST_ACCELERATION`]; `GreatestAcceleration` where a curve asks for more than the
    /// motor can do; `StuckAfter`; `HandWarnBelow` or `HandWalkBelow`; whatever [`Limits::new`] and
    /// [`Rates::new`] refuse.
    pub fn new(parts: Parts) -> Result<Self, Error> {
        let full = parts.full_current_acceleration;
        let (least, most) = (
            thousandths(LEAST_ACCELERATION.to_micro()),
            thousandths(GREATEST_ACCELERATION.to_micro()),
        );
        within(Quantity::FullCurrentAcceleration, thousandths(full.to_micro()), least, most)?;
        for curve in [&parts.curves.drive, &parts.curves.brake] {
            let greatest = thousandths(curve.greatest().to_micro());
            within(Quantity::GreatestAcceleration, greatest, least, thousandths(full.to_micro()))?;
        }
        let limits = Limits::new(&parts.limits, parts.curves.brake.greatest())?;
        let (trusted, easing) = Rates::new(&parts.rates, parts.curves.drive.greatest())?;
        let backing = trusted.backing();
        let (followed, silent) =
            (trusted.catching_up(), trusted.in_silence(parts.rates.brake_ease));
        let silent_brake = thousandths(parts.silent_brake.to_micro());
        let strongest = thousandths(parts.curves.brake.greatest().to_micro());
        within(Quantity::SilentBrake, silent_brake, 0, strongest)?;
        let hysteresis = parts.calibration.counts().hysteresis;
        let stuck = StuckLimits::new(parts.stuck_after, hysteresis)?;
        parts.hand_battery.check()?;
        // At most 2^40 / 6553, which fits.
        let share_per_acceleration =
            divide(1 << 20, i64::from(full.to_bits()), 20).saturating_add(1);
        Ok(Self {
            parts,
            limits,
            trusted,
            easing,
            backing,
            followed,
            silent,
            stuck,
            mark: None,
            share_per_acceleration,
        })
    }

    /// The usual settings for a calibrated thumb and a `usual` vehicle that does
    /// `full_current_acceleration`.
    ///
    /// The curves are [`USUAL_BLEND`] up to [`USUAL_DRIVE`] and [`USUAL_BRAKE`], or to what the
    /// motor can do where that is less; limits and rates are those of [`LimitSettings::standard`]
    /// and [`RateSettings::standard`], which say where they come from.
    ///
    /// # Errors
    /// As [`Self::new`].
    pub fn standard(
        calibration: Calibration,
        usual: &Usual,
        full_current_acceleration: MetresPerSecondSquared,
    ) -> Result<Self, Error> {
        let most = full_current_acceleration;
        let curves = Curves {
            drive: Curve::blended(USUAL_BLEND, USUAL_DRIVE.min(most))?,
            brake: Curve::blended(USUAL_BLEND, USUAL_BRAKE.min(most))?,
        };
        Self::new(Parts {
            calibration,
            curves,
            limits: LimitSettings::standard(usual),
            rates: RateSettings::standard(),
            paces: Paces::default(),
            reverse: false,
            stuck_after: USUAL_STUCK_AFTER,
            silent_brake: USUAL_SILENT_BRAKE.min(most),
            hand_battery: BatteryLimits::USUAL,
            full_current_acceleration,
        })
    }

    /// The parts that it was made of; change a copy and call [`Self::new`] again.
    #[must_use]
    pub const fn parts(&self) -> &Parts {
        &self.parts
    }

    /// The mark of the tuning that they were made of ([`super::Tuning::settings`]), to be shown: the same on
    /// the bench and on the board. None where they were made otherwise.
    #[must_use]
    pub const fn mark(&self) -> Option<u32> {
        self.mark
    }

    pub(super) const fn marked(self, mark: u32) -> Self {
        Self { mark: Some(mark), ..self }
    }

    /// The limits, for asking what they would do.
    #[must_use]
    pub const fn limits(&self) -> &Limits {
        &self.limits
    }

    /// The rates that hold for a thumb that is believed, or for one that is not; driving backwards,
    /// those of a drive.
    pub(super) const fn rates(&self, believed: bool, backward: bool) -> &Rates {
        if backward {
            &self.backing
        } else if believed {
            &self.trusted
        } else {
            &self.easing
        }
    }

    /// The rates that the board's end follows commands with, and those of a silence.
    pub(crate) const fn board_end(&self, backward: bool) -> (&Rates, &Rates) {
        if backward { (&self.backing, &self.backing) } else { (&self.followed, &self.silent) }
    }

    /// The acceleration that a share of the greatest motor current stands for; the reverse of
    /// [`Self::share`].
    #[must_use]
    pub fn acceleration(&self, share: Ratio) -> MetresPerSecondSquared {
        let full = self.parts.full_current_acceleration;
        let size = full.scaled(share.magnitude().min(Ratio::ONE));
        if share < Ratio::ZERO { -size } else { size }
    }

    /// When a thumb counts as stuck.
    pub(super) const fn stuck(&self) -> &StuckLimits {
        &self.stuck
    }

    /// The share of the greatest motor current that does so much, -1 to 1.
    ///
    /// Laws: odd, monotone, one at the full-current acceleration.
    #[must_use]
    pub fn share(&self, acceleration: MetresPerSecondSquared) -> Ratio {
        if acceleration == MetresPerSecondSquared::ZERO {
            return Ratio::ZERO;
        }
        let size = scale::<16>(acceleration.magnitude().to_bits(), self.share_per_acceleration);
        let share = Ratio::from_bits(size).min(Ratio::ONE);
        if acceleration < MetresPerSecondSquared::ZERO { -share } else { share }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::throttle::thumb::Counts;
    use proptest::prelude::*;

    fn calibration() -> Calibration {
        Calibration::new(Counts {
            full_scale: 4095,
            low: 800,
            centre: 2000,
            high: 3300,
            deadband: 60,
            hysteresis: 20,
            broken_margin: 200,
            reversed: false,
        })
        .unwrap()
    }

    fn usual(full_milli: i32) -> Result<Settings, Error> {
        let full = MetresPerSecondSquared::from_milli(full_milli);
        Settings::standard(calibration(), &crate::throttle::limits::tests::usual_vehicle(), full)
    }

    proptest! {
        #[test]
        fn law_a_share_is_odd_monotone_and_at_most_one(full in 100_i32..=10_000, a: i32, b: i32) {
            let settings = usual(full).unwrap();
            let share = |bits| settings.share(MetresPerSecondSquared::from_bits(bits));
            prop_assert!(share(a.min(b)) <= share(a.max(b)));
            prop_assert!(share(a).magnitude() <= Ratio::ONE);
            prop_assert_eq!(share(a), -share(a.saturating_neg()));
            prop_assert_eq!(settings.share(settings.parts().full_current_acceleration), Ratio::ONE);
        }

        #[test]
        fn law_a_share_is_the_acceleration_over_that_at_full_current(
            full in 100_i32..=10_000, part in 0_i32..=1000,
        ) {
            let settings = usual(full).unwrap();
            let full = settings.parts().full_current_acceleration.to_bits();
            let bits = i32::try_from(i64::from(full) * i64::from(part) / 1000).unwrap();
            let share = settings.share(MetresPerSecondSquared::from_bits(bits)).to_f64();
            // The reciprocal is rounded by less than 2^-20 of itself.
            prop_assert!((share - f64::from(bits) / f64::from(full)).abs() < 2e-6);
        }
    }

    #[test]
    fn a_curve_that_asks_more_than_the_motor_can_do_is_refused() {
        let refused = |result| match result {
            Err(Error::OutOfRange { quantity, .. }) => Some(quantity),
            Ok(_) => None,
        };
        let parts = *usual(3000).unwrap().parts();
        let less = MetresPerSecondSquared::from_milli(2999);
        let weak = Parts { full_current_acceleration: less, ..parts };
        assert_eq!(refused(Settings::new(weak)), Some(Quantity::GreatestAcceleration));
        assert_eq!(refused(usual(10_001)), Some(Quantity::FullCurrentAcceleration));
        assert_eq!(refused(usual(1000)), None);
    }
}
