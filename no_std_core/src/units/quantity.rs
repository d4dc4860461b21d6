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
    let wide = i128::from(bits).saturating_mul(1000) >> fraction_bits;
    i32::try_from(wide).unwrap_or(if wide < 0 { i32::MIN } else { i32::MAX })
}

/// Millionths of a unit, rounded to the nearest that the bits can tell; see `to_micro`.
#[inline(never)]
pub(super) fn micro(bits: i64, fraction_bits: u32) -> i64 {
    let told: i128 = if fraction_bits < 17 { 100 } else { 1 };
    let per_unit: i128 = if fraction_bits < 17 { 10_000 } else { 1_000_000 };
    let half = 1_i128 << (fraction_bits.saturating_sub(1));
    let scaled = i128::from(bits).saturating_mul(per_unit).saturating_add(half);
    let micro = (scaled >> fraction_bits).saturating_mul(told);
    i64::try_from(micro).unwrap_or(if micro < 0 { i64::MIN } else { i64::MAX })
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
