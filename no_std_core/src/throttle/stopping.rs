//! What the brake is worth while the pack takes little charge, and how fast that lets the board go.
//!
//! Motors brake by charging: with all of the current `I` that the pack takes at its voltage `V`, a
//! mass `m` at speed `v` is braked by `V I / (m v)` at the most, whatever the thumb asks. The
//! drivetrain's losses would leave a little more; they are left out, so that the pack never gets more
//! than it should. Full, frozen or hot, it takes a share of that, down to nothing.
//!
//! From the speed `v` the board then stops within the sum of `v dv / a(v)`. `Stopping` knows for each
//! share of charging the speed from which that is the stated distance. Prepared by `limit_settings`
//! when settings are built, looked up by `limits` with each frame. Textbook mechanics, no source.

use super::error::{Error, Quantity, thousandths, within};
use super::pace::WALK;
use crate::math::{between, divide, narrow, scale};
use crate::units::{Amperes, Kilograms, MetresPerSecond, MetresPerSecondSquared, Ratio, Volts};

/// What of 3.5 m/s² each of two brakes has to do alone: 44 %. Source: German regulation on small
/// electric vehicles (eKFV, 2019), paragraph 4. A figure to begin with; nothing here makes a board
/// comply with it, or says that it has to.
pub const ONE_OF_TWO_BRAKES: MetresPerSecondSquared = MetresPerSecondSquared::from_milli(1540);

/// How the board brakes, as plain values.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct BrakeSettings {
    /// The greatest current into the pack, 0.1 to 2000 A.
    pub charge_current: Amperes,
    /// What has to be stopped, rider and all, 1 to 2000 kg.
    pub mass: Kilograms,
    /// The deceleration that the rider can count on, 0.2 to 10 m/s²: from the top speed it states the
    /// distance within which the board stops in any state of its pack.
    pub stop_with: MetresPerSecondSquared,
    /// What brakes beside the motors, 0 to 10 m/s²: wheels that roll, a mechanical brake.
    pub beside_motors: MetresPerSecondSquared,
    /// What the motors brake without charging anything, 0 to 10 m/s²: nothing, but for a controller
    /// that burns it in a resistor. Measured on the board.
    pub without_charging: MetresPerSecondSquared,
}

/// Speeds of the sum, and shares of charging.
const SPEEDS: i32 = 64;
const SHARES: usize = 8;
const SHARE_BITS: u32 = 21;

/// [`BrakeSettings`] that make sense, prepared.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(super) struct Stopping {
    /// The speed from which the board stops in the stated distance, in `2^-16` m/s, with none of the
    /// charging left, an eighth of it, and so on up to all.
    speeds: [i32; SHARES + 1],
    top_speed: MetresPerSecond,
    /// The speed, per volt, up to which all of the brake can be had: `2^-24` m/s.
    speed_per_volt: i32,
    /// The share of the brake that charges nothing.
    pub(super) floor: Ratio,
}

impl Stopping {
    /// The brake of a board that is not to go faster than `top_speed`, whose full thumb asks for
    /// `greatest`, with its pack at `volts`: the lowest from which it is still ridden.
    ///
    /// # Errors
    /// [`Error::OutOfRange`]: `ChargeCurrent`, `Mass`, `StopWith`, `BesideMotors` or
    /// `BrakeWithoutCharging`.
    pub(super) fn new(
        settings: &BrakeSettings,
        top_speed: MetresPerSecond,
        greatest: MetresPerSecondSquared,
        volts: Volts,
    ) -> Result<Self, Error> {
        let s = settings;
        let thousandth = |bits: MetresPerSecondSquared| thousandths(bits.to_micro());
        let (current, mass) =
            (thousandths(s.charge_current.to_micro()), thousandths(s.mass.to_micro()));
        within(Quantity::ChargeCurrent, current, 100, 2_000_000)?;
        within(Quantity::Mass, mass, 1000, 2_000_000)?;
        within(Quantity::StopWith, thousandth(s.stop_with), 200, 10_000)?;
        within(Quantity::BesideMotors, thousandth(s.beside_motors), 0, 10_000)?;
        within(Quantity::BrakeWithoutCharging, thousandth(s.without_charging), 0, 10_000)?;
        let greatest = greatest.max(MetresPerSecondSquared::from_bits(1));
        // Kilograms times m/s² with 16 fraction bits each, and amperes over that with 24.
        let newtons =
            i64::from(s.mass.to_bits()).saturating_mul(i64::from(greatest.to_bits())) >> 16;
        let speed_per_volt = divide(i64::from(s.charge_current.to_bits()), newtons.max(1), 24);
        let floor =
            divide(i64::from(s.without_charging.to_bits()), i64::from(greatest.to_bits()), 24);
        let floor = Ratio::from_bits(floor).min(Ratio::ONE);
        let mut made = Self { speeds: [0; SHARES + 1], top_speed, speed_per_volt, floor };
        let mut share = Ratio::ZERO;
        let mut speeds = [0; SHARES + 1];
        for speed in &mut speeds {
            let brake = |v| {
                let motors = made.brake(volts, share, MetresPerSecond::from_bits(v));
                greatest.scaled(motors) + s.beside_motors
            };
            *speed = stops_from(top_speed, s.stop_with, brake);
            share = share + Ratio::from_fraction(1, 8);
        }
        made.speeds = speeds;
        Ok(made)
    }

    /// The speed from which the board still stops in its stated distance, where the pack takes this
    /// `share` of its greatest charging current.
    ///
    /// Laws: never less with more charging, never less than a walk, never more than the top speed.
    pub(super) fn speed(&self, share: Ratio) -> MetresPerSecond {
        let last = self.speeds.last().copied().unwrap_or(0);
        // Held after looking up: between a walk that was held and more the chord would lie too high.
        let walk = WALK.min(self.top_speed);
        // As a rule the pack takes all there is.
        if share >= Ratio::ONE {
            return MetresPerSecond::from_bits(last).max(walk);
        }
        let share = share.max(Ratio::ZERO).to_bits();
        let step = usize::try_from(share >> SHARE_BITS).unwrap_or(SHARES);
        let speed = |step: usize| self.speeds.get(step).copied().unwrap_or(last);
        let part = share & ((1 << SHARE_BITS) - 1);
        let found = between::<SHARE_BITS>(speed(step), speed(step.saturating_add(1)), part);
        MetresPerSecond::from_bits(found).max(walk)
    }

    /// The share of the brake curve's greatest, 0 to 1, that charges a pack at `volts` with no more
    /// than `share` of its greatest current while the board moves at `speed`.
    ///
    /// Laws: monotone in voltage and share, never more at a higher speed; never below the share that
    /// charges nothing.
    pub(super) fn brake(&self, volts: Volts, share: Ratio, speed: MetresPerSecond) -> Ratio {
        // Where speeds have 8 fraction bits and this has 24, the quotient has 16: it fits 32 bits.
        let all_up_to = scale::<16>(volts.to_bits().max(0), self.speed_per_volt);
        let all_up_to = if share >= Ratio::ONE {
            all_up_to
        } else {
            scale::<24>(all_up_to, share.max(Ratio::ZERO).to_bits())
        };
        let speed = speed.magnitude().to_bits() >> 8;
        let brake = all_up_to.checked_div(speed).unwrap_or(i32::MAX);
        let brake = if brake >= 1 << 16 { Ratio::ONE } else { Ratio::from_bits(brake << 8) };
        (brake + self.floor).min(Ratio::ONE)
    }
}

/// The greatest speed up to `top_speed` from which `brake` (of a speed in `2^-16` m/s) stops the board
/// within what `stop_with` needs from the top speed.
fn stops_from(
    top_speed: MetresPerSecond,
    stop_with: MetresPerSecondSquared,
    brake: impl Fn(i32) -> MetresPerSecondSquared,
) -> i32 {
    /// Less than this is no brake; it keeps the sum finite.
    const LEAST_BRAKE: i64 = 1 << 10;
    let top = i64::from(top_speed.to_bits().max(1));
    // Distances in 2^-16 m.
    let stated = top.saturating_mul(top) / 2;
    let stated = stated.checked_div(i64::from(stop_with.to_bits().max(1))).unwrap_or(0);
    let step = (top >> 6).max(1);
    let (mut speed, mut distance) = (0_i64, 0_i64);
    for _ in 0..SPEEDS {
        let middle = speed.saturating_add(step >> 1);
        let brake = i64::from(brake(narrow(middle)).to_bits()).max(LEAST_BRAKE);
        let more = middle.saturating_mul(step).checked_div(brake).unwrap_or(i64::MAX);
        let after = distance.saturating_add(more);
        if after > stated {
            // As far into this step as the distance reaches.
            let left = stated.saturating_sub(distance).saturating_mul(step);
            return narrow(speed.saturating_add(left.checked_div(more).unwrap_or(0)));
        }
        distance = after;
        speed = speed.saturating_add(step);
    }
    narrow(top)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn milli(thousandths: i32) -> MetresPerSecondSquared {
        MetresPerSecondSquared::from_milli(thousandths)
    }

    const TOP: MetresPerSecond = MetresPerSecond::from_milli(6944);

    fn settings() -> BrakeSettings {
        BrakeSettings {
            charge_current: Amperes::from_whole(12),
            mass: Kilograms::from_whole(90),
            stop_with: ONE_OF_TWO_BRAKES,
            beside_motors: milli(180),
            without_charging: milli(0),
        }
    }

    fn stopping(settings: &BrakeSettings) -> Stopping {
        Stopping::new(settings, TOP, milli(3000), Volts::from_whole(33)).unwrap()
    }

    /// The same sum in floating point and much finer, for a brake that nobody rounded.
    fn stops_within_m(settings: &BrakeSettings, share: f64, from_m_s: f64) -> f64 {
        let steps = 20_000;
        let dv = from_m_s / f64::from(steps);
        (0..steps).fold(0.0, |sum, step| {
            let v = (f64::from(step) + 0.5) * dv;
            let per_mass = 33.0 * settings.charge_current.to_f64() * share / settings.mass.to_f64();
            let motors = (per_mass / v + settings.without_charging.to_f64()).min(3.0);
            sum + v * dv / (motors + settings.beside_motors.to_f64())
        })
    }

    #[test]
    fn a_board_with_a_brake_as_stated_keeps_its_top_speed_and_the_textbooks_distance() {
        // 25 km/h at a steady 1.54 m/s² is v²/2a = 15.66 m.
        let strong = BrakeSettings {
            charge_current: Amperes::from_whole(2000),
            beside_motors: milli(0),
            ..settings()
        };
        let with = |stop_with| stopping(&BrakeSettings { stop_with, ..strong }).speed(Ratio::ONE);
        assert!((with(milli(3000)) - TOP).magnitude().to_bits() < 1 << 11);
        assert!((with(milli(1540)) - TOP).magnitude().to_bits() < 1 << 11);
        // Asked to stop with 6 m/s² where 3 is all there is: the root of a half of the speed.
        let half = with(milli(6000)).to_f64() / TOP.to_f64();
        assert!((half - f64::sqrt(0.5)).abs() < 0.003, "{half}");
    }

    #[test]
    fn a_pack_that_takes_nothing_leaves_what_rolls() {
        let none = stopping(&settings()).speed(Ratio::ZERO).to_f64();
        // v² / (2 · 0.18) = 15.66 m.
        assert!((none - f64::sqrt(15.66 * 0.36)).abs() < 0.03, "{none}");
        let nothing_at_all = BrakeSettings { beside_motors: milli(0), ..settings() };
        assert_eq!(stopping(&nothing_at_all).speed(Ratio::ZERO), WALK);
    }

    #[test]
    fn a_brake_is_what_its_charge_is_worth() {
        let stopping = stopping(&settings());
        let brake = |share, milli| {
            let speed = MetresPerSecond::from_milli(milli);
            3.0 * stopping.brake(Volts::from_whole(40), share, speed).to_f64()
        };
        // 40 V times 12 A is 480 W; over 90 kg at 6 m/s, 0.889 m/s².
        assert!((brake(Ratio::ONE, 6000) - 0.8889).abs() < 0.001);
        assert!((brake(Ratio::from_percent(25), 6000) - 0.2222).abs() < 0.001);
        assert!((brake(Ratio::ONE, -6000) - 0.8889).abs() < 0.001);
        assert!((brake(Ratio::ONE, 1500) - 3.0).abs() < 1e-6);
        assert!(brake(Ratio::ZERO, 6000).abs() < 1e-6);
    }

    #[test]
    fn settings_that_make_no_sense_are_refused_by_name() {
        let refused = |change: fn(&mut BrakeSettings)| {
            let mut settings = settings();
            change(&mut settings);
            match Stopping::new(&settings, TOP, milli(3000), Volts::from_whole(33)) {
                Err(Error::OutOfRange { quantity, .. }) => Some(quantity),
                Ok(_) => None,
            }
        };
        assert_eq!(refused(|_| {}), None);
        assert_eq!(refused(|s| s.charge_current = Amperes::ZERO), Some(Quantity::ChargeCurrent));
        assert_eq!(refused(|s| s.mass = Kilograms::ZERO), Some(Quantity::Mass));
        assert_eq!(refused(|s| s.stop_with = milli(199)), Some(Quantity::StopWith));
        assert_eq!(refused(|s| s.beside_motors = milli(-1)), Some(Quantity::BesideMotors));
        let quantity = Some(Quantity::BrakeWithoutCharging);
        assert_eq!(refused(|s| s.without_charging = milli(10_001)), quantity);
    }

    proptest! {
        #[test]
        fn law_from_the_speed_that_is_left_the_board_stops_in_the_stated_distance(
            amperes in 1_i32..60, kilograms in 40_i32..140, stop in 500_i32..4000,
            beside in 50_i32..1500, free in 0_i32..1000, share in 0_i32..=1000,
        ) {
            let settings = BrakeSettings {
                charge_current: Amperes::from_whole(amperes),
                mass: Kilograms::from_whole(kilograms),
                stop_with: milli(stop),
                beside_motors: milli(beside),
                without_charging: milli(free),
            };
            let speed = stopping(&settings).speed(Ratio::from_milli(share)).to_f64();
            let stated_m = TOP.to_f64() * TOP.to_f64() / (2.0 * settings.stop_with.to_f64());
            let needed_m = stops_within_m(&settings, f64::from(share) / 1000.0, speed);
            // Between two shares of the table the speed is on a chord, below a curve that bends
            // down; the sum has 64 steps.
            prop_assert!(
                needed_m <= stated_m * 1.02 || speed <= WALK.to_f64(),
                "{speed} m/s: {needed_m} of {stated_m} m"
            );
        }

        #[test]
        fn law_more_charging_never_leaves_less_speed_or_brake(
            share in any::<(i32, i32)>(), volts in 0_i32..100 << 16, speed in any::<(i32, i32)>(),
        ) {
            let stopping = stopping(&settings());
            let (less, more) = (share.0.min(share.1), share.0.max(share.1));
            let (less, more) = (Ratio::from_bits(less), Ratio::from_bits(more));
            prop_assert!(stopping.speed(less) <= stopping.speed(more));
            prop_assert!(stopping.speed(less) >= WALK && stopping.speed(more) <= TOP);
            let volts = Volts::from_bits(volts);
            let at = |share, speed| stopping.brake(volts, share, MetresPerSecond::from_bits(speed));
            prop_assert!(at(less, speed.0) <= at(more, speed.0));
            let (a, b) = (speed.0.saturating_abs(), speed.1.saturating_abs());
            prop_assert!(at(more, a.max(b)) <= at(more, a.min(b)));
            prop_assert!(at(more, a) >= Ratio::ZERO && at(more, a) <= Ratio::ONE);
        }
    }
}
