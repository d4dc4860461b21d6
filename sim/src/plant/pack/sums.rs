//! What the groups add up to between two refreshes.
//!
//! Made by `refresh`, used by `stepping` on every step and by `ledger` at the end of the interval.

/// Sums over the groups, held for one interval.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Sums {
    /// Resting voltage at the surface, 25 degC (V).
    pub(crate) surface_V: f64,
    /// Its change with temperature, times the distance from 25 degC (V).
    pub(crate) warm_V: f64,
    /// Its change with temperature alone (V/K).
    pub(crate) per_K: f64,
    /// Fall per coulomb drawn, by the sphere that feels it (V/C).
    pub(crate) quick_V_C: f64,
    pub(crate) slow_V_C: f64,
    /// Hysteresis of all groups at h = 1 (V).
    pub(crate) hysteresis_V: f64,
    pub(crate) instant_ohm: f64,
    pub(crate) branch1_ohm: f64,
    pub(crate) branch2_ohm: f64,
    pub(crate) wiring_ohm: f64,
    /// Time constants of the branches (s).
    pub(crate) branch1_s: f64,
    pub(crate) branch2_s: f64,
    /// The instant resistance over the table's, from the current of the interval before.
    pub(crate) kinetic_factor: f64,
}

impl Sums {
    /// Energy in the branches while these lagged currents flow in them (J).
    pub(crate) fn stored_J(&self, branch1_A: f64, branch2_A: f64) -> f64 {
        0.5 * (self.branch1_s * self.branch1_ohm * branch1_A * branch1_A
            + self.branch2_s * self.branch2_ohm * branch2_A * branch2_A)
    }
}
