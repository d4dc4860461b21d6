//! Mass.

use super::quantity::quantity;

quantity! {
    /// Mass, in kilograms; steps of 15 mg, up to 32 t.
    ///
    /// ```compile_fail
    /// use homestretch::units::{Kilograms, Joules};
    /// let wrong = Kilograms::from_whole(1) + Joules::from_whole(1);
    /// ```
    Kilograms: I16F16(i32), unit "kg"
}
