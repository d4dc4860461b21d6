//! Force, forward positive.

use super::quantity::quantity;

quantity! {
    /// Force, forward positive, in newtons; steps of 15 µN, up to ±32 kN.
    ///
    /// ```compile_fail
    /// use homestretch::units::{Newtons, Kilograms};
    /// let wrong = Newtons::from_whole(1) + Kilograms::from_whole(1);
    /// ```
    Newtons: I16F16(i32), unit "N"
}
