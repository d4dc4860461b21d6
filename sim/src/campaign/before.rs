//! The rides of earlier days, from which the handheld has learned.
//!
//! Used by `outcome` before a ride that is scored. The same board, pack and rider on other days: other
//! streets, other weather, charged in between.

use std::sync::atomic::AtomicBool;

use homestretch::store::Life;

use super::outcome::{Ride, seed_of};
use super::{CampaignError, Plan, draw};
use crate::board_file::BoardFile;
use crate::route::RouteErrors;
use crate::scenario::Scenario;
use crate::world::{Pattern, World};

/// What the last of the plan's earlier rides left in the memory, the board of `day` with its `seed`
/// riding what `pattern` draws. Nothing where it was told to stop.
pub(super) fn lives(
    (board, plan): (&BoardFile, &Plan),
    (day, seed): (&Scenario, u64),
    pattern: &impl Fn(u64) -> Result<Pattern, RouteErrors>,
    stop: &AtomicBool,
) -> Result<Option<Option<Life>>, CampaignError> {
    let mut life = None;
    for number in 0..plan.rides_before {
        let seed = seed_of(seed, u64::from(number));
        let mut setup = draw::day_before(seed, day).setup(board, pattern(seed)?, 1)?;
        setup.seal = plan.seal;
        let mut world = World::new(board, &setup, life.as_ref(), seed)?;
        if !Ride::default().run(&mut world, stop) {
            return Ok(None);
        }
        life = world.life().or(life);
    }
    Ok(Some(life))
}
