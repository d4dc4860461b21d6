//! Electric resistance.

use super::quantity::quantity;

quantity! {
    /// Electric resistance, in ohms; steps of 60 nΩ, up to ±128 Ω.
    ///
    /// ```compile_fail
    /// use homestretch::units::{Ohms, Volts};
    /// let wrong = Ohms::from_whole(1) + Volts::from_whole(1);
    /// ```
    Ohms: I8F24(i32), unit "ohm"
}
