//! What the feet feel: settings tried on a board before anybody stands on it.
//!
//! The library's own throttle and receiver before the plant (`trial`), on a [`Stand`]: a rider, a charge, an
//! air, a road. What comes out is what a tuning is judged by: what each thumb comes to (`thumb`), what
//! follows a sudden one (`response`), how far a stop takes (`stops`), which limits act (`reasons`), what a
//! ride takes (`short_ride`), and whether all riders bear it (`verdict`). Nothing here has a formula of its
//! own. Used by `shape` and by the pages of a workbench.

mod machine;
mod reasons;
mod response;
mod short_ride;
mod stand;
mod stops;
mod thumb;
mod trial;
mod verdict;
mod words;

pub use machine::{FeelError, Machine, Standing};
pub use reasons::{Acting, acting};
pub use response::{
    Bears, JerkWatch, Point, ReasonSpan, Response, allowed_m_s, brake, from_speed, release, ride,
    step,
};
pub use short_ride::{RIDES, RideChoice, RideFelt, short_ride};
pub use stand::{AirChoice, ChargeChoice, RiderChoice, Stand, StandChosen, Stands, SurfaceChoice};
pub use stops::{Stop, stated_m, stop, stops};
pub use thumb::{Drum, Settled, ThumbMap, speeds_shown, thumb_map};
pub use trial::{Felt, Trial};
pub use verdict::{
    Conditioned, Law, LawId, Verdict, Worst, holds, verdict, verdict_over, worst_of_trials,
};
pub use words::id as reason_id;

use serde::Serialize;

use crate::board_file::BoardFile;

/// All that is felt of one tuning on one stand.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Feel {
    /// What each thumb comes to.
    pub thumb: ThumbMap,
    /// The thumb from nothing to all.
    pub step: Response,
    /// The thumb let go.
    pub release: Response,
    /// The thumb to the full brake.
    pub brake: Response,
    /// How far stops take.
    pub stops: Vec<Stop>,
    /// Which limits act.
    pub reasons: Vec<Acting>,
    /// What a ride takes; nothing where none was asked for.
    pub ride: Option<RideFelt>,
    /// Whether all riders bear it.
    pub verdict: Verdict,
}

/// Feels the settings of `tried` on the machine, on a stand, along a ride where one is named.
///
/// # Errors
/// [`FeelError`] where stand, ride and machine do not fit together.
pub fn feel(
    machine: &Machine,
    tried: &BoardFile,
    stand: &Stand,
    ride: Option<&str>,
) -> Result<Feel, FeelError> {
    let settings = &tried.throttle;
    let board = machine.on(stand, settings)?;
    let riders = &tried.riders;
    Ok(Feel {
        thumb: thumb_map(&board, settings, &speeds_shown(settings)),
        step: step(&board, settings, riders),
        release: release(&board, settings, riders),
        brake: brake(&board, settings, riders),
        stops: stops(&board, settings, &Stands::of(tried).grades),
        reasons: acting(&board, settings),
        ride: ride.map(|id| short_ride(machine, tried, (stand, id))).transpose()?,
        verdict: verdict(machine, tried)?,
    })
}

#[cfg(test)]
mod tests;
