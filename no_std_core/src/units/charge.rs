//! Electric charge, discharge positive.

use super::quantity::quantity;

quantity! {
    /// Electric charge, discharge positive, in coulombs; steps of 0.2 nC, up to ±596 kAh.
    ///
    /// ```compile_fail
    /// use homestretch::units::{Coulombs, Joules};
    /// let wrong = Coulombs::from_whole(1) + Joules::from_whole(1);
    /// ```
    Coulombs: I32F32(i64), unit "C"
}

impl Coulombs {
    /// A charge from thousandths of an ampere-hour.
    #[must_use]
    pub fn from_milliampere_hours(thousandths: i32) -> Self {
        Self::from_bits((i64::from(thousandths) << Self::FRACTION_BITS).saturating_mul(18) / 5)
    }
}
