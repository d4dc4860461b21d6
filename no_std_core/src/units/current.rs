//! Electric current, discharge positive.

use super::quantity::quantity;

quantity! {
    /// Electric current, discharge positive, in amperes; steps of 15 µA, up to ±32 kA.
    ///
    /// ```compile_fail
    /// use homestretch::units::{Amperes, Volts};
    /// let wrong = Amperes::from_whole(1) + Volts::from_whole(1);
    /// ```
    Amperes: I16F16(i32), unit "A"
}

use super::{Ohms, Volts};

impl core::ops::Mul<Ohms> for Amperes {
    type Output = Volts;
    /// Ohm's law, saturating, rounded down.
    fn mul(self, resistance: Ohms) -> Volts {
        Volts::from_bits(crate::math::scale::<{ Ohms::FRACTION_BITS }>(
            self.to_bits(),
            resistance.to_bits(),
        ))
    }
}
