//! The energy that a prescribed speed takes at the wheels, whatever turns them.
//!
//! Used by checks that compare rides; needs `road` and `body` only, no motor and no pack.

#[cfg(test)]
mod tests;

use crate::plant::body::Body;
use crate::plant::road::{Road, road_load_N};

/// Speeds at equal intervals, straight lines between them.
#[derive(Clone, Copy, Debug)]
pub struct SpeedTrace<'a> {
    /// Time from one speed to the next, s.
    pub interval_s: f64,
    /// Speeds, forward, 0 or more; fewer than two are a schedule of no length.
    pub speed_m_s: &'a [f64],
}

/// Joules that the wheels have to give so that `body` follows `trace` along `road`.
///
/// Each interval counts at its mean speed; where the road or braking gives energy back, nothing is
/// taken off, as friction brakes do. Wheels and rotors are taken as massless.
///
/// Laws: a stronger headwind or a steeper climb never takes less (up to a grade of 1 over the
/// rolling resistance). A heavier rider never takes less where the schedule ends no slower than it
/// begins, the grade is no steeper downhill than the rolling resistance, and the wind does not push:
/// elsewhere it truly can, since weight then is a store or a motor.
#[must_use]
pub fn tractive_energy_J(trace: &SpeedTrace<'_>, body: &Body, road: &Road) -> f64 {
    let mass_kg = body.mass_kg();
    let mut energy_J = 0.0;
    for pair in trace.speed_m_s.windows(2) {
        let [from_m_s, to_m_s] = *pair else { continue };
        let mean_m_s = 0.5 * (from_m_s + to_m_s);
        let inertia_N = mass_kg * (to_m_s - from_m_s) / trace.interval_s;
        let force_N = road_load_N(body, road, mean_m_s) + inertia_N;
        energy_J += force_N.max(0.0) * mean_m_s * trace.interval_s;
    }
    energy_J
}
