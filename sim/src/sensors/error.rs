//! What can be wrong with the settings of sensors.
//!
//! Made by `settings`.

/// A setting that makes no sense.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum SensorError {
    /// A number outside its bounds, or none at all.
    #[error("sensor setting `{key}` is {given}; allowed is {lowest} to {highest}")]
    OutOfRange {
        /// The setting.
        key: &'static str,
        /// What it is.
        given: f64,
        /// The least it may be.
        lowest: f64,
        /// The most it may be.
        highest: f64,
    },
    /// A span that ends before it begins.
    #[error("sensor setting `{key}` goes from {lowest} to {highest}, the wrong way round")]
    Reversed {
        /// The setting.
        key: &'static str,
        /// Its lower end.
        lowest: f64,
        /// Its upper end.
        highest: f64,
    },
    /// Bursts that leave no time between them.
    #[error(
        "sensor settings `bursts_per_hour` of {bursts_per_hour} and `burst_length_s` of {mean_s} \
         on average leave no time between bursts; allowed is less than 3600 s of them an hour"
    )]
    AllBurst {
        /// As set.
        bursts_per_hour: f64,
        /// The middle of the lengths as set.
        mean_s: f64,
    },
}
