//! A demand as the pulse that model-building servos and motor controllers take.
//!
//! The motor controller has to be set to torque (current) and to take the short side as a **brake**:
//! one that takes it as reverse would drive backwards. Try it with the wheels off the ground.

use embedded_hal::pwm::SetDutyCycle;

use crate::math::scale;
use crate::receiver::Order;
use crate::units::Ratio;

/// How long the pulse is for what.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Pulses {
    /// Full brake, in microseconds.
    pub brake_us: u16,
    /// Neither brake nor drive.
    pub neutral_us: u16,
    /// Full drive.
    pub drive_us: u16,
    /// From one pulse to the next.
    pub period_us: u16,
}

impl Pulses {
    /// 1 ms, 1.5 ms and 2 ms, fifty times a second. Common practice, no source.
    pub const USUAL: Self =
        Self { brake_us: 1000, neutral_us: 1500, drive_us: 2000, period_us: 20_000 };
}

/// Pulses that make no sense: `brake_us < neutral_us < drive_us < period_us` is wanted, each at least
/// a tenth of a millisecond from the next, and a converter that can tell such a tenth.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct NotAPulse {
    /// What was given.
    pub given: Pulses,
    /// The greatest duty that the output knows.
    pub max_duty: u16,
}

impl core::fmt::Display for NotAPulse {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        let Pulses { brake_us, neutral_us, drive_us, period_us } = self.given;
        write!(
            f,
            "pulses of {brake_us} (brake), {neutral_us} (neutral) and {drive_us} us (drive) every \
             {period_us} us; each has to be at least 100 us above the one before it, and the output \
             (greatest duty {}) has to tell 100 us",
            self.max_duty
        )
    }
}

impl core::error::Error for NotAPulse {}

const LEAST_US: u16 = 100;

/// A servo pulse on any output that has a duty cycle and runs at the pulses' period.
#[derive(Debug)]
pub struct ServoPulse<P> {
    pin: P,
    /// Duties, for the three pulses.
    brake: i32,
    neutral: i32,
    drive: i32,
}

impl<P: SetDutyCycle> ServoPulse<P> {
    /// An output for these pulses; nothing is put out yet. The caller has set the output's period.
    ///
    /// # Errors
    /// [`NotAPulse`].
    pub fn new(pin: P, pulses: Pulses) -> Result<Self, NotAPulse> {
        let max_duty = pin.max_duty_cycle();
        let Pulses { brake_us, neutral_us, drive_us, period_us } = pulses;
        let ordered =
            [(0, brake_us), (brake_us, neutral_us), (neutral_us, drive_us), (drive_us, period_us)]
                .into_iter()
                .all(|(shorter, longer)| longer.saturating_sub(shorter) >= LEAST_US);
        let duty = |pulse_us: u16| {
            let wide = u32::from(pulse_us).saturating_mul(u32::from(max_duty));
            i32::try_from(wide.checked_div(u32::from(period_us)).unwrap_or(0)).unwrap_or(0)
        };
        if !ordered || duty(LEAST_US) == 0 {
            return Err(NotAPulse { given: pulses, max_duty });
        }
        Ok(Self { pin, brake: duty(brake_us), neutral: duty(neutral_us), drive: duty(drive_us) })
    }

    /// Puts out a demand's share: -1 full brake, 0 neutral, 1 full drive; held to that.
    ///
    /// # Errors
    /// The output's own.
    pub fn put(&mut self, share: Ratio) -> Result<(), P::Error> {
        let share = share.held_within(-Ratio::ONE, Ratio::ONE).to_bits();
        let end = if share < 0 { self.brake } else { self.drive };
        let way = end.saturating_sub(self.neutral).saturating_abs();
        // Rounded down: towards full brake, never towards more drive.
        let moved = scale::<{ Ratio::FRACTION_BITS }>(way, share);
        let duty = self.neutral.saturating_add(moved);
        self.pin.set_duty_cycle(u16::try_from(duty).unwrap_or(0))
    }

    /// Puts out an order of the board's end. A pulse has no way of saying backwards: its short side is a
    /// brake, so that a drive backwards becomes neither.
    ///
    /// # Errors
    /// The output's own.
    pub fn obey(&mut self, order: &Order) -> Result<(), P::Error> {
        self.put(if order.backward { Ratio::ZERO } else { order.share })
    }

    /// Ends the pulses. A motor controller takes that for a receiver that is gone, and does what it
    /// was set to do then.
    ///
    /// # Errors
    /// The output's own.
    pub fn silence(&mut self) -> Result<(), P::Error> {
        self.pin.set_duty_cycle(0)
    }

    /// The output, given back.
    pub fn into_inner(self) -> P {
        self.pin
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use embedded_hal_mock::eh1::pwm::{Mock, Transaction};
    use proptest::prelude::*;
    use std::vec::Vec;

    /// A counter of a microsecond each: a duty is a pulse's length.
    fn said(shares: &[Ratio], duties: &[u16]) {
        let asks = core::iter::once(Transaction::max_duty_cycle(20_000));
        let sets = duties.iter().map(|&duty| Transaction::set_duty_cycle(duty));
        let expected: Vec<_> = asks.chain(sets).collect();
        let mut servo = ServoPulse::new(Mock::new(&expected), Pulses::USUAL).unwrap();
        for &share in shares {
            servo.put(share).unwrap();
        }
        servo.into_inner().done();
    }

    #[test]
    fn brake_neutral_and_drive_have_their_lengths() {
        let shares = [-100, -50, 0, 50, 100].map(Ratio::from_percent);
        said(&shares, &[1000, 1250, 1500, 1750, 2000]);
        said(&[Ratio::from_whole(-3), Ratio::from_whole(3)], &[1000, 2000]);
    }

    #[test]
    fn an_order_backwards_is_no_brake() {
        use crate::receiver::{Measured, Receiver};
        let settings = crate::throttle::laws::settings();
        let now = crate::time::Instant::from_micros(0);
        let order = Receiver::new().tick(now, None, &Measured::default(), &settings);
        let braking = Order { share: Ratio::from_percent(-50), ..order };
        let expected = [
            Transaction::max_duty_cycle(20_000),
            Transaction::set_duty_cycle(1250),
            Transaction::set_duty_cycle(1500),
        ];
        let mut servo = ServoPulse::new(Mock::new(&expected), Pulses::USUAL).unwrap();
        servo.obey(&braking).unwrap();
        servo.obey(&Order { backward: true, ..braking }).unwrap();
        servo.into_inner().done();
    }

    #[test]
    fn silence_is_no_pulse() {
        let expected = [Transaction::max_duty_cycle(1000), Transaction::set_duty_cycle(0)];
        let mut servo = ServoPulse::new(Mock::new(&expected), Pulses::USUAL).unwrap();
        servo.silence().unwrap();
        servo.into_inner().done();
    }

    #[test]
    fn an_output_that_fails_says_so() {
        let error = embedded_hal_mock::eh1::MockError::Io(std::io::ErrorKind::Other);
        let expected = [
            Transaction::max_duty_cycle(20_000),
            Transaction::set_duty_cycle(1500).with_error(error.clone()),
        ];
        let mut servo = ServoPulse::new(Mock::new(&expected), Pulses::USUAL).unwrap();
        assert_eq!(servo.put(Ratio::ZERO), Err(error));
        servo.into_inner().done();
    }

    #[test]
    fn pulses_that_make_no_sense_are_refused_with_their_lengths() {
        let crossed = Pulses { neutral_us: 2000, ..Pulses::USUAL };
        for (pulses, max_duty) in [(crossed, 20_000), (Pulses::USUAL, 100)] {
            let mut pin = Mock::new(&[Transaction::max_duty_cycle(max_duty)]);
            let fault = ServoPulse::new(pin.clone(), pulses).unwrap_err();
            assert_eq!(fault, NotAPulse { given: pulses, max_duty });
            assert!(std::format!("{fault}").contains("1000 (brake)"));
            pin.done();
        }
    }

    proptest! {
        #[test]
        fn law_more_share_is_never_a_shorter_pulse_and_never_out_of_bounds(
            a: i32, b: i32, max_duty in 200_u16..
        ) {
            let duty_of = |share| {
                let mut duty = 0;
                let pin = Recorder { max_duty, duty: &mut duty };
                ServoPulse::new(pin, Pulses::USUAL).unwrap().put(Ratio::from_bits(share)).unwrap();
                duty
            };
            let (less, more) = (duty_of(a.min(b)), duty_of(a.max(b)));
            prop_assert!(less <= more);
            prop_assert!(u32::from(more) * 20_000 <= 2000 * u32::from(max_duty));
        }
    }

    struct Recorder<'a> {
        max_duty: u16,
        duty: &'a mut u16,
    }

    impl embedded_hal::pwm::ErrorType for Recorder<'_> {
        type Error = core::convert::Infallible;
    }

    impl SetDutyCycle for Recorder<'_> {
        fn max_duty_cycle(&self) -> u16 {
            self.max_duty
        }

        fn set_duty_cycle(&mut self, duty: u16) -> Result<(), Self::Error> {
            *self.duty = duty;
            Ok(())
        }
    }
}
