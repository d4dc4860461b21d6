//! Draws the cells of a pack from a seed.
//!
//! Called once by `Pack::new`; the order of the draws is part of what a seed means.

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::settings::PackSettings;

/// The stream of numbers that is for packs. Part of what a seed means: never change it.
const STREAM: u64 = 11;

/// One cell as drawn, relative to a new one of the kind.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Drawn {
    pub(crate) capacity_share: f64,
    pub(crate) resistance_factor: f64,
    pub(crate) soc: f64,
}

/// The cells, group by group.
pub(crate) fn cells(settings: &PackSettings) -> Vec<Vec<Drawn>> {
    let mut numbers = ChaCha8Rng::seed_from_u64(settings.seed);
    numbers.set_stream(STREAM);
    let mut draw = || {
        let (capacity, resistance, charge) =
            (normal(&mut numbers), normal(&mut numbers), normal(&mut numbers));
        Drawn {
            capacity_share: settings.age.capacity_share
                * (1.0 + settings.spread.capacity * capacity),
            resistance_factor: settings.age.resistance_growth
                * (1.0 + settings.spread.resistance * resistance),
            soc: settings.start_soc + settings.spread.charge * charge,
        }
    };
    (0..settings.series).map(|_| (0..settings.parallel).map(|_| draw()).collect()).collect()
}

/// A normal number, drawn again until it lies within three standard deviations (Box and Muller 1958).
fn normal(numbers: &mut ChaCha8Rng) -> f64 {
    loop {
        let (u, v) = (unit(numbers), unit(numbers));
        let z = libm::sqrt(-2.0 * libm::log(u)) * libm::cos(2.0 * std::f64::consts::PI * v);
        if z.abs() <= 3.0 {
            return z;
        }
    }
}

/// Above 0 and up to 1, in steps of 2^-32.
fn unit(numbers: &mut ChaCha8Rng) -> f64 {
    (f64::from(numbers.next_u32()) + 1.0) / 4_294_967_296.0
}
