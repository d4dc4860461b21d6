//! The rides of a campaign as CSV, a row per ride.
//!
//! Used by `cli`; the columns are those of docs/files.md, "Rides of a campaign".

use std::io::{self, Write};

use super::Outcome;
use crate::world::Violation;

/// Columns before those of the violations.
const COLUMNS: [&str; 36] = [
    "ride",
    "seed",
    "pattern",
    "ending",
    "distance_km",
    "duration_s",
    "air_degC",
    "cells_at_start_degC",
    "wind_m_s",
    "capacity_share",
    "resistance_share",
    "mass_kg",
    "rolling_resistance",
    "drag_area_m2",
    "wheel_share",
    "radio",
    "frames_lost_share",
    "charge_counter",
    "temperature_sensor",
    "weld_let_go",
    "true_soc_at_start",
    "true_soc_at_end",
    "soc_rms_percent",
    "soc_largest_percent",
    "soc_covered",
    "empty_at_km",
    "plain_stop_at_km",
    "range_claims",
    "range_low_met",
    "climb_m_per_km",
    "turned_at_km",
    "came_home",
    "left_at_home_share",
    "left_beyond_reserve_share",
    "faults",
    "lockouts",
];

/// Writes rides row by row.
#[derive(Debug)]
pub struct RecordWriter<W: Write> {
    rows: csv::Writer<W>,
}

impl<W: Write> RecordWriter<W> {
    /// A writer that has written the header.
    ///
    /// # Errors
    /// Those of the sink.
    pub fn new(to: W) -> io::Result<Self> {
        let mut rows = csv::Writer::from_writer(to);
        rows.write_record(COLUMNS.into_iter().chain(Violation::ALL.map(Violation::name)))?;
        Ok(Self { rows })
    }

    /// Writes one ride.
    ///
    /// # Errors
    /// Those of the sink.
    pub fn write(&mut self, ride: &Outcome) -> io::Result<()> {
        let day = &ride.day;
        let number = |value: f64, decimals: usize| format!("{value:.decimals$}");
        let maybe = |value: Option<f64>, decimals: usize| {
            value.map_or(String::new(), |value| number(value, decimals))
        };
        let flag = |is: bool| u8::from(is).to_string();
        let home = ride.home;
        let (frames, lost) = ride.frames;
        let percent = |share: Option<f64>| share.map(|share| share * 100.0);
        let cells = [
            ride.index.to_string(),
            ride.seed.to_string(),
            ride.pattern.clone(),
            ride.ending.map_or("under_way", crate::world::Ending::name).to_owned(),
            number(ride.distance_m / 1000.0, 4),
            number(ride.duration_s, 2),
            number(day.air.temperature_degC, 2),
            number(day.pack.temperature_degC.unwrap_or(day.air.temperature_degC), 2),
            number(day.air.wind_m_s, 2),
            number(day.pack.capacity_share, 4),
            number(day.pack.resistance_share, 4),
            maybe(day.vehicle.mass_kg, 2),
            maybe(day.vehicle.rolling_resistance, 5),
            maybe(day.vehicle.drag_area_m2, 4),
            maybe(day.vehicle.wheel_share, 5),
            day.radio.name().to_owned(),
            number(share(lost, frames), 5),
            flag(day.sensors.charge_counter),
            flag(!day.sensors.drop_temperature),
            flag(day.weld.is_some_and(|weld| weld.at_s < ride.simulated_s)),
            number(ride.true_soc.0, 6),
            number(ride.true_soc.1, 6),
            maybe(percent(ride.charge.rms()), 4),
            maybe(percent(ride.charge.largest()), 4),
            maybe(ride.charge.covered(), 5),
            maybe(ride.range.map(|(empty_at_m, _)| empty_at_m / 1000.0), 4),
            maybe(ride.plain_stop_m.map(|at_m| at_m / 1000.0), 4),
            ride.range.map_or(String::new(), |(_, score)| score.claims().to_string()),
            maybe(ride.range.and_then(|(_, score)| score.low_met()), 5),
            number(ride.climb_m_per_km, 2),
            maybe(home.and_then(|home| home.turned_at_m).map(|at_m| at_m / 1000.0), 4),
            home.map_or(String::new(), |home| flag(home.arrived)),
            maybe(home.and_then(|home| home.left).map(|(left, _)| left), 4),
            maybe(home.and_then(|home| home.left).map(|(_, beyond)| beyond), 4),
            ride.faults.join(" "),
            ride.lockouts.to_string(),
        ];
        let counts = ride.violations.iter().map(|(_, count)| count.to_string());
        self.rows.write_record(cells.into_iter().chain(counts))?;
        Ok(())
    }

    /// The sink, everything written.
    ///
    /// # Errors
    /// Those of the sink.
    pub fn into_inner(self) -> io::Result<W> {
        self.rows.into_inner().map_err(|error| error.into_error())
    }
}

#[allow(clippy::cast_precision_loss, reason = "frames of a ride lie far below 2^53")]
fn share(part: u64, whole: u64) -> f64 {
    part as f64 / whole.max(1) as f64
}
