//! A resting voltage through the crate `splines`: a cubic (Catmull-Rom) through 21 points.
//!
//! What one look at the curve costs; the filters above take straight lines.
#![no_std]
#![no_main]

extern crate alloc;

use alloc::vec::Vec;

use cortex_m_rt::entry;
use instead::{RESTING_V, make_heap, per_frame};
use splines::{Interpolation, Key, Spline};

/// One look. Not inlined, and with a name of its own, to be counted.
#[inline(never)]
fn counted_step(curve: &Spline<f32, f32>, soc: f32) -> f32 {
    curve.sample(soc).unwrap_or(0.0)
}

#[entry]
fn main() -> ! {
    make_heap();
    // It needs a key on each side of where it is asked.
    let before = Key::new(-0.05, RESTING_V[0], Interpolation::CatmullRom);
    let keys = RESTING_V
        .iter()
        .enumerate()
        .map(|(step, &volts)| Key::new(step as f32 * 0.05, volts, Interpolation::CatmullRom));
    let after = Key::new(1.05, RESTING_V[20], Interpolation::CatmullRom);
    let keys: Vec<_> = core::iter::once(before).chain(keys).chain([after]).collect();
    let curve = Spline::from_vec(keys);
    // Charges as the ride would have them: by its voltage, roughly.
    per_frame(|_, volts| counted_step(&curve, (volts - 2.5) / 1.8))
}
