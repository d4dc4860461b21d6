//! What every estimator of charge does, ours and the two that it is compared with.
//!
//! An estimator is handed a [`Measured`] by reference; the truth lies elsewhere (`RideRow`), so
//! that none can see it even by mistake. Driven by `accuracy`.

use std::fmt;

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
        Self {
            soc,
            interval: None,
        }
    }

    /// An estimate and its 90 % interval.
    #[must_use]
    pub const fn within(low: f64, soc: f64, high: f64) -> Self {
        Self {
            soc,
            interval: Some(Interval { low, high }),
        }
    }
}

/// An estimator, alive through one ride.
pub trait Estimator {
    /// The estimate after one more row, rows being in order of time. A lost one is a row too.
    fn step(&mut self, measured: &Measured) -> Estimate;
}

/// The slot of an estimator that is made elsewhere: a closure over whatever it needs.
///
/// ```
/// use homestretch_checks::estimator::{Estimate, Estimator, Plugged};
/// use homestretch_sim::ride::Measured;
///
/// let mut shrugging = Plugged::new(|_: &Measured| Estimate::within(0.0, 0.5, 1.0));
/// assert_eq!(shrugging.step(&Measured::at(0.0)).soc, 0.5);
/// ```
pub struct Plugged(Box<dyn FnMut(&Measured) -> Estimate>);

impl Plugged {
    /// The estimator that `step` is.
    pub fn new(step: impl FnMut(&Measured) -> Estimate + 'static) -> Self {
        Self(Box::new(step))
    }
}

impl Estimator for Plugged {
    fn step(&mut self, measured: &Measured) -> Estimate {
        (self.0)(measured)
    }
}

impl fmt::Debug for Plugged {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Plugged(..)")
    }
}
