//! The step of 0.01 s: lagged states forward, voltage out, accounts kept.
//!
//! Uses only `sums` and the coefficients that `refresh` prepared; constant time. All lags go by the
//! trapezoid rule, so that energy balances to the last bit and the mean voltage of a step is a straight
//! line over the current.

use super::super::cell::LAGS;
use super::{Pack, REFRESH_STEPS};
use crate::plant::{STEP_S, Source};

/// Number of lagged states: four of each sphere, two branches.
pub(crate) const LAGGED: usize = 2 * LAGS.len() + 2;
/// Of which belong to the spheres: first the quick one's, then the slow one's.
pub(crate) const DEFICITS: usize = 2 * LAGS.len();

/// What the past currents have left behind; common to all groups.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct States {
    /// Charge missing at the surfaces (C of the pack), then lagged currents of the branches (A).
    pub(crate) lagged: [f64; LAGGED],
    /// Hysteresis, -1 (after discharge) to 1.
    pub(crate) hysteresis: f64,
}

/// Coefficients and accounts of the interval since the last refresh.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Interval {
    /// State after the step = keep * state + feed * current.
    pub(crate) keep: [f64; LAGGED],
    pub(crate) feed: [f64; LAGGED],
    /// Mean voltage that a unit of the state at the step's start takes over the step.
    pub(crate) weight: [f64; LAGGED],
    /// Mean voltage that an ampere takes by way of deficits and drawn charge, and by way of branches (ohm).
    pub(crate) surface_ohm: f64,
    pub(crate) branches_ohm: f64,
    /// Resting voltage at the surface if no deficit were there (V): the line through the refresh.
    pub(crate) line_V: f64,
    /// Fall of that line per coulomb drawn (V/C).
    pub(crate) line_V_C: f64,
    /// Change of the hysteresis per ampere and step.
    pub(crate) hysteresis_per_A: f64,
    pub(crate) steps: u32,
    /// Charge drawn since the refresh (C).
    pub(crate) drawn_C: f64,
    /// Sums over the steps, times their length.
    pub(crate) terminal_J: f64,
    pub(crate) surface_J: f64,
    pub(crate) current_A2s: f64,
    pub(crate) branch1_A2s: f64,
    pub(crate) branch2_A2s: f64,
    pub(crate) hysteresis_C: f64,
}

/// Parts of the mean voltage of the coming step at no current.
struct Parts {
    surface_V: f64,
    branches_V: f64,
    hysteresis_V: f64,
}

impl Pack {
    fn parts(&self) -> Parts {
        let (interval, sums) = (&self.interval, &self.sums);
        let lagged = &self.states.lagged;
        let mut deficits_V = 0.0;
        let mut branches_V = 0.0;
        for (at, (state, weight)) in lagged.iter().zip(&interval.weight).enumerate() {
            if at < DEFICITS {
                deficits_V += state * weight;
            } else {
                branches_V += state * weight;
            }
        }
        Parts {
            surface_V: interval.line_V - interval.line_V_C * interval.drawn_C - deficits_V,
            branches_V,
            hysteresis_V: sums.hysteresis_V * self.states.hysteresis,
        }
    }

    /// What a load sees over the coming step.
    ///
    /// The mean terminal voltage of the step is `emf_V - resistance_ohm * I`, exactly, whatever constant
    /// current `I` (A, positive discharges) is then given to [`Pack::step`].
    #[inline]
    #[must_use]
    pub fn source(&self) -> Source {
        let parts = self.parts();
        Source {
            emf_V: parts.surface_V + self.sums.warm_V + parts.hysteresis_V - parts.branches_V,
            resistance_ohm: self.resistance_ohm(),
        }
    }

    fn resistance_ohm(&self) -> f64 {
        let (interval, sums) = (&self.interval, &self.sums);
        interval.surface_ohm + interval.branches_ohm + (sums.instant_ohm + sums.wiring_ohm)
    }

    /// Advances by [`STEP_S`] under a pack current (A, positive discharges); gives the step's mean terminal
    /// voltage (V). A current that is no number counts as none.
    #[inline]
    pub fn step(&mut self, current_A: f64) -> f64 {
        let current_A = if current_A.is_finite() { current_A } else { 0.0 };
        let parts = self.parts();
        let surface_V = parts.surface_V - self.interval.surface_ohm * current_A;
        let emf_V = parts.surface_V + self.sums.warm_V + parts.hysteresis_V - parts.branches_V;
        let voltage_V = emf_V - self.resistance_ohm() * current_A;
        let charge_C = current_A * STEP_S;

        let before = self.states.lagged;
        let interval = &mut self.interval;
        let coefficients = interval.keep.iter().zip(&interval.feed);
        for (state, (keep, feed)) in self.states.lagged.iter_mut().zip(coefficients) {
            *state = keep * *state + feed * current_A;
        }
        let ([.., a1, a2], [.., b1, b2]) = (&before, &self.states.lagged);
        let (mean1_A, mean2_A) = (0.5 * (a1 + b1), 0.5 * (a2 + b2));
        interval.branch1_A2s += mean1_A * mean1_A * STEP_S;
        interval.branch2_A2s += mean2_A * mean2_A * STEP_S;
        interval.current_A2s += current_A * charge_C;
        interval.terminal_J += voltage_V * charge_C;
        interval.surface_J += surface_V * charge_C;
        interval.hysteresis_C += self.states.hysteresis * charge_C;
        interval.drawn_C += charge_C;
        let h = self.states.hysteresis;
        let moved = interval.hysteresis_per_A * (current_A.abs() * h + current_A);
        self.states.hysteresis = (h - moved).clamp(-1.0, 1.0);
        interval.steps += 1;

        self.voltage_V = voltage_V;
        self.current_A = current_A;
        if self.interval.steps >= REFRESH_STEPS {
            self.refresh();
        }
        voltage_V
    }
}
