//! The same filter through the crate `minikalman`.
#![no_std]
#![no_main]
#![allow(non_snake_case, reason = "matrices are named as in any textbook")]

use cortex_m_rt::entry;
use instead::{
    AT_ONCE_OHM, BRANCH_DRIFT, CAPACITY_AS, LEFT, SLOW_OHM, SOC_DRIFT, STEP_S, VOLTAGE_NOISE,
    make_heap, per_frame, resting,
};
use minikalman::extended::builder::KalmanFilterBuilder;
use minikalman::prelude::*;

const STATES: usize = 2;

#[entry]
fn main() -> ! {
    make_heap();
    let builder = KalmanFilterBuilder::<STATES, f32>::default();
    let mut filter = builder.build();
    let mut measurement = builder.observations().build::<1>();
    filter.state_vector_mut().apply(|x| {
        x.set_row(0, 0.9);
        x.set_row(1, 0.0);
    });
    filter.estimate_covariance_mut().apply(|P| {
        P.make_identity();
        P.set_at(0, 0, 0.01);
        P.set_at(1, 1, 7.0e-6);
    });
    filter.state_transition_jacobian_mut().apply(|A| {
        A.make_identity();
        A.set_at(1, 1, LEFT);
    });
    filter.direct_process_noise_mut().apply(|Q| {
        Q.make_identity();
        Q.set_at(0, 0, SOC_DRIFT);
        Q.set_at(1, 1, BRANCH_DRIFT);
    });
    measurement.measurement_noise_covariance_mut().apply(|R| R.set_at(0, 0, VOLTAGE_NOISE));

    let mut step = |amperes: f32, volts: f32| {
        filter.predict_nonlinear(|x, next| {
            next[0] = x[0] - amperes * (STEP_S / CAPACITY_AS);
            next[1] = LEFT * x[1] + (1.0 - LEFT) * SLOW_OHM * amperes;
        });
        let (_, slope) = resting(filter.state_vector().get_row(0));
        measurement.observation_jacobian_matrix_mut().apply(|H| {
            H.set_at(0, 0, slope);
            H.set_at(0, 1, -1.0);
        });
        measurement.measurement_vector_mut().apply(|z| z.set_row(0, volts));
        filter.correct_nonlinear(&mut measurement, |x, expected| {
            expected[0] = resting(x[0]).0 - x[1] - AT_ONCE_OHM * amperes;
        });
        filter.state_vector().get_row(0)
    };
    per_frame(|amperes, volts| counted_step(&mut step, amperes, volts))
}

/// One frame. Not inlined, and with a name of its own, to be counted.
#[inline(never)]
fn counted_step(step: &mut impl FnMut(f32, f32) -> f32, amperes: f32, volts: f32) -> f32 {
    step(amperes, volts)
}
