//! A pure number: a share, a factor, an efficiency, a state of charge.

use super::quantity::quantity;

quantity! {
    /// A pure number: a share, a factor, an efficiency, a state of charge, in parts of one; steps of 6e-8, up to ±128.
    ///
    /// ```compile_fail
    /// use homestretch::units::{Ratio, Volts};
    /// let wrong = Ratio::from_whole(1) + Volts::from_whole(1);
    /// ```
    Ratio: I8F24(i32), unit "(of 1)"
}

impl Ratio {
    /// All of it: 1.
    pub const ONE: Self = Self::from_whole(1);

    /// `part` in a hundred.
    #[must_use]
    pub const fn from_percent(part: i32) -> Self {
        Self::from_fraction(part, 100)
    }
}
