//! A row of a log as the frame that the handheld would have received, and the reverse.
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

/// What a log would hold of a frame that arrived at `time_s`.
#[must_use]
pub fn measured(time_s: f64, frame: &Telemetry) -> Measured {
    let degrees = |celsius: Celsius| f64::from(celsius.to_bits()) / 65_536.0;
    Measured {
        pack_voltage_V: Some(frame.pack_voltage.to_f64()),
        pack_current_A: Some(frame.pack_current.to_f64()),
        charge_drawn_Ah: frame.charge_drawn.map(|drawn| drawn.to_f64() / 3600.0),
        cell_voltage_min_V: frame.cell_voltage_min.map(Volts::to_f64),
        cell_temperature_degC: frame.cell_temperature.map(degrees),
        motor_temperature_degC: frame.motor_temperature.map(degrees),
        controller_temperature_degC: frame.controller_temperature.map(degrees),
        speed_m_s: frame.speed.map(MetresPerSecond::to_f64),
        distance_m: frame.distance.map(Metres::to_f64),
        elevation_m: frame.elevation.map(Metres::to_f64),
        ..Measured::at(time_s)
    }
}
