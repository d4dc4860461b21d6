//! Draws the cells of a pack from a seed.
//!
//! Called once by `Pack::new`; the order of the draws is part of what a seed means.

use rand_chacha::ChaCha8Rng;

use super::settings::PackSettings;
use crate::random::{self, Purpose, stream};

/// One cell as drawn, relative to a new one of the kind.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Drawn {
    pub(crate) capacity_share: f64,
    pub(crate) resistance_factor: f64,
    pub(crate) soc: f64,
}

/// The cells, group by group.
pub(crate) fn cells(settings: &PackSettings) -> Vec<Vec<Drawn>> {
    let mut numbers = stream(settings.seed, Purpose::Pack);
    let mut draw = || {
        let (capacity, resistance, charge) =
            (normal(&mut numbers), normal(&mut numbers), normal(&mut numbers));
        Drawn {
            capacity_share: settings.age.capacity_share
                * (1.0 + settings.spread.capacity * capacity),
            resistance_factor: settings.age.resistance_growth
                * (1.0 + settings.spread.resistance * resistance),
            // No charger fills a cell beyond full.
            soc: (settings.start_soc + settings.spread.charge * charge).clamp(0.0, 1.0),
        }
    };
    (0..settings.series).map(|_| (0..settings.parallel).map(|_| draw()).collect()).collect()
}

/// A normal number, drawn again until it lies within three standard deviations.
fn normal(numbers: &mut ChaCha8Rng) -> f64 {
    loop {
        let number = random::normal(numbers);
        if number.abs() <= 3.0 {
            return number;
        }
    }
}
