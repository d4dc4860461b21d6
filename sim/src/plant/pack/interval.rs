//! The coefficients of the interval between two refreshes.
//!
//! Made by `refresh` from `sums`, used by `stepping` on every step. All of them are held for 0.2 s, so that
//! the voltage is linear in states and current.

use super::super::cell::BRANCHES;
use super::stepping::{Accounts, LONGS, SHORTS};
use super::{REFRESH_STEPS, STEP_S};

/// Coefficients of lagged states that are stepped by the trapezoid rule.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Lags<const N: usize> {
    /// State after the step = keep * state + feed * current.
    keep: [f64; N],
    feed: [f64; N],
    /// Mean voltage that a unit of the state at a step's start takes over that step.
    weight: [f64; N],
    /// The same over the step after.
    ahead: [f64; N],
    /// Mean voltage that an ampere takes in its own step and in the step after (ohm).
    own_ohm: f64,
    next_ohm: f64,
}

impl<const N: usize> Default for Lags<N> {
    fn default() -> Self {
        Self {
            keep: [0.0; N],
            feed: [0.0; N],
            weight: [0.0; N],
            ahead: [0.0; N],
            own_ohm: 0.0,
            next_ohm: 0.0,
        }
    }
}

impl<const N: usize> Lags<N> {
    /// Sets how much of a state stays over a step and what an ampere adds, for (time constant, gain per second).
    pub(crate) fn prepare(&mut self, of: impl Iterator<Item = (f64, f64)>) {
        let coefficients = self.keep.iter_mut().zip(&mut self.feed);
        for ((keep, feed), (lag_s, gain_per_s)) in coefficients.zip(of) {
            let half = 0.5 * STEP_S / lag_s;
            *keep = (1.0 - half) / (1.0 + half);
            *feed = gain_per_s * STEP_S / (1.0 + half);
        }
    }

    /// Sets what a unit of each state takes on average over a step, given what it takes at an instant; gives
    /// what an ampere takes by way of them (ohm).
    pub(crate) fn weigh(&mut self, takes: [f64; N]) -> f64 {
        (self.own_ohm, self.next_ohm) = (0.0, 0.0);
        let coefficients = self.keep.iter().zip(&self.feed);
        let weights = self.weight.iter_mut().zip(&mut self.ahead);
        for ((takes, (weight, ahead)), (keep, feed)) in takes.iter().zip(weights).zip(coefficients)
        {
            *weight = 0.5 * (1.0 + keep) * takes;
            *ahead = *weight * keep;
            self.own_ohm += 0.5 * feed * takes;
            self.next_ohm += *weight * feed;
        }
        self.own_ohm
    }

    /// Moves the states on by a step and gives what they take of the voltage in the next: reckoned from the
    /// states before, so that the long sum need not wait for the current.
    #[inline]
    pub(crate) fn advance(&self, states: &mut [f64; N], current_A: f64) -> f64 {
        let taken_V = sum_of_products(states, &self.ahead) + self.next_ohm * current_A;
        for (state, (keep, feed)) in states.iter_mut().zip(self.keep.iter().zip(&self.feed)) {
            *state = keep * *state + feed * current_A;
        }
        taken_V
    }

    /// What the states take of the voltage over the coming step (V).
    pub(crate) fn takes_V(&self, states: &[f64; N]) -> f64 {
        sum_of_products(states, &self.weight)
    }
}

#[inline]
fn sum_of_products<const N: usize>(a: &[f64; N], b: &[f64; N]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// States whose lags are long against the interval: along a straight line from its beginning to its end,
/// where a constant current brings them exactly.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Longs {
    /// Share of the state at the refresh that fades per step, and what an ampere adds per step (C/A).
    fade: [f64; LONGS],
    pub(crate) feed_C_A: [f64; LONGS],
}

impl Longs {
    /// From (time constant, gain per second).
    pub(crate) fn prepare(&mut self, of: impl Iterator<Item = (f64, f64)>) {
        let steps = f64::from(REFRESH_STEPS);
        let coefficients = self.fade.iter_mut().zip(&mut self.feed_C_A);
        for ((fade, feed), (lag_s, gain_per_s)) in coefficients.zip(of) {
            *fade = (1.0 - libm::exp(-steps * STEP_S / lag_s)) / steps;
            *feed = gain_per_s * lag_s * *fade;
        }
    }

    /// What fades of each state per step (C), given the states at the refresh.
    pub(crate) fn fading_C(&self, mut states: [f64; LONGS]) -> [f64; LONGS] {
        for (state, fade) in states.iter_mut().zip(&self.fade) {
            *state *= fade;
        }
        states
    }

    /// The states by now, given those at the refresh.
    pub(crate) fn now_C(&self, mut states: [f64; LONGS], accounts: &Accounts) -> [f64; LONGS] {
        let steps = f64::from(accounts.steps);
        for (state, (fade, feed)) in states.iter_mut().zip(self.fade.iter().zip(&self.feed_C_A)) {
            *state += feed * accounts.current_A - fade * *state * steps;
        }
        states
    }
}

/// Coefficients of the interval since the last refresh.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Interval {
    pub(crate) longs: Longs,
    pub(crate) shorts: Lags<SHORTS>,
    pub(crate) branches: Lags<BRANCHES>,
    /// Mean voltage that an ampere takes by way of deficits and drawn charge (ohm).
    pub(crate) surface_ohm: f64,
    /// Fall of the mean terminal voltage per ampere, all told (ohm).
    pub(crate) resistance_ohm: f64,
    /// Mean resting voltage at the surface over the interval's first step if no short deficit were there and
    /// no current flowed (V).
    pub(crate) line_V: f64,
    /// Its rise per step, and its fall per ampere and step: drawn charge and long deficits (V, ohm).
    pub(crate) rise_V: f64,
    pub(crate) line_ohm: f64,
    /// What temperature adds, and hysteresis at 1 (V).
    pub(crate) warm_V: f64,
    pub(crate) hysteresis_V: f64,
    /// Change of the hysteresis per ampere and step; 0 where there is none.
    pub(crate) hysteresis_per_A: f64,
}

/// The voltages that go from step to step.
///
/// The two of the coming step do not lie side by side, nor beside the resistance: a compiler reads neighbours as
/// one pair, and that has to wait until both have left the processor's write queue (measured with the resistance
/// beside `emf_V`: half as long again for a step whose current comes from `source`).
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Voltages {
    /// Mean terminal voltage of the coming step with no current (V).
    pub(crate) emf_V: f64,
    /// Mean terminal voltage of the last step (V).
    pub(crate) last_V: f64,
    /// Mean resting voltage at the surface of the coming step with no current (V).
    pub(crate) surface_V: f64,
}

impl Voltages {
    /// Looks ahead, after the steps of `accounts`, while short deficits and branches take these voltages.
    #[inline]
    pub(crate) fn look_ahead(
        &mut self,
        interval: &Interval,
        accounts: &Accounts,
        hysteresis: f64,
        (deficits_V, branches_V): (f64, f64),
    ) {
        let line_V = interval.line_V + interval.rise_V * f64::from(accounts.steps)
            - interval.line_ohm * accounts.current_A;
        let other_V = interval.warm_V + interval.hysteresis_V * hysteresis - branches_V;
        self.surface_V = line_V - deficits_V;
        self.emf_V = self.surface_V + other_V;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_constant_current_brings_long_lags_where_the_exponential_does() {
        let lags = [(300.0, 0.5), (8.0, 1.0), (2.4, 2.0), (0.1, 3.0)];
        let mut longs = Longs::default();
        longs.prepare(lags.into_iter());
        let mut states = [0.0; LONGS];
        let accounts =
            Accounts { steps: REFRESH_STEPS, current_A: 20.0 * 7.0, ..Accounts::default() };
        for refresh in 1..=200 {
            states = longs.now_C(states, &accounts);
            let time_s = 0.2 * f64::from(refresh);
            for (state, (lag_s, gain_per_s)) in states.iter().zip(lags) {
                let exact = 7.0 * gain_per_s * lag_s * (1.0 - libm::exp(-time_s / lag_s));
                // Rounding only.
                assert!((state - exact).abs() < 1e-9 * exact, "{lag_s} s: {state} {exact}");
            }
        }
    }
}
