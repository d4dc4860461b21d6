//! What a day is like: weather, pack, rider, sensors and radio, as a file or as drawn.
//!
//! Read by `cli`, drawn by `campaign`; with a board file and a pattern it makes the setup of a
//! world. Every value has a default, so that an empty file is a day. Where a scenario and the board
//! file speak of the same thing, the board file is what the builder believes and the scenario what
//! is true: the handheld is told the first and rides the second.
//! The format is docs/files.md, "Scenario".

mod error;
mod truth;

pub use error::ScenarioError;

use std::path::Path;
use std::sync::Arc;

use serde::de::Error as _;
use serde::{Deserialize, Deserializer};

use crate::board_file::BoardFile;
use crate::plant::radio::RadioSettings;
use crate::plant::rider::RiderSettings;
use crate::route::Route;
use crate::sensors::{SensorSettings, Span};
use crate::world::{Pattern, Setup};

/// A day.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Scenario {
    /// What it is called.
    pub name: String,
    /// The air.
    pub air: AirOfDay,
    /// The pack as it really is.
    pub pack: PackOfDay,
    /// The vehicle as it really is.
    pub vehicle: VehicleOfDay,
    /// Who rides.
    pub rider: RiderSettings,
    /// What the sensors do.
    #[serde(deserialize_with = "without_losses")]
    pub sensors: SensorSettings,
    /// Whether telemetry has the lowest cell's voltage.
    pub cell_voltages: bool,
    /// The radio.
    pub radio: RadioSettings,
    /// A weld that lets go.
    pub weld: Option<WeldOfDay>,
}

impl Default for Scenario {
    fn default() -> Self {
        Self {
            name: String::new(),
            air: AirOfDay::default(),
            pack: PackOfDay::default(),
            vehicle: VehicleOfDay::default(),
            rider: RiderSettings::default(),
            sensors: silent_sensors(),
            cell_voltages: false,
            radio: RadioSettings::default(),
            weld: None,
        }
    }
}

/// The usual sensors without losses of their own: in a world it is the radio that loses frames.
#[must_use]
pub fn silent_sensors() -> SensorSettings {
    SensorSettings {
        single_loss: Span::exactly(0.0),
        bursts_per_hour: 0.0,
        ..SensorSettings::default()
    }
}

/// Sensors of a file, which must not lose frames beside the radio.
fn without_losses<'de, D: Deserializer<'de>>(from: D) -> Result<SensorSettings, D::Error> {
    let table = toml::Table::deserialize(from)?;
    for key in ["single_loss", "burst_length_s", "bursts_per_hour"] {
        if table.contains_key(key) {
            return Err(D::Error::custom(format!(
                "`sensors.{key}`: in a scenario frames are lost by the [radio]"
            )));
        }
    }
    let given: SensorSettings = table.try_into().map_err(D::Error::custom)?;
    let silent = silent_sensors();
    Ok(SensorSettings {
        single_loss: silent.single_loss,
        bursts_per_hour: silent.bursts_per_hour,
        ..given
    })
}

/// The air.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct AirOfDay {
    /// -30 to 50.
    pub temperature_degC: f64,
    /// 50 000 to 110 000; 101 325 at the sea.
    pub pressure_Pa: f64,
    /// Against the rider everywhere, -15 to 15.
    pub headwind_m_s: f64,
    /// 0 to 25, where the route has headings.
    pub wind_m_s: f64,
    /// Where that wind comes from, 0 to 360: 270 is from the west.
    pub wind_from_deg: f64,
}

impl Default for AirOfDay {
    fn default() -> Self {
        Self {
            temperature_degC: 18.0,
            pressure_Pa: 101_325.0,
            headwind_m_s: 0.0,
            wind_m_s: 0.0,
            wind_from_deg: 0.0,
        }
    }
}

/// The pack.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct PackOfDay {
    /// Mean charge of the cells at the start, 0.02 to 1.
    pub charge: f64,
    /// Capacity over the board file's, 0.5 to 1.1.
    pub capacity_share: f64,
    /// Resistance over the board file's, 0.5 to 5.
    pub resistance_share: f64,
    /// Spread of the cells' capacities, one sigma, 0 to 0.1.
    pub capacity_spread: f64,
    /// Spread of their resistances, 0 to 0.3.
    pub resistance_spread: f64,
    /// Spread of their charges, 0 to 0.1.
    pub charge_spread: f64,
    /// How far the true resting curve is shifted against the table in mid-charge, -0.1 to 0.1 of a
    /// full charge, one way below the middle and the other above it: another batch of cells.
    pub curve_shift: f64,
    /// Of the cells at the start, -30 to 60; that of the air where it is not said.
    pub temperature_degC: Option<f64>,
}

impl Default for PackOfDay {
    /// A good pack: cells of one batch, matched and balanced. Common practice, no source.
    fn default() -> Self {
        Self {
            charge: 0.95,
            capacity_share: 1.0,
            resistance_share: 1.0,
            capacity_spread: 0.007,
            resistance_spread: 0.03,
            charge_spread: 0.003,
            curve_shift: 0.0,
            temperature_degC: None,
        }
    }
}

/// The vehicle; what is not said is as in the board file.
#[derive(Clone, Copy, Debug, Default, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct VehicleOfDay {
    /// With rider, 1 to 1000.
    pub mass_kg: Option<f64>,
    /// 0.0005 to 0.3.
    pub rolling_resistance: Option<f64>,
    /// 0.01 to 5.
    pub drag_area_m2: Option<f64>,
    /// 0.05 to 1.
    pub drivetrain_efficiency: Option<f64>,
    /// True diameter of the wheels over the one that the electronics were told, 0.5 to 1.2: worn
    /// ones are smaller.
    pub wheel_share: Option<f64>,
}

/// A weld that lets go.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WeldOfDay {
    /// Seconds after switching on, 0 or more.
    pub at_s: f64,
    /// The group, counted from 0 at the negative end.
    pub group: usize,
    /// How many of its cells are cut off.
    pub cells: u32,
}

impl Scenario {
    /// Reads and checks a scenario file.
    ///
    /// # Errors
    /// [`ScenarioError`].
    pub fn open(path: impl AsRef<Path>) -> Result<Self, ScenarioError> {
        let path = path.as_ref();
        let file = || path.display().to_string();
        let text = std::fs::read_to_string(path)
            .map_err(|source| ScenarioError::Unread { file: file(), source })?;
        let scenario: Self = toml::from_str(&text).map_err(|error| {
            let line = error.span().map_or(1, |span| {
                text.bytes().take(span.start).filter(|&byte| byte == b'\n').count() + 1
            });
            let what = error.message().replace('\n', " ");
            ScenarioError::Unclear { file: file(), line, what }
        })?;
        scenario.check().map_err(|fault| fault.of_file(file()))?;
        Ok(scenario)
    }

    /// Nothing, if every value makes sense.
    ///
    /// # Errors
    /// [`ScenarioError::OutOfRange`] for the first that doesn't, and those of the rider, the
    /// sensors and the radio.
    pub fn check(&self) -> Result<(), ScenarioError> {
        let Self { air, pack, vehicle, .. } = self;
        let known = [
            ("air.temperature_degC", Some(air.temperature_degC), -30.0, 50.0),
            ("air.pressure_Pa", Some(air.pressure_Pa), 50_000.0, 110_000.0),
            ("air.headwind_m_s", Some(air.headwind_m_s), -15.0, 15.0),
            ("air.wind_m_s", Some(air.wind_m_s), 0.0, 25.0),
            ("air.wind_from_deg", Some(air.wind_from_deg), 0.0, 360.0),
            ("pack.charge", Some(pack.charge), 0.02, 1.0),
            ("pack.capacity_share", Some(pack.capacity_share), 0.5, 1.1),
            ("pack.resistance_share", Some(pack.resistance_share), 0.5, 5.0),
            ("pack.capacity_spread", Some(pack.capacity_spread), 0.0, 0.1),
            ("pack.resistance_spread", Some(pack.resistance_spread), 0.0, 0.3),
            ("pack.charge_spread", Some(pack.charge_spread), 0.0, 0.1),
            ("pack.curve_shift", Some(pack.curve_shift), -0.1, 0.1),
            ("pack.temperature_degC", pack.temperature_degC, -30.0, 60.0),
            ("vehicle.mass_kg", vehicle.mass_kg, 1.0, 1000.0),
            ("vehicle.rolling_resistance", vehicle.rolling_resistance, 0.0005, 0.3),
            ("vehicle.drag_area_m2", vehicle.drag_area_m2, 0.01, 5.0),
            ("vehicle.drivetrain_efficiency", vehicle.drivetrain_efficiency, 0.05, 1.0),
            ("vehicle.wheel_share", vehicle.wheel_share, 0.5, 1.2),
            ("weld.at_s", self.weld.map(|weld| weld.at_s), 0.0, 1e9),
        ];
        for (key, given, lowest, highest) in known {
            if let Some(given) = given.filter(|given| !(lowest..=highest).contains(given)) {
                return Err(ScenarioError::OutOfRange { key, given, lowest, highest });
            }
        }
        self.rider.check()?;
        self.sensors.check()?;
        self.radio.check()?;
        Ok(())
    }

    /// Whether a wind is given that nothing in the pattern has a direction for.
    #[must_use]
    pub fn wind_is_lost(&self, pattern: &Pattern) -> bool {
        let headed = match pattern {
            Pattern::Route(route) => {
                // Ten places are enough to tell.
                (0..10).any(|part| {
                    let at_m = route.length_m() * f64::from(part) / 10.0;
                    route.at(at_m).heading_deg.is_some()
                })
            }
            Pattern::Schedule(_) => false,
        };
        self.air.wind_m_s > 0.0 && !headed
    }

    /// The setup of a world: this day, on that board, along that pattern.
    ///
    /// # Errors
    /// [`ScenarioError`] where the three do not fit together.
    pub fn setup(
        &self,
        board: &BoardFile,
        pattern: Pattern,
        laps: u32,
    ) -> Result<Setup, ScenarioError> {
        self.check()?;
        let pattern = match pattern {
            Pattern::Route(route) if self.air.wind_m_s > 0.0 => {
                let AirOfDay { wind_m_s, wind_from_deg, .. } = self.air;
                let route = Route::clone(&route).in_wind(wind_m_s, wind_from_deg)?;
                Pattern::Route(Arc::new(route))
            }
            pattern @ (Pattern::Route(_) | Pattern::Schedule(_)) => pattern,
        };
        truth::setup(self, board, pattern, laps)
    }
}

#[cfg(test)]
mod tests;
