//! What a quantity makes of floating-point numbers, as a digest.
//!
//! No tick uses a float. Hosts do, on their way in and out of the library, and a firmware may: so
//! these helpers, too, have to give the same bits on a core without a floating-point unit.

use core::hash::Hash;

use homestretch::units::{Amperes, Celsius, Coulombs, Joules, Metres, Ratio, Volts};

use crate::digest::Digest;

/// The digest of some thousand conversions in both directions: large, small, negative, halves of a
/// step, and numbers that fit no quantity.
#[must_use]
pub fn digest() -> u32 {
    let mut digest = Digest::default();
    // A linear congruential generator (Numerical Recipes' constants, from memory): any will do.
    let mut bits = 1_u32;
    for _ in 0..500 {
        bits = bits.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let narrow = bits.cast_signed();
        let wide = i64::from(narrow) * i64::from(bits >> 7);
        for float in [
            Volts::from_bits(narrow).to_f64(),
            Ratio::from_bits(narrow).to_f64(),
            Celsius::from_bits(narrow).to_f64(),
            Coulombs::from_bits(wide).to_f64(),
            Metres::from_bits(wide).to_f64(),
        ] {
            float.to_bits().hash(&mut digest);
            for float in [float, float / 3.0, float * 1.000_007, -float * float] {
                Amperes::from_f64(float).hash(&mut digest);
                Ratio::from_f64(float).hash(&mut digest);
                Joules::from_f64(float).hash(&mut digest);
            }
        }
    }
    for float in [f64::NAN, f64::INFINITY, f64::MIN_POSITIVE, f64::MAX, -0.0] {
        Volts::from_f64(float).hash(&mut digest);
        Metres::from_f64(float).hash(&mut digest);
    }
    digest.value()
}
