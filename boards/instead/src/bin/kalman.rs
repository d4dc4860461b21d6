//! A textbook extended Kalman filter with two states, in `f32`, by hand.
//!
//! Charge and the voltage of one slow branch; corrected by the voltage of every frame. Source: G. L.
//! Plett, J. Power Sources 134 (2004) 252, 262, 277, from memory, the simplest of the models there.
#![no_std]
#![no_main]

use cortex_m_rt::entry;
use instead::{
    AT_ONCE_OHM, BRANCH_DRIFT, CAPACITY_AS, LEFT, SLOW_OHM, SOC_DRIFT, STEP_S, VOLTAGE_NOISE,
    per_frame, resting,
};

/// Two states and their covariance, which is symmetric.
struct Filter {
    soc: f32,
    branch: f32,
    soc_variance: f32,
    covariance: f32,
    branch_variance: f32,
}

/// One frame. Not inlined, and with a name of its own, to be counted.
#[unsafe(no_mangle)]
#[inline(never)]
fn counted_step(filter: &mut Filter, amperes: f32, volts: f32) -> f32 {
    // Predict.
    filter.soc -= amperes * (STEP_S / CAPACITY_AS);
    filter.branch = LEFT * filter.branch + (1.0 - LEFT) * SLOW_OHM * amperes;
    filter.soc_variance += SOC_DRIFT;
    filter.covariance *= LEFT;
    filter.branch_variance = LEFT * LEFT * filter.branch_variance + BRANCH_DRIFT;

    // Correct.
    let (resting_v, slope) = resting(filter.soc);
    let surprise = volts - (resting_v - filter.branch - AT_ONCE_OHM * amperes);
    let with_soc = filter.soc_variance * slope - filter.covariance;
    let with_branch = filter.covariance * slope - filter.branch_variance;
    let variance = slope * with_soc - with_branch + VOLTAGE_NOISE;
    let (soc_gain, branch_gain) = (with_soc / variance, with_branch / variance);
    filter.soc = (filter.soc + soc_gain * surprise).clamp(0.0, 1.0);
    filter.branch += branch_gain * surprise;
    filter.soc_variance -= soc_gain * with_soc;
    filter.covariance -= soc_gain * with_branch;
    filter.branch_variance -= branch_gain * with_branch;
    filter.soc
}

#[entry]
fn main() -> ! {
    let mut filter = Filter {
        soc: 0.9,
        branch: 0.0,
        soc_variance: 0.01,
        covariance: 0.0,
        branch_variance: 7.0e-6,
    };
    per_frame(|amperes, volts| counted_step(&mut filter, amperes, volts))
}
