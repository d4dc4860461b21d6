//! Electric potential.

use super::quantity::quantity;

quantity! {
    /// Electric potential, in volts; steps of 15 µV, up to ±32 kV.
    ///
    /// ```compile_fail
    /// use homestretch::units::{Volts, Amperes};
    /// let wrong = Volts::from_whole(1) + Amperes::from_whole(1);
    /// ```
    Volts: I16F16(i32), unit "V"
}

impl Volts {
    /// This voltage `count` times, saturating.
    #[must_use]
    pub fn times(self, count: u8) -> Self {
        Self::from_bits(self.to_bits().saturating_mul(i32::from(count)))
    }
}
