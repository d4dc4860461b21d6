//! Units in which other logs are kept, and what turns them into ours.
//!
//! Used by `mapping` only; a ride of ours has one unit per column, and says it in the name.
//! Source: the foot and the mile are exact by the international yard and pound agreement of
//! 1959, from memory; the rest are definitions of the SI.

use std::fmt;

use serde::{Deserialize, Serialize};

use super::column::Column;

/// A unit that a mapping may name instead of a scale.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
#[allow(missing_docs, reason = "each variant's own symbol says what it is")]
pub enum Unit {
    #[serde(rename = "s")]
    Second,
    #[serde(rename = "ms")]
    Millisecond,
    #[serde(rename = "us")]
    Microsecond,
    #[serde(rename = "min")]
    Minute,
    #[serde(rename = "h")]
    Hour,
    #[serde(rename = "V")]
    Volt,
    #[serde(rename = "mV")]
    Millivolt,
    #[serde(rename = "A")]
    Ampere,
    #[serde(rename = "mA")]
    Milliampere,
    #[serde(rename = "Ah")]
    AmpereHour,
    #[serde(rename = "mAh")]
    MilliampereHour,
    #[serde(rename = "C")]
    Coulomb,
    #[serde(rename = "degC")]
    Celsius,
    #[serde(rename = "degF")]
    Fahrenheit,
    #[serde(rename = "K")]
    Kelvin,
    #[serde(rename = "m/s")]
    MetrePerSecond,
    #[serde(rename = "km/h")]
    KilometrePerHour,
    #[serde(rename = "mi/h")]
    MilePerHour,
    #[serde(rename = "m")]
    Metre,
    #[serde(rename = "km")]
    Kilometre,
    #[serde(rename = "mi")]
    Mile,
    #[serde(rename = "ft")]
    Foot,
    #[serde(rename = "%")]
    Percent,
}

impl Unit {
    /// Every unit.
    pub const ALL: [Self; 23] = [
        Self::Second,
        Self::Millisecond,
        Self::Microsecond,
        Self::Minute,
        Self::Hour,
        Self::Volt,
        Self::Millivolt,
        Self::Ampere,
        Self::Milliampere,
        Self::AmpereHour,
        Self::MilliampereHour,
        Self::Coulomb,
        Self::Celsius,
        Self::Fahrenheit,
        Self::Kelvin,
        Self::MetrePerSecond,
        Self::KilometrePerHour,
        Self::MilePerHour,
        Self::Metre,
        Self::Kilometre,
        Self::Mile,
        Self::Foot,
        Self::Percent,
    ];

    /// As it is spelled in a mapping.
    #[must_use]
    pub const fn symbol(self) -> &'static str {
        match self {
            Self::Second => "s",
            Self::Millisecond => "ms",
            Self::Microsecond => "us",
            Self::Minute => "min",
            Self::Hour => "h",
            Self::Volt => "V",
            Self::Millivolt => "mV",
            Self::Ampere => "A",
            Self::Milliampere => "mA",
            Self::AmpereHour => "Ah",
            Self::MilliampereHour => "mAh",
            Self::Coulomb => "C",
            Self::Celsius => "degC",
            Self::Fahrenheit => "degF",
            Self::Kelvin => "K",
            Self::MetrePerSecond => "m/s",
            Self::KilometrePerHour => "km/h",
            Self::MilePerHour => "mi/h",
            Self::Metre => "m",
            Self::Kilometre => "km",
            Self::Mile => "mi",
            Self::Foot => "ft",
            Self::Percent => "%",
        }
    }

    /// `(scale, offset)` so that ours = theirs * scale + offset; the same for every column
    /// that the unit fits.
    #[must_use]
    pub const fn to_ours(self) -> (f64, f64) {
        match self {
            Self::Second
            | Self::Volt
            | Self::Ampere
            | Self::AmpereHour
            | Self::Celsius
            | Self::MetrePerSecond
            | Self::Metre => (1.0, 0.0),
            Self::Millisecond | Self::Millivolt | Self::Milliampere | Self::MilliampereHour => {
                (1e-3, 0.0)
            }
            Self::Microsecond => (1e-6, 0.0),
            Self::Minute => (60.0, 0.0),
            Self::Hour => (3600.0, 0.0),
            Self::Coulomb => (1.0 / 3600.0, 0.0),
            Self::Fahrenheit => (5.0 / 9.0, -160.0 / 9.0),
            Self::Kelvin => (1.0, -273.15),
            Self::KilometrePerHour => (1.0 / 3.6, 0.0),
            Self::MilePerHour => (0.447_04, 0.0),
            Self::Kilometre => (1000.0, 0.0),
            Self::Mile => (1_609.344, 0.0),
            Self::Foot => (0.304_8, 0.0),
            Self::Percent => (0.01, 0.0),
        }
    }

    /// Whether the unit measures what `column` holds.
    #[must_use]
    pub const fn fits(self, column: Column) -> bool {
        match self {
            Self::Second | Self::Millisecond | Self::Microsecond | Self::Minute | Self::Hour => {
                matches!(column, Column::Time)
            }
            Self::Volt | Self::Millivolt => {
                matches!(column, Column::PackVoltage | Column::CellVoltageMin)
            }
            Self::Ampere | Self::Milliampere => matches!(column, Column::PackCurrent),
            Self::AmpereHour | Self::MilliampereHour | Self::Coulomb => {
                matches!(column, Column::ChargeDrawn)
            }
            Self::Celsius | Self::Fahrenheit | Self::Kelvin => {
                matches!(
                    column,
                    Column::CellTemperature
                        | Column::MotorTemperature
                        | Column::ControllerTemperature
                )
            }
            Self::MetrePerSecond | Self::KilometrePerHour | Self::MilePerHour => {
                matches!(column, Column::Speed)
            }
            Self::Metre | Self::Kilometre | Self::Mile | Self::Foot => {
                matches!(column, Column::Distance | Column::Elevation)
            }
            Self::Percent => matches!(column, Column::Thumb | Column::TrueSoc),
        }
    }

    /// The symbols of the units that fit `column`; empty for the link's flag.
    #[must_use]
    pub fn fitting(column: Column) -> Vec<&'static str> {
        Self::ALL.into_iter().filter(|unit| unit.fits(column)).map(Self::symbol).collect()
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.symbol())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ours(theirs: f64, unit: Unit) -> f64 {
        let (scale, offset) = unit.to_ours();
        theirs * scale + offset
    }

    #[test]
    fn water_freezes_and_boils_where_it_should() {
        // Rounding of two operations on numbers of a few hundred.
        for (theirs, unit, expected) in [
            (32.0, Unit::Fahrenheit, 0.0),
            (212.0, Unit::Fahrenheit, 100.0),
            (273.15, Unit::Kelvin, 0.0),
        ] {
            assert!((ours(theirs, unit) - expected).abs() < 1e-12);
        }
    }

    #[test]
    fn a_mile_an_hour_is_a_mile_in_an_hour() {
        let hour_s = ours(1.0, Unit::Hour);
        assert!((ours(1.0, Unit::MilePerHour) * hour_s - ours(1.0, Unit::Mile)).abs() < 1e-9);
        assert!((ours(36.0, Unit::KilometrePerHour) - 10.0).abs() < 1e-12);
    }

    #[test]
    fn a_symbol_is_what_a_mapping_spells() {
        for unit in Unit::ALL {
            let text = toml::Value::try_from(unit).unwrap();
            assert_eq!(text.as_str(), Some(unit.symbol()));
        }
    }

    #[test]
    fn every_column_but_the_flag_has_a_unit() {
        for column in Column::ALL {
            assert_eq!(Unit::fitting(column).is_empty(), column == Column::LinkOk, "{column}");
        }
    }
}
