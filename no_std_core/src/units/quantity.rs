//! The pattern that every quantity follows, written once.
//!
//! Used by its neighbours in `units` only.

/// Defines a quantity: a saturating newtype over a `fixed` number.
macro_rules! quantity {
    ($(#[$about:meta])* $name:ident: $fixed:ident($bits:ident), unit $unit:literal) => {
        $(#[$about])*
        #[derive(Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
        #[repr(transparent)]
        pub struct $name(fixed::types::$fixed);

        impl $name {
            /// None of it.
            pub const ZERO: Self = Self(fixed::types::$fixed::ZERO);
            /// The largest value that the type holds; sums beyond it stay here.
            pub const MAX: Self = Self(fixed::types::$fixed::MAX);
            /// The smallest (most negative) value that the type holds.
            pub const MIN: Self = Self(fixed::types::$fixed::MIN);
            /// How many fractional bits `to_bits` has.
            pub const FRACTION_BITS: u32 = fixed::types::$fixed::FRAC_NBITS;

            /// A value from thousandths of the unit, saturating.
            #[must_use]
            pub const fn from_milli(thousandths: i32) -> Self {
                Self::from_fraction(thousandths, 1000)
            }

            /// A value from a whole number of the unit, saturating.
            #[must_use]
            pub const fn from_whole(whole: i32) -> Self {
                Self::from_fraction(whole, 1)
            }

            /// `numerator / denominator` of the unit, rounded towards zero, saturating;
            /// a denominator of zero counts as one.
            #[must_use]
            #[allow(
                clippy::as_conversions,
                clippy::arithmetic_side_effects,
                reason = "const fn cannot use From; i128 holds i32 << 32, and the divisor is at least 1"
            )]
            pub const fn from_fraction(numerator: i32, denominator: u32) -> Self {
                let divisor = if denominator == 0 { 1 } else { denominator as i128 };
                let bits = ((numerator as i128) << Self::FRACTION_BITS) / divisor;
                if bits > $bits::MAX as i128 {
                    Self::MAX
                } else if bits < $bits::MIN as i128 {
                    Self::MIN
                } else {
                    #[allow(clippy::cast_possible_truncation, reason = "checked on the lines above")]
                    let narrow = bits as $bits;
                    Self(fixed::types::$fixed::from_bits(narrow))
                }
            }

            /// The value nearest to `value`, or nothing where it is no finite number or does
            /// not fit the type. For hosts; no part of the library's own arithmetic.
            #[must_use]
            pub fn from_f64(value: f64) -> Option<Self> {
                fixed::types::$fixed::checked_from_num(value).map(Self)
            }

            /// The value as a floating-point number. For hosts.
            #[must_use]
            pub fn to_f64(self) -> f64 {
                self.0.to_num()
            }

            /// The value in thousandths of the unit, rounded down, saturating.
            #[must_use]
            pub fn to_milli(self) -> i32 {
                crate::units::quantity::milli(i64::from(self.0.to_bits()), Self::FRACTION_BITS)
            }

            /// The value in millionths of the unit, rounded to the nearest that the type can tell:
            /// where its steps are larger than ten millionths, to a whole hundred of them.
            #[must_use]
            pub fn to_micro(self) -> i64 {
                crate::units::quantity::micro(i64::from(self.0.to_bits()), Self::FRACTION_BITS)
            }

            /// The fixed-point number inside, as an integer of `2^-FRACTION_BITS` units.
            #[must_use]
            pub const fn to_bits(self) -> $bits {
                self.0.to_bits()
            }

            /// The reverse of [`Self::to_bits`].
            #[must_use]
            pub const fn from_bits(bits: $bits) -> Self {
                Self(fixed::types::$fixed::from_bits(bits))
            }

            /// Its size without its sign, saturating.
            #[must_use]
            pub const fn magnitude(self) -> Self {
                Self(self.0.saturating_abs())
            }

            /// The value held within `lowest` and `highest`; `lowest` wins where they cross.
            #[must_use]
            pub fn held_within(self, lowest: Self, highest: Self) -> Self {
                self.min(highest).max(lowest)
            }

            /// This many times a pure number, saturating, rounded down.
            #[must_use]
            pub fn scaled(self, by: crate::units::Ratio) -> Self {
                use crate::units::quantity::Bits as _;
                Self::from_bits(self.0.to_bits().times(by.to_bits()))
            }
        }

        impl core::ops::Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self(self.0.saturating_add(other.0))
            }
        }

        impl core::ops::Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self(self.0.saturating_sub(other.0))
            }
        }

        impl core::ops::Neg for $name {
            type Output = Self;
            fn neg(self) -> Self {
                Self(self.0.saturating_neg())
            }
        }

        impl core::fmt::Debug for $name {
            fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
                write!(f, "{} {}", self.0, $unit)
            }
        }

        impl core::fmt::Display for $name {
            fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
                write!(f, "{} {}", self.0, $unit)
            }
        }

        #[cfg(feature = "defmt")]
        impl defmt::Format for $name {
            fn format(&self, f: defmt::Formatter<'_>) {
                defmt::write!(f, "{} milli {}", self.to_milli(), $unit);
            }
        }
    };
}

/// Thousandths of a unit, rounded down, saturating.
#[inline(never)]
pub(super) fn milli(bits: i64, fraction_bits: u32) -> i32 {
    crate::math::narrow(parts(bits, fraction_bits, 1000, 0))
}

/// Millionths of a unit, rounded to the nearest that the bits can tell; see `to_micro`.
#[inline(never)]
pub(super) fn micro(bits: i64, fraction_bits: u32) -> i64 {
    let half = 1_i64.wrapping_shl(fraction_bits.saturating_sub(1));
    if fraction_bits < 17 {
        parts(bits, fraction_bits, 10_000, half).wrapping_mul(100)
    } else {
        parts(bits, fraction_bits, 1_000_000, half)
    }
}

/// `(bits * per_unit + rounding) / 2^fraction_bits`, rounded down, with whole units and their
/// fraction each on their own: at 16 to 32 fraction bits neither part leaves 63 bits.
fn parts(bits: i64, fraction_bits: u32, per_unit: i64, rounding: i64) -> i64 {
    let whole = bits.wrapping_shr(fraction_bits);
    let fraction = bits.wrapping_sub(whole.wrapping_shl(fraction_bits));
    let of_fraction = fraction.wrapping_mul(per_unit).wrapping_add(rounding);
    whole.wrapping_mul(per_unit).wrapping_add(of_fraction.wrapping_shr(fraction_bits))
}

/// The integers under quantities.
pub(super) trait Bits {
    /// This many times the bits of a ratio, saturating, rounded down.
    fn times(self, ratio: i32) -> Self;
}

impl Bits for i32 {
    fn times(self, ratio: i32) -> Self {
        crate::math::scale::<{ crate::units::Ratio::FRACTION_BITS }>(self, ratio)
    }
}

impl Bits for i64 {
    fn times(self, ratio: i32) -> Self {
        crate::math::scale_wide::<{ crate::units::Ratio::FRACTION_BITS }>(self, ratio)
    }
}

pub(super) use quantity;
