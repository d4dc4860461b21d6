//! Length of way, forward positive.

use super::quantity::quantity;

quantity! {
    /// Length of way, forward positive, in metres; steps of 0.2 nm, up to ±2 million km.
    ///
    /// ```compile_fail
    /// use homestretch::units::{Metres, Joules};
    /// let wrong = Metres::from_whole(1) + Joules::from_whole(1);
    /// ```
    Metres: I32F32(i64), unit "m"
}
