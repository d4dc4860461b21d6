//! What a voltage has begun to say, worked out a step at a time.
//!
//! Weighing a voltage takes tens of thousands of instructions on a core without a divider, and
//! happens some times a minute. [`Charge::ponder`] does one step of it, a tick one of these: no
//! tick is much longer than another. Frames go on being counted meanwhile.

use super::Charge;
use super::cell_now::CellNow;
use super::evidence::{Reading, Weighing};
use super::ledger::{Evidence, Weights};
use super::rest::{Pair, Rest};
use crate::board::Board;
use crate::units::Celsius;

/// What is thought about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(super) enum About {
    /// A first voltage.
    FirstWord,
    /// A voltage after a time off.
    TimeOff,
    /// The voltage of a rest.
    Rest {
        /// Whether it still moves.
        still_creeping: bool,
    },
}

/// How far a thought has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) enum Thought {
    /// A voltage of unknown past has been heard.
    Hear { about: About, cell: CellNow },
    /// A rest has begun; how things stand is to be noted.
    Begin { temperature: Celsius },
    /// Two windows of a rest have become full.
    Read { pair: Pair, temperature: Celsius },
    /// They have been read; how this cell relaxes is to be learned from them.
    Learn { pair: Pair, reading: Reading, temperature: Celsius },
    /// What a voltage says is being weighed.
    Weigh { about: About, weighing: Weighing, temperature: Celsius },
    /// It is known; what was counted is to be settled first.
    Settle { said: Evidence, still_creeping: bool },
    /// Is it what was expected?
    Expect { said: Evidence, still_creeping: bool },
    /// How much is it worth?
    Value { said: Evidence },
    /// It is to be taken in.
    Correct { said: Evidence, weights: Weights },
    /// It has been; what follows from the scale is to be looked up.
    Rescale,
    /// The estimate is to be told anew.
    Tell,
}

impl Thought {
    /// Whether nothing is known until it has come to its end.
    pub(super) const fn is_about_a_first_word(&self) -> bool {
        match self {
            Self::Hear { about, .. } | Self::Weigh { about, .. } => {
                matches!(about, About::FirstWord)
            }
            Self::Begin { .. }
            | Self::Read { .. }
            | Self::Learn { .. }
            | Self::Settle { .. }
            | Self::Expect { .. }
            | Self::Value { .. }
            | Self::Correct { .. }
            | Self::Rescale
            | Self::Tell => false,
        }
    }

    /// Whether it is about a rest, and will ask how things stood before it.
    pub(super) const fn is_about_a_rest(&self) -> bool {
        match self {
            Self::Read { .. }
            | Self::Learn { .. }
            | Self::Settle { .. }
            | Self::Expect { .. }
            | Self::Value { .. }
            | Self::Correct { .. } => true,
            Self::Weigh { about, .. } => matches!(about, About::Rest { .. }),
            Self::Hear { .. } | Self::Begin { .. } | Self::Rescale | Self::Tell => false,
        }
    }
}

impl Charge {
    /// Whether there is a step to be done.
    #[must_use]
    pub const fn ponders(&self) -> bool {
        self.thought.is_some()
    }

    /// One step of what a voltage has begun to say; nothing where there is none.
    ///
    /// To be called in each tick that has time for it. An estimate that waits for its steps is the
    /// older one, never a half-made one.
    #[inline(never)]
    pub fn ponder(&mut self, board: &Board) {
        self.thought = self.thought.and_then(|thought| self.further(thought, board));
    }

    fn further(&mut self, thought: Thought, board: &Board) -> Option<Thought> {
        match thought {
            Thought::Hear { about, cell } => {
                let weighing = Weighing::Begun(cell.first_word(board));
                Some(Thought::Weigh { about, weighing, temperature: cell.temperature })
            }
            Thought::Begin { temperature } => {
                if self.rest != Rest::Moving {
                    self.begin_rest(temperature, board);
                }
                Some(Thought::Tell)
            }
            Thought::Read { pair, temperature } => {
                let (earlier, newest) = pair;
                let past_is_known = self.past_is_known();
                let reading = self.relaxation.reading(earlier, newest, past_is_known, board);
                Some(Thought::Learn { pair, reading, temperature })
            }
            Thought::Learn { pair: (earlier, newest), reading, temperature } => {
                if self.past_is_known() {
                    self.relaxation = self.relaxation.after(earlier, newest, board);
                }
                let still_creeping =
                    (reading.resting - newest.volts).magnitude() > reading.noise + reading.noise;
                let about = About::Rest { still_creeping };
                let weighing = Weighing::Begun(reading);
                Some(Thought::Weigh { about, weighing, temperature })
            }
            Thought::Weigh { about, weighing, temperature } => {
                Some(self.weigh(about, weighing, temperature, board))
            }
            Thought::Settle { said, still_creeping } => {
                self.settle(board);
                Some(Thought::Expect { said, still_creeping })
            }
            Thought::Expect { said, still_creeping } => {
                self.expect(&said, still_creeping);
                Some(Thought::Value { said })
            }
            Thought::Value { said } => match self.weights(&said) {
                Some(weights) => Some(Thought::Correct { said, weights }),
                None => Some(self.done_with_rest()),
            },
            Thought::Correct { said, weights } => {
                self.correct(&said, weights);
                Some(self.done_with_rest())
            }
            Thought::Rescale => {
                self.look_up_capacity();
                Some(Thought::Tell)
            }
            Thought::Tell => {
                self.estimate = self.estimated(board);
                None
            }
        }
    }

    fn done_with_rest(&mut self) -> Thought {
        if self.rest == Rest::Moving {
            self.before_rest = None;
        }
        Thought::Rescale
    }

    fn weigh(
        &mut self,
        about: About,
        weighing: Weighing,
        temperature: Celsius,
        board: &Board,
    ) -> Thought {
        let Weighing::Weighed(said) = weighing else {
            let curve = board.cell().resting.at(temperature);
            return Thought::Weigh {
                about,
                weighing: weighing.further(&curve, board),
                temperature,
            };
        };
        match about {
            About::FirstWord => self.take_first_word(&said),
            About::TimeOff => self.take_up_again(&said, board),
            About::Rest { still_creeping } => return Thought::Settle { said, still_creeping },
        }
        Thought::Tell
    }
}
