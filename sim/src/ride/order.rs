//! Sees to it that time increases from row to row.
//!
//! Shared by `reader`, `import` and `writer`.

use super::error::{Place, RideError};

/// The time of the row before, if there was one.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Order {
    previous_s: Option<f64>,
}

impl Order {
    /// Whether `time_s` only repeats the time of the row before.
    pub(super) fn repeats(self, time_s: f64) -> bool {
        self.previous_s.is_some_and(|previous_s| previous_s.total_cmp(&time_s).is_eq())
    }

    /// Nothing, where `time_s` (finite) lies after the row before; it is then remembered.
    pub(super) fn take(
        &mut self,
        time_s: f64,
        place: impl FnOnce() -> Place,
    ) -> Result<(), RideError> {
        match self.previous_s {
            Some(previous_s) if time_s <= previous_s => {
                Err(RideError::TimeNotIncreasing { place: place(), time_s, previous_s })
            }
            _ => {
                self.previous_s = Some(time_s);
                Ok(())
            }
        }
    }
}
