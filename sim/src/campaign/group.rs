//! What rides are sorted by for the table: warmth, hills, wind, load, wear, radio, sensors.
//!
//! Used by `tally`.

use super::Outcome;

/// A group of rides.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Group {
    /// All rides.
    All,
    /// Cells under 8 °C at the start.
    Cold,
    /// Cells from 8 to 25 °C.
    Mild,
    /// Warmer cells.
    Warm,
    /// Ten metres of climb or more on a kilometre.
    Hilly,
    /// A wind of 4 m/s or more.
    Windy,
    /// A tenth heavier than the board file says, or more.
    Heavy,
    /// A pack with 94 % of its capacity or more.
    NearlyNew,
    /// With 87 to 94 %.
    Used,
    /// With less.
    Worn,
    /// A radio that loses nothing.
    PerfectRadio,
    /// One that loses in short bursts.
    ShortBursts,
    /// One that loses in heavy-tailed bursts.
    HeavyTail,
    /// No sensor for the cells' temperature.
    NoTemperature,
    /// A weld let go during the ride.
    WeldFailed,
}

impl Group {
    /// All groups, in the order of the table.
    pub const ALL: [Self; 15] = [
        Self::All,
        Self::Cold,
        Self::Mild,
        Self::Warm,
        Self::Hilly,
        Self::Windy,
        Self::Heavy,
        Self::NearlyNew,
        Self::Used,
        Self::Worn,
        Self::PerfectRadio,
        Self::ShortBursts,
        Self::HeavyTail,
        Self::NoTemperature,
        Self::WeldFailed,
    ];

    /// What a table or a file calls it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::All => "all rides",
            Self::Cold => "cells under 8 degC",
            Self::Mild => "8 to 25 degC",
            Self::Warm => "over 25 degC",
            Self::Hilly => "hilly",
            Self::Windy => "wind from 4 m/s on",
            Self::Heavy => "a tenth heavier",
            Self::NearlyNew => "capacity over 94 %",
            Self::Used => "87 to 94 %",
            Self::Worn => "under 87 %",
            Self::PerfectRadio => "radio loses nothing",
            Self::ShortBursts => "short bursts of loss",
            Self::HeavyTail => "heavy-tailed bursts",
            Self::NoTemperature => "no temperature sensor",
            Self::WeldFailed => "a weld let go",
        }
    }

    /// Whether a ride is in it.
    #[must_use]
    pub fn holds(self, ride: &Outcome) -> bool {
        let day = &ride.day;
        let degC = day.pack.temperature_degC.unwrap_or(day.air.temperature_degC);
        let capacity = day.pack.capacity_share;
        match self {
            Self::All => true,
            Self::Cold => degC < 8.0,
            Self::Mild => (8.0..=25.0).contains(&degC),
            Self::Warm => degC > 25.0,
            Self::Hilly => ride.climb_m_per_km >= 10.0,
            Self::Windy => day.air.wind_m_s >= 4.0,
            Self::Heavy => ride.load_share >= 1.1,
            Self::NearlyNew => capacity >= 0.94,
            Self::Used => (0.87..0.94).contains(&capacity),
            Self::Worn => capacity < 0.87,
            Self::PerfectRadio => day.radio.name() == "perfect",
            Self::ShortBursts => day.radio.name() == "gilbert-elliott",
            Self::HeavyTail => day.radio.name() == "heavy-tail",
            Self::NoTemperature => day.sensors.drop_temperature,
            Self::WeldFailed => day.weld.is_some_and(|weld| weld.at_s < ride.simulated_s),
        }
    }
}
