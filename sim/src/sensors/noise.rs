//! The part of a sensor's error that is new in every reading.
//!
//! Part of a `channel`; `gain` draws its constants from it too.

use rand_chacha::ChaCha8Rng;

use crate::random::normal;

/// Normal noise around nothing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Noise {
    sd: f64,
}

impl Noise {
    /// Noise of this standard deviation, in the sensor's unit.
    pub(super) const fn new(sd: f64) -> Self {
        Self { sd }
    }

    /// The next error. A number is taken from the stream even where there is no noise, so
    /// that what is drawn after it stays the same.
    pub(super) fn draw(self, numbers: &mut ChaCha8Rng) -> f64 {
        self.sd * normal(numbers)
    }
}
