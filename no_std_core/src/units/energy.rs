//! Energy.

use super::quantity::quantity;

quantity! {
    /// Energy, in joules; steps of 0.2 nJ, up to ±596 kWh.
    ///
    /// ```compile_fail
    /// use homestretch::units::{Joules, Coulombs};
    /// let wrong = Joules::from_whole(1) + Coulombs::from_whole(1);
    /// ```
    Joules: I32F32(i64), unit "J"
}
