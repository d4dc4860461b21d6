//! Thousands of drawn rides over supper: how far off, how often inside, what went wrong.
//!
//! Used by `cli`. Each ride is a world of its own with a seed of its own, so that the result does
//! not depend on how many work on it. Rides pass through in batches and only sums stay: a campaign
//! of any size needs the same memory.

mod before;
mod claim_record;
mod draw;
mod error;
mod group;
mod histogram;
mod homeward;
mod outcome;
mod record;
mod score;
mod tally;
mod town;

pub use claim_record::ClaimWriter;
pub use draw::day;
pub use error::CampaignError;
pub use group::Group;
pub use histogram::Histogram;
pub use homeward::{HomeOutcome, HomeScore};
pub use outcome::Outcome;
pub use record::RecordWriter;
pub use score::{ChargeScore, Claim, RangeScore};
pub use tally::Tally;
pub use town::{town, town_away};

use std::sync::atomic::{AtomicBool, Ordering};

use rayon::prelude::*;

use crate::board_file::BoardFile;
use crate::world::Pattern;

/// Rides that are worked on between two looks at the results.
const BATCH: u64 = 64;

/// What is to be ridden.
#[derive(Clone, Debug)]
pub struct Plan {
    /// How many rides.
    pub rides: u64,
    /// The seed of all.
    pub seed: u64,
    /// The range is measured, by riding on, in one ride of so many; 0 for none.
    pub range_every: u64,
    /// So many rides on other days, with the same board, pack and rider, are ridden before each one
    /// and not scored: what the handheld learned on them is in its memory.
    pub rides_before: u32,
    /// On one ride of so many the rider rides away and turns when told to; 0 for none. Its range is not
    /// measured.
    pub home_every: u64,
    /// Something breaks, drawn, in one ride of so many; 0 for none.
    pub faults_every: u64,
    /// Whether frames are sealed.
    pub seal: bool,
    /// What is ridden; an invented town each where it is not said.
    pub pattern: Option<Pattern>,
}

impl Plan {
    const fn measures_range(&self, index: u64) -> bool {
        self.range_every > 0 && index.is_multiple_of(self.range_every) && !self.turns(index)
    }

    /// The last one of so many.
    const fn turns(&self, index: u64) -> bool {
        self.home_every > 0 && (index + 1).is_multiple_of(self.home_every)
    }

    /// Half a turn away from those whose range is measured.
    const fn breaks(&self, index: u64) -> bool {
        let every = self.faults_every;
        every > 0 && (index + every.div_ceil(2)).is_multiple_of(every)
    }
}

/// Rides the plan on `board`. `done` hears of each ride, in order, as soon as its batch is
/// finished; `lived` is called from any thread each time a ride ends. Once `stop` is set, what is
/// finished is told and the rest is left.
///
/// # Errors
/// The first [`CampaignError`] of a ride, in order, and whatever `done` returns.
pub fn run(
    board: &BoardFile,
    plan: &Plan,
    stop: &AtomicBool,
    lived: &(impl Fn() + Sync),
    mut done: impl FnMut(Outcome) -> Result<(), CampaignError>,
) -> Result<(), CampaignError> {
    let mut next = 0;
    while next < plan.rides && !stop.load(Ordering::Relaxed) {
        let until = next.saturating_add(BATCH).min(plan.rides);
        let batch: Vec<_> = (next..until)
            .into_par_iter()
            .map(|index| {
                let outcome = outcome::live(board, plan, index, stop);
                lived();
                outcome
            })
            .collect();
        for outcome in batch {
            if let Some(outcome) = outcome? {
                done(outcome)?;
            }
        }
        next = until;
    }
    Ok(())
}

#[cfg(test)]
mod tests;
