//! What an end of the link has refused over a whole ride, its starts together.
//!
//! Filled by `hand` and `board_end` each time a link ends; read by `report`.

use homestretch::link::{Counts, Refused};

/// How often each kind of refusal has occurred.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Refusals([u64; Refused::KINDS]);

impl Refusals {
    /// The same with what a link has counted.
    #[must_use]
    pub fn and(mut self, counts: Option<&Counts>) -> Self {
        let more = counts.into_iter().flat_map(Counts::named);
        for (count, (_, more)) in self.0.iter_mut().zip(more) {
            *count += u64::from(more);
        }
        self
    }

    /// Each kind's name and count.
    pub fn named(&self) -> impl Iterator<Item = (&'static str, u64)> + '_ {
        Refused::NAMES.into_iter().zip(self.0)
    }

    /// All kinds together.
    #[must_use]
    pub fn total(&self) -> u64 {
        self.0.iter().sum()
    }
}
