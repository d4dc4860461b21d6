//! Quantities as whole steps on air, and back.
//!
//! Used by `report`. What does not fit goes to the end of its range, never around it; what comes back
//! is the value of the type nearest to the step. Steps are round in decimal, but for the charge's, so
//! that a log of what came by radio holds it exactly.

use crate::units::{Amperes, Celsius, Coulombs, Metres, MetresPerSecond, Volts};

/// `bits * 25 / 2^SHIFT`, to the nearest: 200 or 50 steps for a unit of 16 fraction bits. In 32 bits,
/// for a core without wide multiplication: `bits` is below 2^26 either way.
fn whole<const SHIFT: u32>(bits: i32) -> i32 {
    let half = const { 1_i32 << SHIFT.saturating_sub(1) };
    bits.wrapping_mul(25).wrapping_add(half) >> SHIFT
}

/// `count * per_count / 2^SHIFT`, to the nearest.
fn nearest<const SHIFT: u32>(count: i32, per_count: i32) -> i32 {
    let half = const { 1_i64 << SHIFT.saturating_sub(1) };
    let wide = i64::from(count).wrapping_mul(i64::from(per_count)).wrapping_add(half) >> SHIFT;
    crate::math::narrow(wide)
}

/// A pack's voltage in steps of 5 mV, 0 to 327.675 V.
pub(super) mod pack_voltage {
    use super::*;

    const MOST_BITS: i32 = 21_474_672;

    pub(crate) fn steps(volts: Volts) -> u16 {
        // 200 steps for 2^16 of the type's own; what is held to the range times 25 is below 2^30.
        let bits = volts.to_bits().clamp(0, MOST_BITS);
        u16::try_from(whole::<13>(bits)).unwrap_or(u16::MAX)
    }

    pub(crate) fn of(steps: u16) -> Volts {
        // 327.68 with 20 fraction bits.
        Volts::from_bits(nearest::<20>(steps.into(), 343_597_384))
    }
}

/// A pack's current in steps of 20 mA, -655.34 to 655.34 A.
pub(super) mod pack_current {
    use super::*;

    const MOST_BITS: i32 = 42_949_017;

    pub(crate) fn steps(amperes: Amperes) -> i16 {
        let bits = amperes.to_bits().clamp(-MOST_BITS, MOST_BITS);
        i16::try_from(whole::<15>(bits)).unwrap_or(i16::MAX)
    }

    pub(crate) fn of(steps: i16) -> Amperes {
        // 1310.72 with 20 fraction bits.
        Amperes::from_bits(nearest::<20>(steps.into(), 1_374_389_535))
    }
}

/// Charge in steps of 1/32 C (9 µAh), counted around 2^24 of them.
pub(super) mod charge {
    use super::*;

    const SHIFT: u32 = Coulombs::FRACTION_BITS - 5;

    pub(crate) fn steps(coulombs: Coulombs) -> u32 {
        let steps = coulombs.to_bits().saturating_add(1 << (SHIFT - 1)) >> SHIFT;
        let [b0, b1, b2, ..] = steps.to_le_bytes();
        u32::from_le_bytes([b0, b1, b2, 0])
    }

    pub(crate) fn of(steps: i32) -> Coulombs {
        Coulombs::from_bits(i64::from(steps) << SHIFT)
    }
}

/// A way in steps of an eighth of a metre, counted around 2^16 of them.
pub(super) mod distance {
    use super::*;

    const SHIFT: u32 = Metres::FRACTION_BITS - 3;

    pub(crate) fn steps(metres: Metres) -> u16 {
        let steps = metres.to_bits().saturating_add(1 << (SHIFT - 1)) >> SHIFT;
        let [b0, b1, ..] = steps.to_le_bytes();
        u16::from_le_bytes([b0, b1])
    }

    pub(crate) fn of(steps: i32) -> Metres {
        Metres::from_bits(i64::from(steps) << SHIFT)
    }
}

/// A speed in steps of 20 mm/s, -40.94 to 40.94 m/s, in twelve bits.
pub(super) mod speed {
    use super::*;

    const MOST_BITS: i32 = 2_683_043;

    pub(crate) fn steps(speed: MetresPerSecond) -> i16 {
        let bits = speed.to_bits().clamp(-MOST_BITS, MOST_BITS);
        i16::try_from(whole::<15>(bits)).unwrap_or(0)
    }

    pub(crate) fn of(steps: i16) -> MetresPerSecond {
        MetresPerSecond::from_bits(nearest::<20>(steps.into(), 1_374_389_535))
    }
}

/// A cell's voltage in steps of 5 mV, 0 to 5.11 V, in ten bits.
pub(super) mod cell_voltage {
    use super::*;

    const MOST: u16 = 1022;

    pub(crate) fn steps(volts: Volts) -> u16 {
        pack_voltage::steps(volts).min(MOST)
    }

    pub(crate) fn of(steps: u16) -> Volts {
        pack_voltage::of(steps)
    }
}

/// The cells' temperature in steps of half a kelvin, -40 to 87 °C, in a byte.
pub(super) mod cell_temperature {
    use super::*;

    pub(crate) fn steps(celsius: Celsius) -> u8 {
        celsius_steps::<15>(celsius)
    }

    pub(crate) fn of(steps: u8) -> Celsius {
        celsius_of::<15>(steps)
    }
}

/// A motor's or a motor controller's temperature in kelvins, -40 to 214 °C, in a byte.
pub(super) mod hot_temperature {
    use super::*;

    pub(crate) fn steps(celsius: Celsius) -> u8 {
        celsius_steps::<16>(celsius)
    }

    pub(crate) fn of(steps: u8) -> Celsius {
        celsius_of::<16>(steps)
    }
}

/// The lowest temperature, with the type's 16 fraction bits.
const COLDEST: i32 = -40 << 16;
/// 255 means that nothing measures it.
const MOST_STEPS: u8 = 254;

fn celsius_steps<const SHIFT: u32>(celsius: Celsius) -> u8 {
    let half = const { 1_i32 << SHIFT.saturating_sub(1) };
    let above = celsius.to_bits().saturating_sub(COLDEST).saturating_add(half) >> SHIFT;
    u8::try_from(above.clamp(0, MOST_STEPS.into())).unwrap_or(MOST_STEPS)
}

fn celsius_of<const SHIFT: u32>(steps: u8) -> Celsius {
    let above = i32::from(steps) << SHIFT;
    Celsius::from_bits(above.saturating_add(COLDEST))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn each_step_is_its_decimal_value_and_comes_back_as_the_same_step() {
        for n in 0..=u16::MAX {
            assert_eq!(pack_voltage::of(n), Volts::from_f64(f64::from(n) / 200.0).unwrap());
            assert_eq!(pack_voltage::steps(pack_voltage::of(n)), n);
        }
        for n in -i16::MAX..=i16::MAX {
            assert_eq!(pack_current::of(n), Amperes::from_f64(f64::from(n) / 50.0).unwrap());
            assert_eq!(pack_current::steps(pack_current::of(n)), n);
        }
        for n in -2047..=2047 {
            assert_eq!(speed::of(n), MetresPerSecond::from_f64(f64::from(n) / 50.0).unwrap());
            assert_eq!(speed::steps(speed::of(n)), n);
        }
        for n in 0..=1022 {
            assert_eq!(cell_voltage::steps(cell_voltage::of(n)), n);
        }
        for n in 0..=254 {
            let half = Celsius::from_f64(f64::from(n) / 2.0 - 40.0).unwrap();
            assert_eq!((cell_temperature::of(n), cell_temperature::steps(half)), (half, n));
            let whole = Celsius::from_whole(i32::from(n) - 40);
            assert_eq!((hot_temperature::of(n), hot_temperature::steps(whole)), (whole, n));
        }
    }

    #[test]
    fn what_does_not_fit_stays_at_the_end_of_its_range() {
        assert_eq!(pack_voltage::steps(Volts::MAX), u16::MAX);
        assert_eq!(pack_voltage::steps(Volts::MIN), 0);
        assert_eq!(pack_current::steps(Amperes::MAX), i16::MAX);
        assert_eq!(pack_current::steps(Amperes::MIN), -i16::MAX);
        assert_eq!(speed::steps(MetresPerSecond::MAX), 2047);
        assert_eq!(speed::steps(MetresPerSecond::MIN), -2047);
        assert_eq!(cell_voltage::steps(Volts::MAX), 1022);
        assert_eq!(cell_temperature::steps(Celsius::from_whole(1000)), 254);
        assert_eq!(cell_temperature::steps(Celsius::from_bits(i32::MIN)), 0);
        assert_eq!(hot_temperature::steps(Celsius::from_bits(i32::MAX)), 254);
    }

    proptest! {
        #[test]
        fn law_what_fits_is_told_to_half_a_step(
            volts in 0.0..327.6, amperes in -655.3..655.3, speed in -40.9..40.9, cell in 0.0..5.1,
            warm in -40.0..87.0,
        ) {
            let half = 0.5 + 2e-3;
            let back = pack_voltage::of(pack_voltage::steps(Volts::from_f64(volts).unwrap()));
            prop_assert!((back.to_f64() - volts).abs() < 0.005 * half);
            let back = pack_current::of(pack_current::steps(Amperes::from_f64(amperes).unwrap()));
            prop_assert!((back.to_f64() - amperes).abs() < 0.02 * half);
            let back = speed::of(speed::steps(MetresPerSecond::from_f64(speed).unwrap()));
            prop_assert!((back.to_f64() - speed).abs() < 0.02 * half);
            let back = cell_voltage::of(cell_voltage::steps(Volts::from_f64(cell).unwrap()));
            prop_assert!((back.to_f64() - cell).abs() < 0.005 * half);
            let celsius = Celsius::from_f64(warm).unwrap();
            let back = cell_temperature::of(cell_temperature::steps(celsius));
            prop_assert!((f64::from(back.to_bits()) / 65536.0 - warm).abs() < 0.5 * half);
        }

        #[test]
        fn law_charge_and_way_are_told_to_half_a_step_around_their_ends(
            coulombs in -262_000.0..262_000.0_f64, metres in -4000.0..4000.0_f64,
        ) {
            let signed = |steps: u32| (steps << 8).cast_signed() >> 8;
            let back = charge::of(signed(charge::steps(Coulombs::from_f64(coulombs).unwrap())));
            prop_assert!((back.to_f64() - coulombs).abs() < 0.0157);
            let steps = distance::steps(Metres::from_f64(metres).unwrap()).cast_signed();
            prop_assert!((distance::of(steps.into()).to_f64() - metres).abs() < 0.0626);
        }

        #[test]
        fn law_more_is_never_told_as_less(a: i32, b: i32) {
            let (low, high) = (a.min(b), a.max(b));
            prop_assert!(pack_voltage::steps(Volts::from_bits(low)) <= pack_voltage::steps(Volts::from_bits(high)));
            prop_assert!(pack_current::steps(Amperes::from_bits(low)) <= pack_current::steps(Amperes::from_bits(high)));
            prop_assert!(
                cell_temperature::steps(Celsius::from_bits(low)) <= cell_temperature::steps(Celsius::from_bits(high))
            );
        }
    }
}
