//! Temperatures: a point on the scale and a difference are two things.

use super::quantity::quantity;

quantity! {
    /// A difference of temperature in kelvins; steps of 15 µK.
    Kelvins: I16F16(i32), unit "K"
}

/// A temperature in degrees Celsius; steps of 15 µK, up to ±32 000 °C.
///
/// Two temperatures can be subtracted, never added:
///
/// ```compile_fail
/// use homestretch::units::Celsius;
/// let wrong = Celsius::from_whole(1) + Celsius::from_whole(1);
/// ```
#[derive(Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[repr(transparent)]
pub struct Celsius(Kelvins);

impl Celsius {
    /// A temperature from thousandths of a degree, saturating.
    #[must_use]
    pub const fn from_milli(thousandths: i32) -> Self {
        Self(Kelvins::from_milli(thousandths))
    }

    /// A temperature from whole degrees, saturating.
    #[must_use]
    pub const fn from_whole(degrees: i32) -> Self {
        Self(Kelvins::from_whole(degrees))
    }

    /// The temperature nearest to `value` degrees, or nothing where it does not fit. For hosts.
    #[must_use]
    pub fn from_f64(value: f64) -> Option<Self> {
        Kelvins::from_f64(value).map(Self)
    }

    /// Degrees as a floating-point number. For hosts.
    #[must_use]
    pub fn to_f64(self) -> f64 {
        self.0.to_f64()
    }

    /// Millionths of a degree, rounded to the nearest.
    #[must_use]
    pub fn to_micro(self) -> i64 {
        self.0.to_micro()
    }

    /// The fixed-point number inside, in `2^-16` degrees.
    #[must_use]
    pub const fn to_bits(self) -> i32 {
        self.0.to_bits()
    }

    /// The reverse of [`Self::to_bits`].
    #[must_use]
    pub const fn from_bits(bits: i32) -> Self {
        Self(Kelvins::from_bits(bits))
    }
}

impl core::ops::Sub for Celsius {
    type Output = Kelvins;
    fn sub(self, other: Self) -> Kelvins {
        self.0 - other.0
    }
}

impl core::ops::Add<Kelvins> for Celsius {
    type Output = Self;
    fn add(self, difference: Kelvins) -> Self {
        Self(self.0 + difference)
    }
}

impl core::fmt::Debug for Celsius {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "{self}")
    }
}

impl core::fmt::Display for Celsius {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "{} degC", self.to_f64())
    }
}

#[cfg(feature = "defmt")]
impl defmt::Format for Celsius {
    fn format(&self, f: defmt::Formatter<'_>) {
        defmt::write!(f, "{} milli degC", self.0.to_milli());
    }
}
