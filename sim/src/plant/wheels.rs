//! The wheels: how much of the weight drives, what they weigh, and whether they roll.
//!
//! Used by `vehicle`. Dry friction (Coulomb): one coefficient for holding and for sliding, as the
//! difference is smaller than what is known of a street. Weight does not move between the axles.

use crate::plant::range::{OutOfRange, within};

/// The wheels of a board.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wheels {
    /// Share of the weight that stands on the driven wheels, 0.05 to 1.
    pub driven_weight_share: f64,
    /// Moment of inertia of all driven wheels together, 0.00001 to 1 kg m².
    pub driven_kg_m2: f64,
    /// Moment of inertia of all other wheels together, 0 to 1 kg m².
    pub free_kg_m2: f64,
}

/// Whether the driven wheels go as fast as the road.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Grip {
    /// They do.
    Rolling,
    /// They spin or are locked.
    Slipping {
        /// Speed of their rim, forward positive; zero when locked.
        wheel_m_s: f64,
    },
}

impl Wheels {
    /// Whether all values lie in their ranges.
    ///
    /// # Errors
    /// [`OutOfRange`] for the first that does not.
    pub fn check(&self) -> Result<(), OutOfRange> {
        within("driven_weight_share", self.driven_weight_share, (0.05, 1.0))?;
        within("driven_kg_m2", self.driven_kg_m2, (0.00001, 1.0))?;
        within("free_kg_m2", self.free_kg_m2, (0.0, 1.0))
    }
}
