//! A rider who rides away, and turns when the handheld says so: does the way home end at home, and with
//! how much to spare?
//!
//! Used by `outcome` for one ride, summed by `tally`.

use std::sync::atomic::AtomicBool;

use homestretch::range::{Heading, Word};

use super::histogram::Histogram;
use super::outcome::Ride;
use crate::world::{Ending, World};

/// What came of a rider who turned when told.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HomeOutcome {
    /// Where the rider turned, metres from home; nothing for one who was never told.
    pub turned_at_m: Option<f64>,
    /// Whether home was reached with drive left.
    pub arrived: bool,
    /// Whether the way was too steep for the board: no word of a range would have helped.
    pub stuck: bool,
    /// Of the energy from the start to where no drive is left, the share that was left at home, and the
    /// part of it beyond the reserve; nothing where home was not reached.
    pub left: Option<(f64, f64)>,
}

/// Rides away, turns at "turn now", and, once home, on until no drive is left, to know what was left.
/// Nothing where it was told to stop.
pub(super) fn ride(
    world: &mut World<'_>,
    ride: &mut Ride,
    reserve_from: f64,
    stop: &AtomicBool,
) -> Option<HomeOutcome> {
    let mut turned_at_m = None;
    world.ride_on();
    ride.run_with(world, stop, |world, output| {
        let status = &output.status;
        if status.word >= Word::TurnNow && status.heading == Heading::Away {
            turned_at_m = Some(world.vehicle().distance_m());
            world.turn_home();
        }
    })
    .then_some(())?;
    let arrived = world.ending() == Some(Ending::Arrived);
    let mut outcome = HomeOutcome {
        turned_at_m,
        arrived,
        // A drive that the reserve holds back is no excuse: an earlier turn would have helped.
        stuck: world.ending() == Some(Ending::Stuck) && world.true_soc() > reserve_from,
        left: None,
    };
    if arrived {
        let (drawn_J, soc) = (world.energy_drawn_J(), world.true_soc());
        // The ride itself ends at home.
        let mut further = world.clone();
        further.ride_on();
        Ride::default().run(&mut further, stop).then_some(())?;
        let all_J = further.energy_drawn_J();
        let left = (all_J - drawn_J) / all_J.max(1.0);
        // Energy goes with charge closely enough over so short a stretch.
        let reserve = (reserve_from.min(soc) - further.true_soc()).max(0.0);
        let beyond = left * (1.0 - reserve / (soc - further.true_soc()).max(1e-6)).max(0.0);
        let emptied = further.ending() == Some(Ending::NoDriveLeft);
        outcome.left = emptied.then_some((left, beyond));
    }
    Some(outcome)
}

/// Sums over riders who turned when told.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct HomeScore {
    /// Riders who were told, or should have been.
    pub rides: u64,
    /// Those who did not come home, but for ways that were too steep.
    pub stranded: u64,
    left: Histogram,
    beyond: Histogram,
}

impl HomeScore {
    pub(super) fn add(&mut self, ride: &HomeOutcome) {
        if ride.stuck {
            return;
        }
        self.rides += 1;
        self.stranded += u64::from(!ride.arrived);
        if let Some((left, beyond)) = ride.left {
            self.left.add(left);
            self.beyond.add(beyond);
        }
    }

    /// Share of the usable energy that the median rider brings home.
    #[must_use]
    pub fn median_left(&self) -> Option<f64> {
        self.left.median()
    }

    /// The part of it beyond the reserve.
    #[must_use]
    pub fn median_beyond_reserve(&self) -> Option<f64> {
        self.beyond.median()
    }
}
