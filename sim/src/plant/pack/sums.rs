//! What the groups add up to between two refreshes.
//!
//! Made by `refresh`; `interval` is made from it, and `ledger` uses it at the end of the interval.

use super::super::cell::BRANCHES;

/// Sums over the groups, held for one interval.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Sums {
    /// Charge missing at the surfaces at the refresh (C).
    pub(crate) quick_C: f64,
    pub(crate) slow_C: f64,
    /// Resting voltage at the surface then, 25 degC (V).
    pub(crate) surface_V: f64,
    /// Distance from 25 degC (K), and what it adds to the voltage (V).
    pub(crate) warm_K: f64,
    pub(crate) warm_V: f64,
    /// Change of the voltage with temperature (V/K).
    pub(crate) per_K: f64,
    /// Fall per coulomb drawn, by the sphere that feels it (V/C).
    pub(crate) quick_V_C: f64,
    pub(crate) slow_V_C: f64,
    /// Hysteresis of all groups at h = 1 (V).
    pub(crate) hysteresis_V: f64,
    /// Instant resistance of one new cell of each group, as in the table (ohm).
    pub(crate) table_ohm: f64,
    pub(crate) instant_ohm: f64,
    pub(crate) branches_ohm: [f64; BRANCHES],
    pub(crate) wiring_ohm: f64,
    /// Time constants of the branches (s).
    pub(crate) branches_s: [f64; BRANCHES],
    /// The instant resistance over the table's, from the current of the interval before.
    pub(crate) kinetic_factor: f64,
}

impl Sums {
    /// Energy in the branches while these lagged currents flow in them (J).
    pub(crate) fn stored_J(&self, branches_A: [f64; BRANCHES]) -> f64 {
        let branches = self.branches_s.iter().zip(&self.branches_ohm).zip(branches_A);
        branches.map(|((lag_s, ohm), current_A)| 0.5 * lag_s * ohm * current_A * current_A).sum()
    }
}

/// The resistances of all groups when last looked up (ohm).
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Resisting {
    pub(crate) table_ohm: f64,
    pub(crate) instant_ohm: f64,
    pub(crate) branches_ohm: [f64; BRANCHES],
}

/// What the groups add up to as long as none loses a cell.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Lasting {
    pub(crate) groups: f64,
    pub(crate) capacity_C: f64,
    pub(crate) wiring_ohm: f64,
}
