//! One sensor from the quantity to the number in the telemetry: gain, offset, noise, steps.
//!
//! Put together by `Sensors` from the settings; charge is counted from its readings by `counter`.

use rand_chacha::ChaCha8Rng;

use super::gain::Gain;
use super::noise::Noise;
use super::quantise::Steps;

/// A sensor with the random numbers that it lives on.
#[derive(Clone, Debug)]
pub(super) struct Channel {
    gain: Gain,
    noise: Noise,
    steps: Steps,
    numbers: ChaCha8Rng,
}

impl Channel {
    /// An exact sensor.
    pub(super) const fn new(numbers: ChaCha8Rng) -> Self {
        Self { gain: Gain::EXACT, noise: Noise::new(0.0), steps: Steps::Endless, numbers }
    }

    /// The same with a gain drawn around 1.
    pub(super) fn with_gain(mut self, sd: f64) -> Self {
        self.gain = self.gain.with_gain(sd, &mut self.numbers);
        self
    }

    /// The same with an offset drawn around 0.
    pub(super) fn with_offset(mut self, sd: f64) -> Self {
        self.gain = self.gain.with_offset(sd, &mut self.numbers);
        self
    }

    /// The same with noise on each reading.
    pub(super) const fn with_noise(mut self, sd: f64) -> Self {
        self.noise = Noise::new(sd);
        self
    }

    /// The same counting in steps.
    pub(super) fn with_step(mut self, step: f64) -> Self {
        self.steps = Steps::new(step);
        self
    }

    /// What is read of `value`.
    pub(super) fn read(&mut self, value: f64) -> f64 {
        let noise = self.noise.draw(&mut self.numbers);
        self.steps.read(self.gain.read(value) + noise)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::random::{Purpose, stream};

    #[test]
    fn gain_and_offset_stay_the_same_from_reading_to_reading() {
        let mut channel =
            Channel::new(stream(5, Purpose::PackCurrent)).with_gain(0.01).with_offset(0.05);
        let (nothing, ten) = (channel.read(0.0), channel.read(10.0));
        for _ in 0..1000 {
            assert!(channel.read(0.0).total_cmp(&nothing).is_eq());
            assert!(channel.read(10.0).total_cmp(&ten).is_eq());
        }
        assert!(nothing != 0.0 && (ten - nothing - 10.0).abs() > f64::EPSILON);
    }

    #[test]
    fn noise_has_the_spread_asked_for_and_no_mean() {
        let mut channel = Channel::new(stream(5, Purpose::PackCurrent)).with_noise(0.1);
        let readings: Vec<f64> = (0..10_000).map(|_| channel.read(2.0) - 2.0).collect();
        let mean = readings.iter().sum::<f64>() / 1e4;
        let spread = (readings.iter().map(|error| error * error).sum::<f64>() / 1e4).sqrt();
        // Four standard errors of 10 000 draws: 0.1 / 100 for the mean, 0.7 % for the spread.
        assert!(mean.abs() < 0.004, "{mean}");
        assert!((spread / 0.1 - 1.0).abs() < 0.03, "{spread}");
    }
}
