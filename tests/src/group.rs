//! Which promise of accuracy a trace falls under.
//!
//! Chemistry, air temperature and wear of the facts decide, never a trace's name.

use std::fmt;

use serde::{Serialize, Serializer};

use crate::facts::RideFacts;

/// Kinds of pack and weather, in the order in which they are printed. No trace is in two.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Group {
    /// Neither cold nor hot.
    NickelCobalt,
    /// Air under 8 degC.
    NickelCobaltCold,
    /// Air over 35 degC.
    NickelCobaltHot,
    /// Of any chemistry.
    Worn,
    /// Not worn, at any temperature.
    IronPhosphate,
    /// None of the above.
    Other,
}

/// In degC: air under the first is cold, over the second hot.
const MILD_AIR: std::ops::RangeInclusive<f64> = 8.0..=35.0;

impl Group {
    /// The group of a trace.
    #[must_use]
    pub fn of(facts: &RideFacts) -> Self {
        let names = |any: &[&str]| any.iter().any(|name| facts.chemistry.contains(name));
        if facts.aged.is_some() {
            Self::Worn
        } else if names(&["LFP"]) {
            Self::IronPhosphate
        } else if !names(&["NMC", "NCA", "LCO"]) {
            Self::Other
        } else if facts.ambient_degC < *MILD_AIR.start() {
            Self::NickelCobaltCold
        } else if facts.ambient_degC > *MILD_AIR.end() {
            Self::NickelCobaltHot
        } else {
            Self::NickelCobalt
        }
    }
}

impl fmt::Display for Group {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::NickelCobalt => "nickel and cobalt, 8 to 35 degC",
            Self::NickelCobaltCold => "nickel and cobalt, under 8 degC",
            Self::NickelCobaltHot => "nickel and cobalt, over 35 degC",
            Self::Worn => "worn packs",
            Self::IronPhosphate => "iron phosphate",
            Self::Other => "other chemistries",
        })
    }
}

impl Serialize for Group {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn chemistry_air_and_wear_make_the_group() {
        let group = |chemistry: &str, ambient_degC: f64, aged: &str| {
            let facts = format!(
                r#"{{"cell": "c", "chemistry": "{chemistry}", "series": 1, "parallel": 1,
                "cell_capacity_Ah": 1, "new_cell_capacity_Ah": 1, "ambient_degC": {ambient_degC},
                "controller_cutoff_V_per_cell": 3, "start": "rested", "aged": {aged}, "vehicle":
                {{"mass_kg": 1, "crr": 1, "cda_m2": 1, "eta": 1, "wheel_mm": 1}}}}"#
            );
            Group::of(&serde_json::from_str(&facts).unwrap())
        };
        assert_eq!(group("NMC811 / graphite", 8.0, "null"), Group::NickelCobalt);
        assert_eq!(group("LCO / graphite", 35.0, "null"), Group::NickelCobalt);
        assert_eq!(group("NCA", 7.9, "null"), Group::NickelCobaltCold);
        assert_eq!(group("NCA", 35.1, "null"), Group::NickelCobaltHot);
        assert_eq!(group("LFP", -5.0, "null"), Group::IronPhosphate);
        assert_eq!(group("LFP", 20.0, r#"{"lithium": 0.9}"#), Group::Worn);
        assert_eq!(group("LTO", 20.0, "null"), Group::Other);
    }
}
