//! A sensor's constant error: a gain that is not quite 1 and an offset that is not quite 0.
//!
//! Part of a `channel`. Drawn once per seed: a shunt or a worn wheel is as wrong at the end of a
//! ride as at its beginning.

use rand_chacha::ChaCha8Rng;

use super::noise::Noise;

/// Reads `gain * value + offset`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Gain {
    gain: f64,
    offset: f64,
}

impl Gain {
    /// A sensor without constant error.
    pub(super) const EXACT: Self = Self { gain: 1.0, offset: 0.0 };

    /// The same with a gain drawn around 1.
    pub(super) fn with_gain(self, sd: f64, numbers: &mut ChaCha8Rng) -> Self {
        let gain = 1.0 + Noise::new(sd).draw(numbers);
        Self { gain, ..self }
    }

    /// The same with an offset drawn around 0, in the sensor's unit.
    pub(super) fn with_offset(self, sd: f64, numbers: &mut ChaCha8Rng) -> Self {
        let offset = Noise::new(sd).draw(numbers);
        Self { offset, ..self }
    }

    /// What is read of `value`.
    pub(super) fn read(self, value: f64) -> f64 {
        self.gain * value + self.offset
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::random::{Purpose, stream};

    #[test]
    fn gains_and_offsets_spread_as_asked_over_many_seeds() {
        let (count, sd) = (4000, 0.02);
        let drawn: Vec<Gain> = (0..count)
            .map(|seed| {
                let mut numbers = stream(seed, Purpose::Speed);
                Gain::EXACT.with_gain(sd, &mut numbers).with_offset(sd, &mut numbers)
            })
            .collect();
        let spread = |errors: &dyn Fn(&Gain) -> f64| {
            let squares: f64 = drawn.iter().map(|gain| errors(gain).powi(2)).sum();
            (squares / 4000.0).sqrt()
        };
        // The spread of 4000 draws is good to 1.1 % (one sd): four of them.
        for found in [spread(&|drawn| drawn.gain - 1.0), spread(&|drawn| drawn.offset)] {
            assert!((found / sd - 1.0).abs() < 0.045, "{found}");
        }
    }

    #[test]
    fn an_exact_sensor_reads_what_is_there() {
        assert!((Gain::EXACT.read(-36.5) + 36.5).abs() < f64::EPSILON);
    }
}
