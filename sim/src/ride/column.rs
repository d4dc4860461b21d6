//! The columns of a ride log: names, bounds, and how finely each is written.
//!
//! The one table that reader, writer and import share.
//! Source: names and meanings are docs/files.md, "Ride log"; bounds and decimals are
//! common practice, no source, each explained where it stands.

use std::fmt;

use serde::{Deserialize, Serialize};

/// A quantity that a ride log may have. Other columns are carried along and never looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[non_exhaustive]
pub enum Column {
    /// Seconds, increasing.
    #[serde(rename = "time_s")]
    Time,
    /// Volts at the pack's terminals.
    #[serde(rename = "pack_voltage_V")]
    PackVoltage,
    /// Amperes, positive when the pack discharges.
    #[serde(rename = "pack_current_A")]
    PackCurrent,
    /// A counter at the far end, discharge less charge; may restart at any time.
    #[serde(rename = "charge_drawn_Ah")]
    ChargeDrawn,
    /// Volts of the lowest cell.
    #[serde(rename = "cell_voltage_min_V")]
    CellVoltageMin,
    /// Temperature of the cells.
    #[serde(rename = "cell_temperature_degC")]
    CellTemperature,
    /// Temperature of the hottest motor.
    #[serde(rename = "motor_temperature_degC")]
    MotorTemperature,
    /// Temperature of the motor controller.
    #[serde(rename = "controller_temperature_degC")]
    ControllerTemperature,
    /// Metres per second, forward positive.
    #[serde(rename = "speed_m_s")]
    Speed,
    /// Metres ridden.
    #[serde(rename = "distance_m")]
    Distance,
    /// Metres, uphill positive.
    #[serde(rename = "elevation_m")]
    Elevation,
    /// -1 (full brake) to 1 (full drive).
    #[serde(rename = "thumb")]
    Thumb,
    /// 1 where a telemetry frame arrived, 0 where none did.
    #[serde(rename = "link_ok")]
    LinkOk,
    /// The true state of charge, 0 to 1, known only where a ride was made by a model.
    #[serde(rename = "true_soc")]
    TrueSoc,
}

impl Column {
    /// Every column, in the order in which they are written.
    pub const ALL: [Self; 14] = [
        Self::Time,
        Self::PackVoltage,
        Self::PackCurrent,
        Self::ChargeDrawn,
        Self::CellVoltageMin,
        Self::CellTemperature,
        Self::MotorTemperature,
        Self::ControllerTemperature,
        Self::Speed,
        Self::Distance,
        Self::Elevation,
        Self::Thumb,
        Self::LinkOk,
        Self::TrueSoc,
    ];

    /// The name in the header.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Time => "time_s",
            Self::PackVoltage => "pack_voltage_V",
            Self::PackCurrent => "pack_current_A",
            Self::ChargeDrawn => "charge_drawn_Ah",
            Self::CellVoltageMin => "cell_voltage_min_V",
            Self::CellTemperature => "cell_temperature_degC",
            Self::MotorTemperature => "motor_temperature_degC",
            Self::ControllerTemperature => "controller_temperature_degC",
            Self::Speed => "speed_m_s",
            Self::Distance => "distance_m",
            Self::Elevation => "elevation_m",
            Self::Thumb => "thumb",
            Self::LinkOk => "link_ok",
            Self::TrueSoc => "true_soc",
        }
    }

    /// The column of this name, case mattering (`mV` is not `MV`); none for any other name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|column| column.name() == name)
    }

    /// The lowest and highest value that can be meant, in the column's unit.
    ///
    /// Wide on purpose: these catch a wrong unit or a broken record, not a bad board.
    #[must_use]
    pub const fn range(self) -> (f64, f64) {
        match self {
            // Room for seconds since an epoch; milliseconds of one lie far outside.
            Self::Time => (-1e10, 1e10),
            // Far above any pack that a person builds; a log in millivolts shows at once.
            Self::PackVoltage => (-1000.0, 1000.0),
            Self::PackCurrent => (-5000.0, 5000.0),
            // A counter that is never restarted, over a pack's whole life.
            Self::ChargeDrawn => (-1e6, 1e6),
            // An over-discharged cell in a series string is reversed, hence below nothing.
            Self::CellVoltageMin => (-10.0, 10.0),
            // From colder than any rider to a cell that burns.
            Self::CellTemperature => (-80.0, 200.0),
            // Up to a winding that has burnt.
            Self::MotorTemperature | Self::ControllerTemperature => (-80.0, 400.0),
            // Rolling backwards counts.
            Self::Speed => (-100.0, 100.0),
            // Once round the earth.
            Self::Distance => (-4.1e7, 4.1e7),
            // From below the deepest shore to above the highest road.
            Self::Elevation => (-1000.0, 9000.0),
            Self::Thumb => (-1.0, 1.0),
            Self::LinkOk => (0.0, 1.0),
            // A cell may stand a little over full or under empty, by definition of both.
            Self::TrueSoc => (-0.1, 1.1),
        }
    }

    /// Digits after the point when written: a tenth or less of what a good sensor resolves.
    #[must_use]
    pub const fn decimals(self) -> usize {
        match self {
            // Of time, zeros after the third are left out again.
            Self::Time | Self::TrueSoc => 6,
            // A radio's steps of it are no round number of ampere-hours.
            Self::ChargeDrawn => 7,
            Self::PackVoltage | Self::PackCurrent | Self::CellVoltageMin | Self::Thumb => 4,
            Self::Speed | Self::Distance => 3,
            Self::CellTemperature
            | Self::MotorTemperature
            | Self::ControllerTemperature
            | Self::Elevation => 2,
            Self::LinkOk => 0,
        }
    }

    /// Steps of the last written digit in a unit.
    #[must_use]
    pub const fn per_unit(self) -> f64 {
        const TENS: [f64; 8] = [1.0, 10.0, 100.0, 1e3, 1e4, 1e5, 1e6, 1e7];
        TENS[self.decimals()]
    }

    /// Whether the value comes over the radio, and is worth nothing where no frame arrived.
    #[must_use]
    pub const fn comes_by_link(self) -> bool {
        match self {
            Self::Time | Self::Thumb | Self::LinkOk | Self::TrueSoc => false,
            Self::PackVoltage
            | Self::PackCurrent
            | Self::ChargeDrawn
            | Self::CellVoltageMin
            | Self::CellTemperature
            | Self::MotorTemperature
            | Self::ControllerTemperature
            | Self::Speed
            | Self::Distance
            | Self::Elevation => true,
        }
    }
}

impl fmt::Display for Column {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_name_leads_back_to_its_column() {
        for column in Column::ALL {
            assert_eq!(Column::from_name(column.name()), Some(column));
        }
        assert_eq!(Column::from_name("pack_voltage_v"), None);
    }

    #[test]
    fn a_mapping_file_knows_the_columns_by_the_same_names() {
        for column in Column::ALL {
            let text = toml::Value::try_from(column).unwrap();
            assert_eq!(text.as_str(), Some(column.name()));
        }
    }

    #[test]
    fn every_range_has_room() {
        for column in Column::ALL {
            let (lowest, highest) = column.range();
            assert!(lowest < highest, "{column}");
        }
    }
}
