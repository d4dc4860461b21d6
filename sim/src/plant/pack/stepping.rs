//! The step of 0.01 s: lagged states forward, voltage out, accounts kept.
//!
//! Uses only the coefficients that `refresh` prepared; constant time. Branches and the spheres' short lags
//! go by the trapezoid rule, so that energy balances to the last bit and the mean voltage of a step is a
//! straight line over the current. The spheres' long lags move along a straight line from one refresh to the
//! next, as `interval` says, and cost a step nothing.

use super::super::cell::{BRANCHES, LAGS};
use super::{Pack, REFRESH_STEPS};
use crate::plant::Source;

/// Lags of a sphere that are long against a refresh; the others are stepped one by one.
pub(crate) const LONG: usize = 2;
/// States of both spheres with long lags: first the quick sphere's, then the slow one's.
pub(crate) const LONGS: usize = 2 * LONG;
/// The same with short lags.
pub(crate) const SHORTS: usize = 2 * (LAGS.len() - LONG);

/// Far more than a short circuit gives; keeps arithmetic finite.
const MOST_A: f64 = 1e5;

/// What the past currents have left behind; common to all groups.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct States {
    /// Charge missing at the surfaces by the long lags, at the last refresh (C of the pack).
    pub(crate) longs_C: [f64; LONGS],
    /// The same by the short lags, now.
    pub(crate) shorts_C: [f64; SHORTS],
    /// Lagged currents of the branches (A).
    pub(crate) branches_A: [f64; BRANCHES],
    /// Hysteresis, -1 (after discharge) to 1.
    pub(crate) hysteresis: f64,
}

/// What the steps since the last refresh add up to: plain sums, not yet times the length of a step.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Accounts {
    pub(crate) steps: u32,
    pub(crate) terminal_W: f64,
    pub(crate) current_A: f64,
    pub(crate) surface_W: f64,
    pub(crate) current_A2: f64,
    pub(crate) hysteresis_A: f64,
    /// Of twice the mean lagged current.
    pub(crate) twice_branches_A2: [f64; BRANCHES],
}

impl Accounts {
    /// Charge drawn since the refresh (C).
    #[inline]
    pub(crate) fn drawn_C(&self) -> f64 {
        self.current_A * super::STEP_S
    }
}

impl Pack {
    /// Prepares the coming step anew, after a refresh.
    pub(super) fn look_ahead(&mut self) {
        let (interval, states) = (&self.interval, &self.states);
        let deficits_V = interval.shorts.takes_V(&states.shorts_C);
        let branches_V = interval.branches.takes_V(&states.branches_A);
        self.voltages.look_ahead(
            interval,
            &self.accounts,
            states.hysteresis,
            (deficits_V, branches_V),
        );
    }

    /// What a load sees over the coming step.
    ///
    /// The mean terminal voltage of the step is `emf_V - resistance_ohm * I`, exactly, whatever constant
    /// current `I` (A, positive discharges) is then given to [`Pack::step`].
    #[inline]
    #[must_use]
    pub const fn source(&self) -> Source {
        Source { emf_V: self.voltages.emf_V, resistance_ohm: self.interval.resistance_ohm }
    }

    /// Advances by [`super::STEP_S`] under a pack current (A, positive discharges); gives the step's mean
    /// terminal voltage (V). A current that is no number counts as none.
    #[inline]
    pub fn step(&mut self, current_A: f64) -> f64 {
        let current_A = if current_A.is_finite() { current_A.clamp(-MOST_A, MOST_A) } else { 0.0 };
        let (interval, accounts, states) = (&self.interval, &mut self.accounts, &mut self.states);
        let surface_V = self.voltages.surface_V - interval.surface_ohm * current_A;
        let voltage_V = self.voltages.emf_V - interval.resistance_ohm * current_A;

        let deficits_V = interval.shorts.advance(&mut states.shorts_C, current_A);
        let before_A = states.branches_A;
        let branches_V = interval.branches.advance(&mut states.branches_A, current_A);
        let around_A = before_A.iter().zip(&states.branches_A);
        for (sum_A2, (before_A, after_A)) in accounts.twice_branches_A2.iter_mut().zip(around_A) {
            let twice_A = before_A + after_A;
            *sum_A2 += twice_A * twice_A;
        }
        accounts.current_A2 += current_A * current_A;
        accounts.terminal_W += voltage_V * current_A;
        accounts.surface_W += surface_V * current_A;
        accounts.current_A += current_A;
        accounts.steps += 1;
        if interval.hysteresis_per_A > 0.0 {
            let h = states.hysteresis;
            accounts.hysteresis_A += h * current_A;
            let moved = interval.hysteresis_per_A * (current_A.abs() * h + current_A);
            states.hysteresis = (h - moved).clamp(-1.0, 1.0);
        }

        self.voltages.last_V = voltage_V;
        self.current_A = current_A;
        if accounts.steps >= REFRESH_STEPS {
            self.refresh();
            self.look_ahead();
        } else {
            let taken_V = (deficits_V, branches_V);
            self.voltages.look_ahead(interval, accounts, states.hysteresis, taken_V);
        }
        voltage_V
    }
}
