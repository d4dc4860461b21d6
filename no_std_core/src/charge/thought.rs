//! What a voltage has begun to say, worked out a step at a time.
//!
//! Weighing a voltage takes tens of thousands of instructions on a core without a divider, and
//! happens some times a minute. [`Charge::ponder`] does one step of it, a tick one of these: no
//! tick is much longer than another. Frames go on being counted meanwhile.

use super::Charge;
use super::at_rest;
use super::cell_now::CellNow;
use super::corrections::{
    BeforeRest, CHARGED, CHARGED_AFTER_ALL, CONTRADICTION, UNFORESEEN, UNRESTED,
};
use super::evidence::{Reading, Surprise, Weighing};
use super::ledger::{Evidence, Ledger};
use super::rest::Rest;
use super::scale::Sums;
use super::under_load;
use crate::board::Board;
use crate::units::{Celsius, Ratio};

/// What is thought about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(super) enum About {
    /// A first voltage.
    FirstWord,
    /// A voltage after a time off.
    TimeOff {
        /// Whether it cannot be that of the charge that was believed.
        contradicts: bool,
    },
    /// The voltage under load.
    Load,
    /// The voltage of a rest.
    Rest(Found),
}

/// What a rest shows of what was believed before it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(super) enum Found {
    /// Nothing else.
    AsBelieved,
    /// It still creeps, and stands elsewhere: if its first voltage was taken for a resting one, it
    /// was none.
    Unrested,
    /// Something else has happened.
    Unforeseen,
}

/// How far a thought has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) enum Thought {
    /// A voltage of unknown past has been heard.
    Hear { about: About, cell: CellNow },
    /// A window of load is being read.
    UnderLoad { step: under_load::Step, temperature: Celsius },
    /// A rest has begun; how things stand is to be noted.
    Begin { temperature: Celsius },
    /// Two windows of a rest are being read.
    AtRest { step: at_rest::Step, temperature: Celsius },
    /// A voltage has been read; is it what was believed?
    Judge { about: About, reading: Reading, temperature: Celsius },
    /// What a voltage says is being weighed.
    Weigh { about: About, weighing: Weighing, temperature: Celsius },
    /// It is known; what was counted is to be settled first.
    Settle { about: About, said: Evidence },
    /// How much is it worth after a time off?
    Recall { said: Evidence, contradicts: bool },
    /// It is to be taken in after a time off.
    TakeUp { said: Evidence, weight: Ratio },
    /// Is it what was expected of a rest?
    Expect { said: Evidence, found: Found },
    /// What does it tell of the span that it ends?
    Reach { said: Evidence, found: Found },
    /// How much is it worth for the charge?
    Value { about: About, said: Evidence },
    /// What will still be doubted when it has been taken in?
    Doubt { said: Evidence, weight: Ratio },
    /// It is to be taken in.
    Correct { said: Ratio, weight: Ratio, after: Ledger },
    /// It has been; what all spans tell of the scale is to be gathered.
    Gather,
    /// The scale that fits it is to be found.
    Fit { all: Sums },
    /// What follows from the scale is to be looked up.
    Rescale,
    /// The estimate is to be told anew.
    Tell,
}

impl Thought {
    /// Whether nothing is known until it has come to its end.
    pub(super) const fn is_about_a_first_word(&self) -> bool {
        match self {
            Self::Hear { about, .. } | Self::Judge { about, .. } | Self::Weigh { about, .. } => {
                matches!(about, About::FirstWord)
            }
            Self::Begin { .. }
            | Self::UnderLoad { .. }
            | Self::Recall { .. }
            | Self::TakeUp { .. }
            | Self::AtRest { .. }
            | Self::Settle { .. }
            | Self::Expect { .. }
            | Self::Reach { .. }
            | Self::Value { .. }
            | Self::Doubt { .. }
            | Self::Correct { .. }
            | Self::Gather
            | Self::Fit { .. }
            | Self::Rescale
            | Self::Tell => false,
        }
    }

    /// Whether it is about a rest, and will ask how things stood before it.
    pub(super) const fn is_about_a_rest(&self) -> bool {
        match self {
            Self::AtRest { .. }
            | Self::Expect { .. }
            | Self::Reach { .. }
            | Self::Value { .. }
            | Self::Doubt { .. }
            | Self::Correct { .. } => true,
            Self::Judge { about, .. } | Self::Weigh { about, .. } | Self::Settle { about, .. } => {
                matches!(about, About::Rest(_))
            }
            Self::Hear { .. }
            | Self::UnderLoad { .. }
            | Self::Begin { .. }
            | Self::Recall { .. }
            | Self::TakeUp { .. }
            | Self::Gather
            | Self::Fit { .. }
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
                let reading = cell.first_word(board);
                Some(Thought::Judge { about, reading, temperature: cell.temperature })
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
            Thought::AtRest { step, temperature } => {
                Some(self.further_at_rest(step, temperature, board))
            }
            Thought::Judge { about, reading, temperature } => {
                let about = self.judged(about, &reading, temperature, board);
                Some(Thought::Weigh { about, weighing: Weighing::Begun(reading), temperature })
            }
            Thought::Weigh { about, weighing, temperature } => {
                Some(self.weigh(about, weighing, temperature, board))
            }
            Thought::Settle { about, said } => {
                self.settle(board);
                Some(match about {
                    About::Rest(found) => Thought::Expect { said, found },
                    About::Load => self.begin_load(said),
                    About::TimeOff { contradicts } => Thought::Recall { said, contradicts },
                    About::FirstWord => Thought::Tell,
                })
            }
            Thought::Recall { said, contradicts } => {
                Some(match self.weight_after_time_off(&said, contradicts) {
                    Some(weight) => Thought::TakeUp { said, weight },
                    None => Thought::Tell,
                })
            }
            Thought::TakeUp { said, weight } => {
                self.take_up_again(&said, weight);
                Some(Thought::Gather)
            }
            Thought::Expect { said, found } => {
                self.expect(&said, found);
                Some(Thought::Reach { said, found })
            }
            Thought::Reach { said, found } => {
                self.scale.reach(&said);
                Some(Thought::Value { about: About::Rest(found), said })
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
            Thought::Gather => Some(Thought::Fit { all: self.scale.gather() }),
            Thought::Fit { all } => {
                self.scale.fit(&all);
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

    /// What a reading is about, now that it is held against what is believed.
    fn judged(
        &mut self,
        about: About,
        reading: &Reading,
        temperature: Celsius,
        board: &Board,
    ) -> About {
        if about == About::FirstWord {
            return about;
        }
        let curve = board.cell().resting.at(temperature);
        let surprise = Surprise::of(reading, self.believed(), &curve, board);
        let exceeds = |halves| surprise.exceeds_halves(halves);
        let is_upwards = surprise.is_upwards();
        let About::Rest(found) = about else {
            let contradicts = exceeds(if is_upwards { CHARGED } else { CONTRADICTION });
            return About::TimeOff { contradicts };
        };
        let charged = core::mem::take(&mut self.woke) && is_upwards;
        About::Rest(if exceeds(if charged { CHARGED_AFTER_ALL } else { UNFORESEEN }) {
            Found::Unforeseen
        } else if found == Found::Unrested && exceeds(UNRESTED) {
            found
        } else {
            Found::AsBelieved
        })
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
        if of_a_rest { Thought::Gather } else { Thought::Tell }
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
            About::Load | About::TimeOff { .. } | About::Rest(_) => Thought::Settle { about, said },
        }
    }
}
