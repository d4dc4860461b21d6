//! What a voltage has begun to say, worked out a step at a time.
//!
//! Weighing a voltage takes tens of thousands of instructions on a core without a divider, and
//! happens some times a minute. [`Charge::ponder`] does one step of it, a tick one of these: no
//! tick is much longer than another. Frames go on being counted meanwhile.

use super::Charge;
use super::cell_now::CellNow;
use super::corrections::BeforeRest;
use super::evidence::{Reading, Weighing};
use super::ledger::{Evidence, Ledger};
use super::rest::{Mean, Pair, Rest};
use super::under_load::Step;
use crate::board::Board;
use crate::units::{Celsius, Ratio};

/// What is thought about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(super) enum About {
    /// A first voltage.
    FirstWord,
    /// A voltage after a time off.
    TimeOff,
    /// The voltage under load.
    Load,
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
    /// A window of load is being read.
    UnderLoad { step: Step, temperature: Celsius },
    /// A rest has begun; how things stand is to be noted.
    Begin { temperature: Celsius },
    /// Two windows of a rest have become full.
    Average { pair: Pair, temperature: Celsius },
    /// Their means are to be read.
    Read { means: (Mean, Mean), temperature: Celsius },
    /// They have been read; how this cell relaxes is to be learned from them.
    Learn { means: (Mean, Mean), reading: Reading, temperature: Celsius },
    /// What a voltage says is being weighed.
    Weigh { about: About, weighing: Weighing, temperature: Celsius },
    /// It is known; what was counted is to be settled first.
    Settle { about: About, said: Evidence },
    /// How much is it worth after a time off?
    Recall { said: Evidence },
    /// It is to be taken in after a time off.
    TakeUp { said: Evidence, weight: Ratio },
    /// Is it what was expected of a rest?
    Expect { said: Evidence, still_creeping: bool },
    /// What does it tell of the span that it ends?
    Reach { said: Evidence, still_creeping: bool },
    /// How much is it worth for the charge?
    Value { about: About, said: Evidence },
    /// What will still be doubted when it has been taken in?
    Doubt { said: Evidence, weight: Ratio },
    /// It is to be taken in.
    Correct { said: Ratio, weight: Ratio, after: Ledger },
    /// It has been; what all spans tell of the scale is to be found.
    Solve,
    /// What follows from the scale is to be looked up.
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
            | Self::UnderLoad { .. }
            | Self::Recall { .. }
            | Self::TakeUp { .. }
            | Self::Average { .. }
            | Self::Read { .. }
            | Self::Learn { .. }
            | Self::Settle { .. }
            | Self::Expect { .. }
            | Self::Reach { .. }
            | Self::Value { .. }
            | Self::Doubt { .. }
            | Self::Correct { .. }
            | Self::Solve
            | Self::Rescale
            | Self::Tell => false,
        }
    }

    /// Whether it is about a rest, and will ask how things stood before it.
    pub(super) const fn is_about_a_rest(&self) -> bool {
        match self {
            Self::Average { .. }
            | Self::Read { .. }
            | Self::Learn { .. }
            | Self::Expect { .. }
            | Self::Reach { .. }
            | Self::Value { .. }
            | Self::Doubt { .. }
            | Self::Correct { .. } => true,
            Self::Weigh { about, .. } | Self::Settle { about, .. } => {
                matches!(about, About::Rest { .. })
            }
            Self::Hear { .. }
            | Self::UnderLoad { .. }
            | Self::Begin { .. }
            | Self::Recall { .. }
            | Self::TakeUp { .. }
            | Self::Solve
            | Self::Rescale
            | Self::Tell => false,
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
            Thought::UnderLoad { step, temperature } => {
                self.further_under_load(step, temperature, board)
            }
            Thought::Begin { temperature } => {
                if self.rest != Rest::Moving {
                    self.begin_rest(temperature, board);
                }
                Some(Thought::Tell)
            }
            Thought::Average { pair: (earlier, newest), temperature } => {
                Some(Thought::Read { means: (earlier.mean(), newest.mean()), temperature })
            }
            Thought::Read { means, temperature } => {
                let (earlier, newest) = means;
                let past_is_known = self.past_is_known();
                let reading = self.relaxation.reading(earlier, newest, past_is_known, board);
                Some(Thought::Learn { means, reading, temperature })
            }
            Thought::Learn { means: (earlier, newest), reading, temperature } => {
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
            Thought::Settle { about, said } => {
                self.settle(board);
                Some(match about {
                    About::Rest { still_creeping } => Thought::Expect { said, still_creeping },
                    About::Load => self.begin_load(said),
                    About::FirstWord | About::TimeOff => Thought::Recall { said },
                })
            }
            Thought::Recall { said } => Some(match self.weight_after_time_off(&said) {
                Some(weight) => Thought::TakeUp { said, weight },
                None => Thought::Tell,
            }),
            Thought::TakeUp { said, weight } => {
                self.take_up_again(&said, weight);
                Some(Thought::Solve)
            }
            Thought::Expect { said, still_creeping } => {
                self.expect(&said, still_creeping);
                Some(Thought::Reach { said, still_creeping })
            }
            Thought::Reach { said, still_creeping } => {
                self.scale.reach(&said);
                Some(Thought::Value { about: About::Rest { still_creeping }, said })
            }
            Thought::Value { about, said } => Some(self.value(about, said)),
            Thought::Doubt { said, weight } => match self.doubt_after(&said, weight) {
                Some(after) => Some(Thought::Correct { said: said.soc, weight, after }),
                None => Some(self.done()),
            },
            Thought::Correct { said, weight, after } => {
                self.correct(said, weight, after);
                Some(self.done())
            }
            Thought::Solve => {
                self.scale.solve();
                Some(Thought::Rescale)
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

    fn value(&mut self, about: About, said: Evidence) -> Thought {
        match self.weight(about, &said) {
            Some(weight) => Thought::Doubt { said, weight },
            None => self.done(),
        }
    }

    /// What a rest or a window has said is taken in; the next rest notes anew how things stand.
    fn done(&mut self) -> Thought {
        // What is wrong with one window under load is wrong with the next: it ends no span.
        let of_a_rest = self.before_rest.as_ref().is_some_and(BeforeRest::is_of_a_rest);
        if self.rest == Rest::Moving || !of_a_rest {
            self.before_rest = None;
        }
        if of_a_rest { Thought::Solve } else { Thought::Tell }
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
            About::FirstWord => {
                self.take_first_word(&said);
                Thought::Tell
            }
            About::Load | About::TimeOff | About::Rest { .. } => Thought::Settle { about, said },
        }
    }
}
