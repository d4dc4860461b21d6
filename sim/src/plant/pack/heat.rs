//! The warmth of the cells and of the box around them.
//!
//! Two nodes and the air, advanced at each refresh with the heat of the interval. One temperature for all
//! cells; the hottest is told from the group that makes the most heat.

use super::settings::{PackSettings, Thermal};

#[derive(Clone, Copy, Debug)]
pub(crate) struct Heat {
    thermal: Thermal,
    cells_J_K: f64,
    pub(crate) cells_degC: f64,
    pub(crate) enclosure_degC: f64,
    pub(crate) air_degC: f64,
}

impl Heat {
    pub(crate) fn new(settings: &PackSettings) -> Self {
        Self {
            thermal: settings.thermal,
            cells_J_K: settings.thermal.cell_heat_J_K
                * f64::from(settings.series)
                * f64::from(settings.parallel),
            cells_degC: settings.temperature_degC,
            enclosure_degC: settings.temperature_degC,
            air_degC: settings.air_degC,
        }
    }

    /// After `seconds` (at most one) in which the cells received `cells_J` and the enclosure `enclosure_J`.
    pub(crate) fn advance(&mut self, cells_J: f64, enclosure_J: f64, seconds: f64) {
        let out_J =
            self.thermal.cells_to_enclosure_W_K * (self.cells_degC - self.enclosure_degC) * seconds;
        let lost_J =
            self.thermal.enclosure_to_air_W_K * (self.enclosure_degC - self.air_degC) * seconds;
        self.cells_degC += (cells_J - out_J) / self.cells_J_K;
        self.enclosure_degC += (enclosure_J + out_J - lost_J) / self.thermal.enclosure_heat_J_K;
        // No cell lives there; a model driven there must still give numbers.
        self.cells_degC = self.cells_degC.clamp(-60.0, 300.0);
        self.enclosure_degC = self.enclosure_degC.clamp(-60.0, 300.0);
    }

    /// Whether cells, enclosure and air are within `K` of each other.
    pub(crate) fn still_within(&self, K: f64) -> bool {
        (self.cells_degC - self.enclosure_degC).abs() < K
            && (self.enclosure_degC - self.air_degC).abs() < K
    }
}
