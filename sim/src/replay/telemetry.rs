//! A row of a log as the frame that the handheld would have received.
//!
//! Used by `replay` and `world`.

use homestretch::telemetry::Telemetry;
use homestretch::units::{Amperes, Celsius, Coulombs, Metres, MetresPerSecond, Volts};

use crate::ride::Measured;

/// The frame of a row; nothing where none arrived, or without voltage or current.
#[must_use]
pub fn telemetry(row: &Measured) -> Option<Telemetry> {
    if !row.link_ok {
        return None;
    }
    Some(Telemetry {
        pack_voltage: Volts::from_f64(row.pack_voltage_V?)?,
        pack_current: Amperes::from_f64(row.pack_current_A?)?,
        charge_drawn: row.charge_drawn_Ah.and_then(|drawn| Coulombs::from_f64(drawn * 3600.0)),
        cell_voltage_min: row.cell_voltage_min_V.and_then(Volts::from_f64),
        cell_temperature: row.cell_temperature_degC.and_then(Celsius::from_f64),
        motor_temperature: row.motor_temperature_degC.and_then(Celsius::from_f64),
        controller_temperature: row.controller_temperature_degC.and_then(Celsius::from_f64),
        speed: row.speed_m_s.and_then(MetresPerSecond::from_f64),
        distance: row.distance_m.and_then(Metres::from_f64),
        elevation: row.elevation_m.and_then(Metres::from_f64),
    })
}
