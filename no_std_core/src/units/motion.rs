//! Speed, acceleration and jerk: what the rider's feet feel.

use super::quantity::quantity;

quantity! {
    /// Speed in metres per second, forward positive; steps of 15 µm/s.
    ///
    /// ```compile_fail
    /// use homestretch::units::{MetresPerSecond, Metres};
    /// let wrong = MetresPerSecond::from_whole(1) + Metres::from_whole(1);
    /// ```
    MetresPerSecond: I16F16(i32), unit "m/s"
}

quantity! {
    /// Acceleration in metres per second squared, forward positive; steps of 15 µm/s².
    ///
    /// ```compile_fail
    /// use homestretch::units::{MetresPerSecond, MetresPerSecondSquared};
    /// let wrong = MetresPerSecond::from_whole(1) + MetresPerSecondSquared::from_whole(1);
    /// ```
    MetresPerSecondSquared: I16F16(i32), unit "m/s²"
}

quantity! {
    /// Jerk, the rate of acceleration, in metres per second cubed; steps of 15 µm/s³.
    ///
    /// ```compile_fail
    /// use homestretch::units::{MetresPerSecondCubed, MetresPerSecondSquared};
    /// let wrong = MetresPerSecondCubed::from_whole(1) + MetresPerSecondSquared::from_whole(1);
    /// ```
    MetresPerSecondCubed: I16F16(i32), unit "m/s³"
}
