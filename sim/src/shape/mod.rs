//! Searching curves and rates that all riders bear, and what each costs.
//!
//! Eight numbers of a board file are tried by a genetic search (NSGA-II: Deb and others, IEEE Transactions on
//! Evolutionary Computation 6 (2002) 182, from memory; crate `moors`). What a candidate is worth is felt on the
//! plant (`feel`), never reckoned: how soon it is at a speed, how much of what the lightest rider bears it
//! takes, how far the heaviest rider goes on under the full brake, how finely it can be dosed. No candidate makes
//! the board slower by a weaker brake. What no candidate may break are the laws of `feel`, over riders,
//! surfaces, charges and airs. What is left are trade-offs, none of which is better than another in
//! everything; each is looked at once more on a finer grid than that of the search.

mod candidate;
mod front;
mod judge;
mod search;
mod tell;

pub use candidate::{Candidate, Space};
pub use front::{Member, dominates};
pub use judge::{Judge, Judged, Worth};
pub use search::{CANDIDATES, GENERATIONS, Order, search};
pub use tell::{Shaped, TradeOff};

use thiserror::Error;

use crate::feel::FeelError;

/// Why there is nothing to choose.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum ShapeError {
    /// The board cannot be felt.
    #[error(transparent)]
    Feel(#[from] FeelError),
    /// The search itself failed.
    #[error("the search failed: {0}")]
    Search(String),
    /// The speed that liveliness is measured to is none of this board's.
    #[error("the speed is {given} m/s; {lowest} to {highest} is allowed on this board")]
    Speed {
        /// In m/s.
        given: f64,
        /// In m/s.
        lowest: f64,
        /// In m/s: what the board reaches.
        highest: f64,
    },
    /// Nothing that was tried keeps all laws; the nearest breaks this one least of all that it breaks.
    #[error(
        "no settings keep all laws; the nearest breaks: {law} ({found} {unit} where {limit} is allowed: {place})"
    )]
    Infeasible {
        /// In words.
        law: String,
        /// What was found.
        found: f64,
        /// What is allowed.
        limit: f64,
        /// Of both.
        unit: &'static str,
        /// On which stand.
        place: String,
    },
    /// What keeps the laws brakes so little that the board would be slower.
    #[error(
        "no settings that keep all laws brake enough for the {allowed_m_s} m/s that the board goes now"
    )]
    Slower {
        /// In m/s.
        allowed_m_s: f64,
    },
    /// It was stopped before anything was found.
    #[error("stopped before any settings were found that keep all laws")]
    Stopped,
}

#[cfg(test)]
mod tests;
