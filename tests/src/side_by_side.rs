//! One thing for each of the three estimators.
//!
//! Scores and their summaries are kept, pooled and printed in this form.

use serde::Serialize;

use crate::score::{Score, Summary};

/// A value for each estimator; none for ours while nothing is plugged in.
#[derive(Clone, Debug, Default, Serialize)]
pub struct SideBySide<T> {
    /// Of plain counting.
    pub counting: T,
    /// Of the textbook filter.
    pub filter: T,
    /// Of the library.
    pub ours: T,
}

/// What is told of all three.
pub type Summaries = SideBySide<Option<Summary>>;

/// How large our error is beside those of the others: less than 1 is better.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Ratios {
    /// Our rms error over the filter's.
    pub ours_over_filter: f64,
    /// Our rms error over counting's.
    pub ours_over_counting: f64,
}

impl SideBySide<Score> {
    /// Counts all rows of `other` too.
    pub fn absorb(&mut self, other: &Self) {
        self.counting.absorb(&other.counting);
        self.filter.absorb(&other.filter);
        self.ours.absorb(&other.ours);
    }

    /// What is told of each.
    #[must_use]
    pub fn summaries(&self) -> Summaries {
        SideBySide {
            counting: self.counting.summary(),
            filter: self.filter.summary(),
            ours: self.ours.summary(),
        }
    }
}

impl Summaries {
    /// Ours beside the others, if all three were scored.
    #[must_use]
    pub fn ratios(&self) -> Option<Ratios> {
        let ours = self.ours?.rms_percent;
        Some(Ratios {
            ours_over_filter: ours / self.filter?.rms_percent,
            ours_over_counting: ours / self.counting?.rms_percent,
        })
    }
}
