//! Who stands on the board, how full and how cold it is, and on what.
//!
//! One [`Stand`] is one point of a tuning; [`Stands`] are those to choose from. Numbers are common practice,
//! no source, but for the riders, which are the board file's.

use serde::Serialize;

use crate::board_file::BoardFile;
use crate::route::Surface;

/// One state of rider, pack, air and road.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stand {
    /// Board and rider, kg.
    pub mass_kg: f64,
    /// True charge, 0 to 1.
    pub charge: f64,
    /// Of the cells, °C.
    pub cell_degC: f64,
    /// Of the air, °C.
    pub air_degC: f64,
    /// Under the wheels.
    pub surface: Surface,
    /// Rise over run, uphill positive.
    pub grade: f64,
}

/// A rider to choose.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RiderChoice {
    /// What the page calls it.
    pub id: &'static str,
    /// In words.
    pub name: &'static str,
    /// Board and rider, kg.
    pub mass_kg: f64,
}

/// A charge to choose.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ChargeChoice {
    /// What the page calls it.
    pub id: &'static str,
    /// In words.
    pub name: &'static str,
    /// 0 to 1.
    pub charge: f64,
}

/// An air to choose; the cells have stood in it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AirChoice {
    /// What the page calls it.
    pub id: &'static str,
    /// In words.
    pub name: &'static str,
    /// °C.
    pub temperature_degC: f64,
}

/// A surface to choose.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SurfaceChoice {
    /// What files call it.
    pub id: &'static str,
    /// In words.
    pub name: String,
}

/// All there is to choose from.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Stands {
    /// Light, usual, heavy.
    pub riders: Vec<RiderChoice>,
    /// Full, half, low.
    pub charges: Vec<ChargeChoice>,
    /// Warm, cold.
    pub airs: Vec<AirChoice>,
    /// Every surface.
    pub surfaces: Vec<SurfaceChoice>,
    /// Down, level, up.
    pub grades: Vec<f64>,
}

/// A stand by the names of its parts.
#[derive(Clone, Debug, PartialEq, serde::Deserialize)]
pub struct StandChosen {
    /// Of [`Stands::riders`].
    pub rider: String,
    /// Of [`Stands::charges`].
    pub charge: String,
    /// Of [`Stands::airs`].
    pub air: String,
    /// Of [`Stands::surfaces`].
    pub surface: String,
    /// -0.5 to 0.5.
    pub grade: f64,
}

/// The steepest grade that is stood on.
const STEEPEST: f64 = 0.3;

impl Stands {
    /// Those of a board.
    #[must_use]
    pub fn of(board: &BoardFile) -> Self {
        let rider = |id, mass_kg| RiderChoice { id, name: id, mass_kg };
        let charge = |id, charge| ChargeChoice { id, name: id, charge };
        let air = |id, temperature_degC| AirChoice { id, name: id, temperature_degC };
        let surface = |surface: Surface| SurfaceChoice {
            id: surface.name(),
            name: surface.name().replace('_', " "),
        };
        Self {
            riders: vec![
                rider("light", board.riders.lightest_kg),
                rider("usual", board.board.vehicle().mass.to_f64()),
                rider("heavy", board.riders.heaviest_kg),
            ],
            charges: vec![charge("full", 0.95), charge("half", 0.5), charge("low", 0.08)],
            airs: vec![air("warm", 22.0), air("cold", -5.0)],
            surfaces: Surface::ALL.map(surface).to_vec(),
            grades: vec![-0.06, 0.0, 0.06],
        }
    }

    /// The stand of that choice.
    ///
    /// # Errors
    /// In words, the part that there is none of, and those that there are.
    pub fn stand(&self, chosen: &StandChosen) -> Result<Stand, String> {
        let none = |what: &str, given: &str, known: Vec<&str>| {
            format!("`{given}` is no {what}; {} are", known.join(", "))
        };
        let StandChosen { rider, charge, air, surface, grade } = chosen;
        let found = self.riders.iter().find(|choice| choice.id == rider);
        let ids = || self.riders.iter().map(|choice| choice.id).collect();
        let rider = found.ok_or_else(|| none("rider", rider, ids()))?;
        let found = self.charges.iter().find(|choice| choice.id == charge);
        let ids = || self.charges.iter().map(|choice| choice.id).collect();
        let charge = found.ok_or_else(|| none("charge", charge, ids()))?;
        let found = self.airs.iter().find(|choice| choice.id == air);
        let ids = || self.airs.iter().map(|choice| choice.id).collect();
        let air = found.ok_or_else(|| none("air", air, ids()))?;
        let ids = || self.surfaces.iter().map(|choice| choice.id).collect();
        let ground = Surface::from_name(surface).ok_or_else(|| none("surface", surface, ids()))?;
        if !(-STEEPEST..=STEEPEST).contains(grade) {
            return Err(format!("the grade is {grade}; {} to {STEEPEST} is allowed", -STEEPEST));
        }
        Ok(Stand {
            mass_kg: rider.mass_kg,
            charge: charge.charge,
            cell_degC: air.temperature_degC,
            air_degC: air.temperature_degC,
            surface: ground,
            grade: *grade,
        })
    }
}
