//! The few sums that must neither wrap nor divide by nothing, written once, in plain integers.
//!
//! Used by every room; uses none. Integers, so that a laptop and a Cortex-M0 agree to the bit.

/// The nearest `i32`: values beyond its range stay at its end.
#[must_use]
#[inline(never)]
pub(crate) fn narrow(wide: i64) -> i32 {
    i32::try_from(wide).unwrap_or(if wide < 0 { i32::MIN } else { i32::MAX })
}

/// `a + b`, saturating. Not inlined: 64 bits that saturate are long on a 32-bit core.
#[must_use]
#[inline(never)]
pub(crate) fn sum(a: i64, b: i64) -> i64 {
    a.saturating_add(b)
}

/// `a - b`, saturating.
#[must_use]
#[inline(never)]
pub(crate) fn difference(a: i64, b: i64) -> i64 {
    a.saturating_sub(b)
}

/// `bits` squared: at most 2^62.
#[must_use]
pub(crate) fn square(bits: i32) -> i64 {
    i64::from(bits).wrapping_mul(i64::from(bits))
}

/// `a * b / 2^SHIFT`, rounded down, saturating. Two 32-bit factors cannot overflow 64 bits.
///
/// The shift is part of the type, since a core without wide registers pays for one that is not
/// known while compiling. Not inlined: it is called from everywhere.
#[must_use]
#[inline(never)]
pub(crate) fn scale<const SHIFT: u32>(a: i32, b: i32) -> i32 {
    let wide = i64::from(a).wrapping_mul(i64::from(b)) >> SHIFT;
    // What `narrow` does, without the call.
    i32::try_from(wide).unwrap_or(if wide < 0 { i32::MIN } else { i32::MAX })
}

/// `a * b / 2^SHIFT`, rounded down, saturating, with a shift of at most 32.
///
/// In halves of 32 bits: a core without wide multiplication pays for two products, not for one of
/// 128 bits.
#[must_use]
#[inline(never)]
pub(crate) fn scale_wide<const SHIFT: u32>(a: i64, b: i32) -> i64 {
    const { assert!(SHIFT <= 32) }
    let up = const { 32_u32.saturating_sub(SHIFT) };
    let b = i64::from(b);
    let high = (a >> 32).wrapping_mul(b);
    // Less than 2^32 times at most 2^31.
    let low = (a & 0xFFFF_FFFF).wrapping_mul(b) >> SHIFT;
    let raised = high << up;
    if raised >> up == high {
        raised.saturating_add(low)
    } else if high < 0 {
        i64::MIN
    } else {
        i64::MAX
    }
}

/// `numerator * 2^shift / denominator`, rounded towards zero, saturating; zero over zero is zero.
#[must_use]
#[inline(never)]
pub(crate) fn divide(numerator: i64, denominator: i64, shift: u32) -> i32 {
    let size = quotient(numerator.unsigned_abs(), denominator.unsigned_abs(), shift.min(62));
    // Anything beyond 32 bits is cut to them before the sign is put back.
    let size = i64::from(u32::try_from(size).unwrap_or(u32::MAX));
    narrow(if (numerator < 0) == (denominator < 0) { size } else { size.wrapping_neg() })
}

/// `numerator * 2^shift / denominator`, rounded down; `u64::MAX` where that exceeds 32 bits by
/// far. As many bits at a time as fit: one division where the shifted numerator fits at once.
fn quotient(numerator: u64, denominator: u64, shift: u32) -> u64 {
    let (mut whole, mut rest, mut left) = (0_u64, numerator, shift);
    loop {
        let bits = rest.leading_zeros().min(left);
        if whole.leading_zeros() < bits {
            return u64::MAX;
        }
        rest = rest.wrapping_shl(bits);
        left = left.saturating_sub(bits);
        let Some((part, over)) = div_rem(rest, denominator) else {
            return if numerator == 0 { 0 } else { u64::MAX };
        };
        whole = whole.wrapping_shl(bits).saturating_add(part);
        rest = over;
        if left == 0 || whole > u64::from(u32::MAX) {
            return if left == 0 { whole } else { u64::MAX };
        }
    }
}

/// Quotient and remainder; nothing for a divisor of zero. In 32 bits where both fit, since a core
/// without a divider takes several times as long for 64.
fn div_rem(numerator: u64, denominator: u64) -> Option<(u64, u64)> {
    if let (Ok(n), Ok(d)) = (u32::try_from(numerator), u32::try_from(denominator)) {
        let (part, over) = (n.checked_div(d)?, n.checked_rem(d)?);
        return Some((u64::from(part), u64::from(over)));
    }
    Some((numerator.checked_div(denominator)?, numerator.checked_rem(denominator)?))
}

/// The root of `square`, never above it: exact up to 2^32, and to sixteen bits beyond. Rises with its
/// square; nothing negative has a root.
///
/// Bit by bit, since a core without a divider takes several times as long for Newton's way. Doubts
/// and distances are what has roots here: sixteen bits are more than they are known to.
#[must_use]
#[inline(never)]
pub(crate) fn root(square: i64) -> i32 {
    let square = u64::try_from(square).unwrap_or(0);
    // An even number of bits is left out, so that half of them comes back.
    let left_out = 32_u32.saturating_sub(square.leading_zeros()).next_multiple_of(2);
    let kept = u32::try_from(square >> left_out).unwrap_or(u32::MAX);
    let (mut rest, mut root, mut bit) = (kept, 0_u32, 1_u32 << 30);
    while bit != 0 {
        let with_bit = root | bit;
        root >>= 1;
        if rest >= with_bit {
            rest = rest.wrapping_sub(with_bit);
            root |= bit;
        }
        bit >>= 2;
    }
    narrow(i64::from(root) << (left_out >> 1))
}

/// Between `from` and `to`, `part / 2^BITS` of the way (up to 2^30); `part` outside 0..2^BITS is
/// held to it.
#[must_use]
#[inline(never)]
pub(crate) fn between<const BITS: u32>(from: i32, to: i32, part: i32) -> i32 {
    let part = part.clamp(0, 1 << BITS);
    match to.checked_sub(from) {
        Some(way) => from.saturating_add(scale::<BITS>(way, part)),
        None => {
            let way = i64::from(to).wrapping_sub(i64::from(from));
            narrow(i64::from(from).wrapping_add(way.wrapping_mul(i64::from(part)) >> BITS))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn law_a_root_is_below_the_exact_one_and_close(square in 0_i64..(1 << 62), smaller in 0_u32..62) {
            let square = square >> smaller;
            let (root, exact) = (i64::from(root(square)), square.isqrt());
            prop_assert!(root <= exact && exact - root <= exact >> 15, "{root} {exact}");
            prop_assert!(square >= 1 << 32 || root == exact, "{root} {exact}");
        }

        #[test]
        fn law_a_root_rises_with_its_square(a in 0_i64..(1 << 62), b in 0_i64..(1 << 62), smaller in 0_u32..62) {
            let (a, b) = (a >> smaller, b >> smaller);
            prop_assert!(root(a.min(b)) <= root(a.max(b)));
        }

        #[test]
        fn law_between_stays_between(from: i32, to: i32, part in 0_i32..=1 << 16) {
            let value = between::<16>(from, to, part);
            prop_assert!(value >= from.min(to) && value <= from.max(to));
        }

        #[test]
        fn law_division_agrees_with_wide_arithmetic(
            n: i64, d: i64, smaller in (0_u32..64, 0_u32..64), shift in 0_u32..=62
        ) {
            let (n, d) = (n >> smaller.0, d >> smaller.1);
            prop_assume!(d != 0);
            let exact = (i128::from(n) << shift) / i128::from(d);
            let held = exact.clamp(i128::from(i32::MIN), i128::from(i32::MAX));
            prop_assert_eq!(i128::from(divide(n, d, shift)), held);
        }

        #[test]
        fn law_scaling_agrees_with_wide_arithmetic(
            a: i64, b: i32, smaller in (0_u32..64, 0_u32..32)
        ) {
            let (a, b) = (a >> smaller.0, b >> smaller.1);
            agrees::<0>(a, b)?;
            agrees::<9>(a, b)?;
            agrees::<24>(a, b)?;
            agrees::<32>(a, b)?;
        }
    }

    fn agrees<const SHIFT: u32>(a: i64, b: i32) -> Result<(), TestCaseError> {
        let exact = (i128::from(a) * i128::from(b)) >> SHIFT;
        let told = i128::from(scale_wide::<SHIFT>(a, b));
        let held = exact.clamp(i128::from(i64::MIN), i128::from(i64::MAX));
        // Near the type's end it may saturate already.
        let margin = (1 << 32) * i128::from(b).abs();
        let near = held.abs() > i128::from(i64::MAX) - margin;
        prop_assert!(told == held || near && (told - held).abs() <= margin);
        Ok(())
    }

    #[test]
    fn dividing_by_nothing_saturates() {
        assert_eq!(divide(1, 0, 16), i32::MAX);
        assert_eq!(divide(-1, 0, 16), i32::MIN);
        assert_eq!(divide(0, 0, 16), 0);
    }
}
