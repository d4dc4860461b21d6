//! How wrong the sensors and the radio are, as plain numbers.
//!
//! Written in a file or left at the defaults; turned into faults by `Sensors`. Every default is
//! common practice, no source, unless it says otherwise: an order of magnitude that an
//! inexpensive, uncalibrated part has, so that nothing is tuned to better ones.

use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use serde::Deserialize;

use super::error::SensorError;

/// Two ends between which a number is drawn evenly.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Span {
    /// The lower end.
    pub lowest: f64,
    /// The upper end, not under the lower one.
    pub highest: f64,
}

impl Span {
    /// A span of one number.
    #[must_use]
    pub const fn exactly(value: f64) -> Self {
        Self { lowest: value, highest: value }
    }

    /// The middle.
    #[must_use]
    pub const fn mean(self) -> f64 {
        f64::midpoint(self.lowest, self.highest)
    }

    pub(super) fn draw(self, numbers: &mut ChaCha8Rng) -> f64 {
        let part: f64 = numbers.random();
        self.lowest + part * (self.highest - self.lowest)
    }
}

/// The settings; `sd` is a standard deviation, and what is *drawn* is drawn once per seed.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct SensorSettings {
    /// Drawn gain error of the current. 0.01: a shunt or a magnetic sensor, never calibrated.
    pub current_gain_sd: f64,
    /// Drawn offset of the current. 0.05 A: a sensor for some fifty amperes whose zero is good
    /// to a thousandth of its range.
    pub current_offset_sd_A: f64,
    /// Noise of each current reading. 0.1 A: what switching leaves after filtering.
    pub current_noise_sd_A: f64,
    /// Step of the current. 0.1 A: one decimal in the telemetry.
    pub current_step_A: f64,
    /// Drawn gain error of each voltage. 0.002: a divider of 0.1 % resistors and a reference.
    pub voltage_gain_sd: f64,
    /// Noise of each pack voltage. 0.02 V: less than a step, since it is averaged.
    pub voltage_noise_sd_V: f64,
    /// Step of the pack voltage. 0.1 V: one decimal in the telemetry, the coarse end of usual.
    pub voltage_step_V: f64,
    /// Noise of each reading of the lowest cell. 0.002 V: a converter made for cells.
    pub cell_voltage_noise_sd_V: f64,
    /// Step of the lowest cell. 0.001 V: three decimals in the telemetry.
    pub cell_voltage_step_V: f64,
    /// Drawn offset of the temperature. 1.5 K: a thermistor, and the way from it to the cell.
    pub temperature_offset_sd_K: f64,
    /// Step of the temperature. 1 K: a whole number in the telemetry.
    pub temperature_step_K: f64,
    /// Drawn gain error of speed and distance alike. 0.02: wheels that have worn since their
    /// diameter was entered.
    pub speed_gain_sd: f64,
    /// Drawn rate of telemetry. 5 to 10 Hz: what small radios and motor controllers do.
    pub telemetry_rate_Hz: Span,
    /// How late a frame may leave, as a share of the period, 0 to 1. 0.3: it waits for other
    /// traffic.
    pub telemetry_jitter: f64,
    /// Drawn share of frames that are lost alone. 0.02 to 0.05: a shared band in town.
    pub single_loss: Span,
    /// Length of each burst of loss. 2 to 20 s: from a lorry passing by to a body in between
    /// along a street.
    pub burst_length_s: Span,
    /// Bursts an hour, on average; 0 for none. 12: one each five minutes.
    pub bursts_per_hour: f64,
    /// Whether a charge counter at the far end is in the telemetry. No: most boards have none.
    pub charge_counter: bool,
    /// Step of the counter. 0.001 Ah: three decimals in the telemetry.
    pub charge_counter_step_Ah: f64,
    /// Restarts of the counter an hour, on average; 0 for none. 0.5: rare, and yet met on most
    /// long rides.
    pub charge_counter_restarts_per_hour: f64,
    /// Whether the board has no temperature sensor. No.
    pub drop_temperature: bool,
}

impl Default for SensorSettings {
    fn default() -> Self {
        Self {
            current_gain_sd: 0.01,
            current_offset_sd_A: 0.05,
            current_noise_sd_A: 0.1,
            current_step_A: 0.1,
            voltage_gain_sd: 0.002,
            voltage_noise_sd_V: 0.02,
            voltage_step_V: 0.1,
            cell_voltage_noise_sd_V: 0.002,
            cell_voltage_step_V: 0.001,
            temperature_offset_sd_K: 1.5,
            temperature_step_K: 1.0,
            speed_gain_sd: 0.02,
            telemetry_rate_Hz: Span { lowest: 5.0, highest: 10.0 },
            telemetry_jitter: 0.3,
            single_loss: Span { lowest: 0.02, highest: 0.05 },
            burst_length_s: Span { lowest: 2.0, highest: 20.0 },
            bursts_per_hour: 12.0,
            charge_counter: false,
            charge_counter_step_Ah: 0.001,
            charge_counter_restarts_per_hour: 0.5,
            drop_temperature: false,
        }
    }
}

impl SensorSettings {
    /// Sensors that see everything as it is, and a radio that loses nothing; the rate is the
    /// default one, drawn.
    #[must_use]
    pub fn exact() -> Self {
        Self {
            current_gain_sd: 0.0,
            current_offset_sd_A: 0.0,
            current_noise_sd_A: 0.0,
            current_step_A: 0.0,
            voltage_gain_sd: 0.0,
            voltage_noise_sd_V: 0.0,
            voltage_step_V: 0.0,
            cell_voltage_noise_sd_V: 0.0,
            cell_voltage_step_V: 0.0,
            temperature_offset_sd_K: 0.0,
            temperature_step_K: 0.0,
            speed_gain_sd: 0.0,
            telemetry_jitter: 0.0,
            single_loss: Span::exactly(0.0),
            bursts_per_hour: 0.0,
            charge_counter_step_Ah: 0.0,
            charge_counter_restarts_per_hour: 0.0,
            ..Self::default()
        }
    }

    /// Nothing, if every setting makes sense.
    ///
    /// # Errors
    /// [`SensorError`] for the first that doesn't.
    pub fn check(&self) -> Result<(), SensorError> {
        // The bounds are where a part would be called broken, not merely bad.
        for (key, given, highest) in [
            ("current_gain_sd", self.current_gain_sd, 0.2),
            ("current_offset_sd_A", self.current_offset_sd_A, 50.0),
            ("current_noise_sd_A", self.current_noise_sd_A, 50.0),
            ("current_step_A", self.current_step_A, 50.0),
            ("voltage_gain_sd", self.voltage_gain_sd, 0.2),
            ("voltage_noise_sd_V", self.voltage_noise_sd_V, 10.0),
            ("voltage_step_V", self.voltage_step_V, 10.0),
            ("cell_voltage_noise_sd_V", self.cell_voltage_noise_sd_V, 1.0),
            ("cell_voltage_step_V", self.cell_voltage_step_V, 1.0),
            ("temperature_offset_sd_K", self.temperature_offset_sd_K, 20.0),
            ("temperature_step_K", self.temperature_step_K, 20.0),
            ("speed_gain_sd", self.speed_gain_sd, 0.2),
            ("telemetry_jitter", self.telemetry_jitter, 1.0),
            ("bursts_per_hour", self.bursts_per_hour, 3600.0),
            ("charge_counter_step_Ah", self.charge_counter_step_Ah, 1.0),
            ("charge_counter_restarts_per_hour", self.charge_counter_restarts_per_hour, 3600.0),
        ] {
            within(key, given, 0.0, highest)?;
        }
        for (key, span, lowest, highest) in [
            ("telemetry_rate_Hz", self.telemetry_rate_Hz, 0.01, 1000.0),
            ("single_loss", self.single_loss, 0.0, 1.0),
            ("burst_length_s", self.burst_length_s, 0.001, 3600.0),
        ] {
            within(key, span.lowest, lowest, highest)?;
            within(key, span.highest, lowest, highest)?;
            if span.lowest > span.highest {
                return Err(SensorError::Reversed {
                    key,
                    lowest: span.lowest,
                    highest: span.highest,
                });
            }
        }
        match self.mean_gap_s() {
            Some(gap_s) if gap_s <= 0.0 => Err(SensorError::AllBurst {
                bursts_per_hour: self.bursts_per_hour,
                mean_s: self.burst_length_s.mean(),
            }),
            _ => Ok(()),
        }
    }

    /// Seconds from the end of a burst to the beginning of the next, on average.
    pub(super) fn mean_gap_s(&self) -> Option<f64> {
        let any = self.bursts_per_hour > 0.0;
        any.then(|| 3600.0 / self.bursts_per_hour - self.burst_length_s.mean())
    }
}

fn within(key: &'static str, given: f64, lowest: f64, highest: f64) -> Result<(), SensorError> {
    // Not a number lies within nothing.
    if (lowest..=highest).contains(&given) {
        return Ok(());
    }
    Err(SensorError::OutOfRange { key, given, lowest, highest })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_defaults_and_the_exact_ones_make_sense() {
        SensorSettings::default().check().unwrap();
        SensorSettings::exact().check().unwrap();
    }

    #[test]
    fn a_file_sets_what_it_names_and_leaves_the_rest() {
        let text = "current_step_A = 0.5\ntelemetry_rate_Hz = { lowest = 10, highest = 10 }\n";
        let settings: SensorSettings = toml::from_str(text).unwrap();
        let expected = SensorSettings {
            current_step_A: 0.5,
            telemetry_rate_Hz: Span::exactly(10.0),
            ..SensorSettings::default()
        };
        assert_eq!(settings, expected);
        assert!(toml::from_str::<SensorSettings>("current_steps_A = 1\n").is_err());
    }

    #[test]
    fn a_setting_that_makes_no_sense_is_named() {
        let mut settings = SensorSettings { current_noise_sd_A: -0.1, ..SensorSettings::default() };
        let message = settings.check().unwrap_err().to_string();
        assert_eq!(message, "sensor setting `current_noise_sd_A` is -0.1; allowed is 0 to 50");

        settings.current_noise_sd_A = f64::NAN;
        assert!(settings.check().is_err());

        settings.current_noise_sd_A = 0.0;
        settings.single_loss = Span { lowest: 0.5, highest: 0.1 };
        let message = settings.check().unwrap_err().to_string();
        assert_eq!(
            message,
            "sensor setting `single_loss` goes from 0.5 to 0.1, the wrong way round"
        );

        settings.single_loss = Span::exactly(0.0);
        settings.bursts_per_hour = 400.0;
        let message = settings.check().unwrap_err().to_string();
        assert!(message.contains("`bursts_per_hour` of 400"), "{message}");
    }
}
