//! What real sensors and a real radio make of an exact ride.
//!
//! Takes the rows of the plant or of an exact trace (`ride`), and gives those that a handheld
//! would have got: late, rounded, a little wrong, and some not at all. One file per kind of
//! fault, each with random numbers of its own, so that turning one off changes no other.
//! The truth passes through untouched, in a field that the library never sees.
//! Source: common practice, no source; each default says why it is what it is.

mod channel;
mod counter;
mod error;
mod gain;
mod jitter;
mod loss;
mod noise;
mod quantise;
mod settings;

pub use error::SensorError;
pub use settings::{SensorSettings, Span};

use crate::random::{Purpose, stream};
use crate::ride::{Measured, RideRow};

use channel::Channel;
use counter::Counter;
use jitter::Schedule;
use loss::Loss;

/// The sensors and the radio of one board on one ride, drawn from a seed.
///
/// ```
/// use homestretch_sim::ride::RideRow;
/// use homestretch_sim::sensors::{SensorError, SensorSettings, Sensors};
///
/// let exact = (0..1000_u32).map(|step| {
///     let mut row = RideRow::at(f64::from(step) * 0.01);
///     row.measured.pack_voltage_V = Some(36.5);
///     row
/// });
/// let sensors = Sensors::new(&SensorSettings::default(), 7)?;
/// let sensed: Vec<RideRow> = sensors.apply(exact).collect();
/// assert!(sensed.len() <= 101, "ten seconds at 10 Hz or less");
/// # Ok::<(), SensorError>(())
/// ```
#[derive(Clone, Debug)]
pub struct Sensors {
    pack_voltage: Channel,
    pack_current: Channel,
    cell_voltage_min: Channel,
    cell_temperature: Option<Channel>,
    speed: Channel,
    counter: Option<Counter>,
    schedule: Schedule,
    loss: Loss,
}

impl Sensors {
    /// The sensors that `settings` and `seed` make: the same for the same two, always.
    ///
    /// # Errors
    /// [`SensorError`] for the first setting that makes no sense.
    pub fn new(settings: &SensorSettings, seed: u64) -> Result<Self, SensorError> {
        settings.check()?;
        let draw = |purpose| stream(seed, purpose);
        Ok(Self {
            pack_voltage: Channel::new(draw(Purpose::PackVoltage))
                .with_gain(settings.voltage_gain_sd)
                .with_noise(settings.voltage_noise_sd_V)
                .with_step(settings.voltage_step_V),
            pack_current: Channel::new(draw(Purpose::PackCurrent))
                .with_gain(settings.current_gain_sd)
                .with_offset(settings.current_offset_sd_A)
                .with_noise(settings.current_noise_sd_A)
                .with_step(settings.current_step_A),
            cell_voltage_min: Channel::new(draw(Purpose::CellVoltage))
                .with_gain(settings.voltage_gain_sd)
                .with_noise(settings.cell_voltage_noise_sd_V)
                .with_step(settings.cell_voltage_step_V),
            cell_temperature: (!settings.drop_temperature).then(|| {
                Channel::new(draw(Purpose::Temperature))
                    .with_offset(settings.temperature_offset_sd_K)
                    .with_step(settings.temperature_step_K)
            }),
            speed: Channel::new(draw(Purpose::Speed)).with_gain(settings.speed_gain_sd),
            counter: settings.charge_counter.then(|| {
                Counter::new(
                    settings.charge_counter_step_Ah,
                    settings.charge_counter_restarts_per_hour,
                    draw(Purpose::Counter),
                )
            }),
            schedule: Schedule::new(
                settings.telemetry_rate_Hz,
                settings.telemetry_jitter,
                draw(Purpose::Schedule),
            ),
            loss: Loss::new(settings, draw(Purpose::Loss)),
        })
    }

    /// What arrives in the hand for one exact row; nothing where no frame was due.
    ///
    /// To be called for every row, in order of time: the counter at the far end lives through
    /// those too that are never sent.
    pub fn sense(&mut self, exact: RideRow) -> Option<RideRow> {
        let RideRow { measured, true_soc } = exact;
        let time_s = measured.time_s;
        let current_A = measured.pack_current_A.map(|current_A| self.pack_current.read(current_A));
        if let Some(counter) = &mut self.counter {
            counter.count(time_s, current_A);
        }
        if !self.schedule.is_due(time_s) {
            return None;
        }
        let lost = self.loss.is_lost(time_s) || !measured.link_ok;
        let measured = if lost { measured.lost() } else { self.spoil(measured, current_A) };
        Some(RideRow { measured, true_soc })
    }

    /// Whether a row at `time_s` would be sent.
    #[must_use]
    pub fn is_due(&self, time_s: f64) -> bool {
        self.schedule.would_be_due(time_s)
    }

    /// Whether rows that are never sent matter as well: a counter lives through all of them.
    #[must_use]
    pub const fn counts_all(&self) -> bool {
        self.counter.is_some()
    }

    /// The rows that arrive of the exact `rows`, one at a time.
    ///
    /// Where rows can fail to be read, [`Sensors::sense`] does for each what this does for all.
    pub fn apply(mut self, rows: impl Iterator<Item = RideRow>) -> impl Iterator<Item = RideRow> {
        rows.filter_map(move |row| self.sense(row))
    }

    fn spoil(&mut self, exact: Measured, current_A: Option<f64>) -> Measured {
        let temperature = self.cell_temperature.as_mut();
        Measured {
            pack_voltage_V: exact.pack_voltage_V.map(|value| self.pack_voltage.read(value)),
            pack_current_A: current_A,
            charge_drawn_Ah: self.counter.as_ref().map(Counter::shown_Ah),
            cell_voltage_min_V: exact
                .cell_voltage_min_V
                .map(|value| self.cell_voltage_min.read(value)),
            cell_temperature_degC: exact
                .cell_temperature_degC
                .zip(temperature)
                .map(|(value, channel)| channel.read(value)),
            // Both are turns of the same wheel.
            speed_m_s: exact.speed_m_s.map(|value| self.speed.read(value)),
            distance_m: exact.distance_m.map(|value| self.speed.read(value)),
            ..exact
        }
    }
}

#[cfg(test)]
mod tests;
