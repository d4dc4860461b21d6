//! The few sums that must neither wrap nor divide by nothing, written once, in plain integers.
//!
//! Used by every room; uses none. Integers, so that a laptop and a Cortex-M0 agree to the bit.

/// The nearest `i32`: values beyond its range stay at its end.
#[must_use]
pub(crate) fn narrow(wide: i64) -> i32 {
    i32::try_from(wide).unwrap_or(if wide < 0 { i32::MIN } else { i32::MAX })
}

/// `a * b / 2^shift`, rounded down, saturating. Two 32-bit factors cannot overflow 64 bits.
#[must_use]
pub(crate) fn scale(a: i32, b: i32, shift: u32) -> i32 {
    narrow(i64::from(a).wrapping_mul(i64::from(b)) >> shift.min(63))
}

/// `numerator * 2^shift / denominator`, rounded towards zero, saturating; zero over zero is zero.
#[must_use]
pub(crate) fn divide(numerator: i64, denominator: i64, shift: u32) -> i32 {
    let wide = i128::from(numerator) << shift.min(62);
    let quotient = wide.checked_div(i128::from(denominator)).unwrap_or(match numerator.signum() {
        0 => 0,
        sign => i128::from(sign) << 64,
    });
    i32::try_from(quotient).unwrap_or(if quotient < 0 { i32::MIN } else { i32::MAX })
}

/// The largest whole number whose square is at most `square`; nothing negative has a root.
#[must_use]
pub(crate) fn root(square: i64) -> i32 {
    narrow(i64::try_from(u64::try_from(square).unwrap_or(0).isqrt()).unwrap_or(i64::MAX))
}

/// Between `from` and `to`, `part / 2^bits` of the way; `part` outside 0..2^bits is held to it.
#[must_use]
pub(crate) fn between(from: i32, to: i32, part: i32, bits: u32) -> i32 {
    let part = i64::from(part).clamp(0, 1_i64 << bits.min(30));
    let step = i64::from(to).wrapping_sub(i64::from(from)).wrapping_mul(part) >> bits.min(30);
    narrow(i64::from(from).wrapping_add(step))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn law_a_root_is_the_largest_that_fits(square in 0_i64..(1 << 62)) {
            let root = i128::from(root(square));
            prop_assert!(root * root <= i128::from(square));
            prop_assert!((root + 1) * (root + 1) > i128::from(square));
        }

        #[test]
        fn law_between_stays_between(from: i32, to: i32, part in 0_i32..=1 << 16) {
            let value = between(from, to, part, 16);
            prop_assert!(value >= from.min(to) && value <= from.max(to));
        }

        #[test]
        fn law_division_agrees_with_wide_arithmetic(n in -1_i64 << 40..1 << 40, d in 1_i64..1 << 40) {
            let exact = (i128::from(n) << 16) / i128::from(d);
            let held = exact.clamp(i128::from(i32::MIN), i128::from(i32::MAX));
            prop_assert_eq!(i128::from(divide(n, d, 16)), held);
        }
    }

    #[test]
    fn dividing_by_nothing_saturates() {
        assert_eq!(divide(1, 0, 16), i32::MAX);
        assert_eq!(divide(-1, 0, 16), i32::MIN);
        assert_eq!(divide(0, 0, 16), 0);
    }
}
