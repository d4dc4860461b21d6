//! Why a campaign ended early.

use thiserror::Error;

use crate::route::RouteErrors;
use crate::scenario::ScenarioError;
use crate::world::WorldError;

/// Why a campaign ended early.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum CampaignError {
    /// A drawn day does not go with the board.
    #[error(transparent)]
    Scenario(#[from] ScenarioError),
    /// A world could not be made.
    #[error(transparent)]
    World(#[from] WorldError),
    /// An invented town is none.
    #[error(transparent)]
    Town(#[from] RouteErrors),
    /// The record could not be written.
    #[error("cannot write the record of rides")]
    Record(#[source] std::io::Error),
}
