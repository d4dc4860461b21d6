//! What every estimator of charge does, ours and the two that it is compared with.
//!
//! An estimator is handed a [`Measured`] by reference; the truth lies elsewhere (`RideRow`), so
//! that none can see it even by mistake. Driven by `accuracy`.

use homestretch_sim::ride::Measured;

/// What an estimator believes of the charge, 0 to 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// The likeliest value.
    pub soc: f64,
    /// Where the truth lies nine times in ten; `None` of an estimator that makes no such claim.
    pub interval: Option<Interval>,
}

/// The ends of a 90 % interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval {
    /// The lower end.
    pub low: f64,
    /// The upper end.
    pub high: f64,
}

impl Estimate {
    /// An estimate that claims nothing about its error.
    #[must_use]
    pub const fn bare(soc: f64) -> Self {
        Self { soc, interval: None }
    }

    /// An estimate and its 90 % interval.
    #[must_use]
    pub const fn within(low: f64, soc: f64, high: f64) -> Self {
        Self { soc, interval: Some(Interval { low, high }) }
    }
}

/// An estimator, alive through one ride.
pub trait Estimator {
    /// The estimate after one more row, rows being in order of time. A lost one is a row too.
    fn step(&mut self, measured: &Measured) -> Estimate;
}
