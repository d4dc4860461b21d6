//! A voltage under load, from the window that closes to what is taken in.
//!
//! The part of [`Charge`] that asks `load`; a step a tick, as `thought` does everything.

use super::Charge;
use super::corrections::{BeforeRest, CHARGED_AFTER_ALL, exceeds};
use super::counter::Quanta;
use super::evidence::{Reading, Surprise, Weighing};
use super::ledger::Evidence;
use super::load::{self, Lead};
use super::rest::Rest;
use super::thought::{About, Thought};
use super::window::{Means, Sums, Window};
use crate::board::Board;
use crate::cell::Pulse;
use crate::telemetry::Telemetry;
use crate::time::Duration;
use crate::units::{Amperes, Celsius, Ratio, Volts};

/// After so long under watch the load is known well enough for its lead.
const LOAD_IS_KNOWN_AFTER: Duration = Duration::from_secs(60);

/// A window that is this many sigma off tells of something else than charge.
const UNFORESEEN: i32 = 4;

/// A curve is looked at no further than this many around a charge of which nothing is known.
const WIDEST: Ratio = Ratio::from_percent(30);

/// How far a window has been read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) enum Step {
    /// It has been closed.
    Close { sums: Sums },
    /// How it swings is to be read, the lagged current in it being known.
    Swing { sums: Sums, lagged: Amperes },
    /// The resistance is to be learned from it.
    Learn { steepness: Ratio, sums: Sums, lagged: Amperes },
    /// Its means are to be taken.
    Average { sums: Sums, lagged: Amperes },
    /// They are known.
    Read { means: Means, lagged: Amperes },
    /// They have been read; where to look on the curve?
    Lead { reading: Reading, lagged: Amperes, half: Quanta },
    /// What that says of charge is to be looked up there.
    Lean { reading: Reading, lead: Lead, around: (Ratio, Ratio) },
}

impl Charge {
    /// Closes the window of load where it is full, and opens the next.
    pub(super) fn watch_window(&mut self, frame: &Telemetry, board: &Board) {
        if self.window.is_full(self.counted_for) {
            self.close_window(frame, board);
        }
    }

    #[inline(never)]
    fn close_window(&mut self, frame: &Telemetry, board: &Board) {
        let (now, drawn) = (self.counted_for, self.drawn_since);
        let sums = self.window.closed(now, drawn);
        let temperature = frame.cell_temperature.unwrap_or(board.assumed_temperature());
        self.thought = Some(Thought::UnderLoad { step: Step::Close { sums }, temperature });
        self.window = Window::opened(now, drawn);
    }

    /// One step of it.
    pub(super) fn further_under_load(
        &mut self,
        step: Step,
        temperature: Celsius,
        board: &Board,
    ) -> Option<Thought> {
        let step = match step {
            Step::Close { sums } => {
                let before = self.lagged_current;
                self.lagged_current = sums.lagged(before);
                if !(sums.belong_together() && (self.speaks_under_load() || self.woke)) {
                    return None;
                }
                let lagged = before.to_bits().midpoint(self.lagged_current.to_bits());
                Step::Swing { sums, lagged: Amperes::from_bits(lagged) }
            }
            Step::Swing { sums, lagged } => match self.steepness(&sums, temperature, board) {
                Some(steepness) => Step::Learn { steepness, sums, lagged },
                None => Step::Average { sums, lagged },
            },
            Step::Learn { steepness, sums, lagged } => {
                self.resistance = self.resistance.after(steepness);
                Step::Average { sums, lagged }
            }
            Step::Average { sums, lagged } => Step::Read { means: sums.means(), lagged },
            Step::Read { means, lagged } => {
                let reading = self.surface(&means, temperature, board);
                if core::mem::take(&mut self.woke) {
                    return self.after_waking(reading, temperature, board);
                }
                Step::Lead { reading, lagged, half: means.half }
            }
            Step::Lead { reading, lagged, half } => {
                let lead = Lead::of(lagged, half, temperature, self.capacity);
                Step::Lean { reading, lead, around: self.around_now(lead) }
            }
            Step::Lean { reading, lead, around } => {
                let curve = board.cell().resting.at(temperature);
                let said = load::evidence(&reading, lead, around, &curve, board)?;
                return Some(Thought::Settle { about: About::Load, said });
            }
        };
        Some(Thought::UnderLoad { step, temperature })
    }

    /// The first window after a time off tells of a charger, or nothing.
    fn after_waking(
        &self,
        reading: Reading,
        temperature: Celsius,
        board: &Board,
    ) -> Option<Thought> {
        let curve = board.cell().resting.at(temperature);
        let surprise = Surprise::of(&reading, self.believed(), &curve, board);
        let charged = surprise.is_upwards() && surprise.exceeds_halves(CHARGED_AFTER_ALL);
        let (about, weighing) = (About::TimeOff { contradicts: true }, Weighing::Begun(reading));
        charged.then_some(Thought::Weigh { about, weighing, temperature })
    }

    /// Whether a voltage under load is worth a thought: the load has been watched for a while, and
    /// there is one.
    fn speaks_under_load(&self) -> bool {
        self.rest == Rest::Moving && self.watched_for() >= LOAD_IS_KNOWN_AFTER
    }

    /// How a window swings, over what the board file's resistance would make of it.
    fn steepness(&self, sums: &Sums, temperature: Celsius, board: &Board) -> Option<Ratio> {
        let map = &board.cell().resistance;
        let of_cell = map.ohms(self.soc(), temperature, Pulse::OneSecond);
        let per_ampere = board.cell_current(Amperes::from_whole(1)) * of_cell;
        let least = self.still_under + self.still_under;
        sums.swing.steepness(per_ampere.times(board.pack().series), least)
    }

    /// What a window of load reads at the surface of its electrodes.
    fn surface(&self, means: &Means, temperature: Celsius, board: &Board) -> Reading {
        let below = self.weakest_below_mean.unwrap_or(Volts::ZERO);
        load::surface(
            board.mean_cell(means.pack_voltage) - below,
            board.cell_current(means.pack_current),
            board.cell_current(self.mean_current),
            (self.soc(), temperature),
            (self.resistance, board),
        )
    }

    /// The charge that is believed, and to within how much a surface that leads by so much is.
    fn around_now(&self, lead: Lead) -> (Ratio, Ratio) {
        (self.soc(), self.ledger.blurred(lead.doubt).sigma().min(WIDEST))
    }

    /// Holds what a window of load says against how things stand.
    pub(super) fn begin_load(&mut self, said: Evidence) -> Thought {
        let apart = said.soc - self.soc();
        if exceeds(apart.to_bits(), self.ledger.disagreement(&said), UNFORESEEN) {
            // A drop that nothing explains is no news of charge, but leaves less sure of it.
            self.ledger = self.ledger.blurred(Ratio::from_bits(apart.to_bits() >> 2));
            return Thought::Tell;
        }
        self.before_rest = Some(BeforeRest::now(self.ledger, None));
        Thought::Value { about: About::Load, said }
    }
}
