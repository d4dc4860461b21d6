//! A voltage at rest, from two full windows to what is weighed.
//!
//! The part of [`Charge`] that asks `relaxation`; a step a tick, as `thought` does everything.

use super::Charge;
use super::evidence::Reading;
use super::rest::{Mean, Pair};
use super::thought::{About, Found, Thought};
use crate::board::Board;
use crate::units::Celsius;

/// How far two windows have been read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) enum Step {
    /// They have become full.
    Average { pair: Pair },
    /// Their means are known.
    Read { means: (Mean, Mean) },
    /// They have been read; how this cell relaxes is to be learned from them.
    Learn { means: (Mean, Mean), reading: Reading },
}

impl Charge {
    /// One step of it.
    pub(super) fn further_at_rest(
        &mut self,
        step: Step,
        temperature: Celsius,
        board: &Board,
    ) -> Thought {
        let step = match step {
            Step::Average { pair: (earlier, newest) } => {
                Step::Read { means: (earlier.mean(), newest.mean()) }
            }
            Step::Read { means } => {
                let (earlier, newest) = means;
                let past_is_known = self.past_is_known();
                let reading = self.relaxation.reading(earlier, newest, past_is_known, board);
                Step::Learn { means, reading }
            }
            Step::Learn { means: (earlier, newest), reading } => {
                if self.past_is_known() {
                    self.relaxation = self.relaxation.after(earlier, newest, board);
                }
                let creeps = (reading.resting - newest.volts).magnitude();
                let still_creeping = creeps > reading.noise + reading.noise;
                let found = if still_creeping { Found::Unrested } else { Found::AsBelieved };
                return Thought::Judge { about: About::Rest(found), reading, temperature };
            }
        };
        Thought::AtRest { step, temperature }
    }
}
