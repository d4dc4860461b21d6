//! Rider and board as a mass with a shape, and what the electronics were told of the wheels.
//!
//! Used by `road` (its load) and `vehicle`. Wheels wear: their true diameter and the one that was
//! typed in part, and from then on speed and distance are shown wrong.

use crate::plant::range::{OutOfRange, within};

/// Rider and board.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Body {
    /// The rider with all they carry, 0 to 1000 kg.
    pub rider_kg: f64,
    /// The board with its pack, 0.5 to 1000 kg.
    pub board_kg: f64,
    /// Drag coefficient times frontal area, 0.05 to 2 m².
    pub drag_area_m2: f64,
    /// Rolling resistance on smooth asphalt as a share of the weight, 0.0005 to 0.2.
    pub rolling_resistance: f64,
    /// What the driven wheels measure today, 0.03 to 0.8 m.
    pub wheel_diameter_m: f64,
    /// What the electronics were told that they measure, 0.03 to 0.8 m.
    pub told_wheel_diameter_m: f64,
}

impl Body {
    /// Rider and board together, kg.
    #[must_use]
    pub fn mass_kg(&self) -> f64 {
        self.rider_kg + self.board_kg
    }

    /// This body with another rider, so that both weigh `mass_kg`: whoever is heavier than the builder wrote
    /// is the rider; only the sum is felt.
    #[must_use]
    pub fn weighing(self, mass_kg: f64) -> Self {
        let board_kg = self.board_kg.min(mass_kg / 2.0);
        Self { board_kg, rider_kg: mass_kg - board_kg, ..self }
    }

    /// True radius of the driven wheels, m.
    #[must_use]
    pub fn wheel_radius_m(&self) -> f64 {
        0.5 * self.wheel_diameter_m
    }

    /// Shown speed and distance per true ones: above one for worn wheels.
    #[must_use]
    pub fn shown_per_true(&self) -> f64 {
        self.told_wheel_diameter_m / self.wheel_diameter_m
    }

    /// Whether all values lie in their ranges.
    ///
    /// # Errors
    /// [`OutOfRange`] for the first that does not.
    pub fn check(&self) -> Result<(), OutOfRange> {
        within("rider_kg", self.rider_kg, (0.0, 1000.0))?;
        within("board_kg", self.board_kg, (0.5, 1000.0))?;
        within("drag_area_m2", self.drag_area_m2, (0.01, 5.0))?;
        within("rolling_resistance", self.rolling_resistance, (0.0005, 0.3))?;
        within("wheel_diameter_m", self.wheel_diameter_m, (0.01, 1.8))?;
        within("told_wheel_diameter_m", self.told_wheel_diameter_m, (0.02, 1.5))
    }
}
