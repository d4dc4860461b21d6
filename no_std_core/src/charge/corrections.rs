//! What a voltage makes of charge: at the first word, after a long silence, at rests.
//!
//! The part of [`Charge`] that moves with voltage; `tally` is the one that moves with current.

use super::cell_now::CellNow;
use super::counter::Quanta;
use super::evidence;
use super::ledger::Ledger;
use super::rest::{Pair, Rest};
use super::{Charge, Stage};
use crate::board::Board;
use crate::math::{divide, root};
use crate::telemetry::Telemetry;
use crate::time::{Duration, Instant};
use crate::units::{Celsius, Ratio, Volts};

/// One sigma of the capacity against the board file's before anything is learned: cells are sold a
/// few percent under or over, and wear takes up to a fifth. Common practice, no source.
const CAPACITY_DOUBT: Ratio = Ratio::from_percent(8);

/// How much the capacity may change, one sigma, while a handheld is off: a fifth is lost in some
/// hundreds of rides, faster in a drawer in summer. Common practice, no source.
const WEAR_DOUBT: Ratio = Ratio::from_fraction(3, 1000);

/// The scale is held so that the capacity stays within a half and five quarters of the board's.
const LEAST_SCALE: Ratio = Ratio::from_fraction(-20, 100);
const MOST_SCALE: Ratio = Ratio::ONE;

/// A remembered charge is this much less certain after a time off of unknown length.
const TIME_OFF_DOUBT: Ratio = Ratio::from_percent(1);

/// A voltage that is this many sigma below what was remembered wins over it.
const CONTRADICTION: i32 = 3;

/// And one that is this many halves of a sigma above it. The commonest thing that happens to a pack
/// while its handheld is off is a charger.
const CHARGED_HALVES: i32 = 3;

/// A rest that is this many sigma from what was believed shows that something unforeseen has
/// happened.
const UNFORESEEN: i32 = 4;

/// A voltage that leaves charge open by more than this (one sigma) stands on a plateau. Its doubts
/// are not bell-shaped there, so it is refused unless it knows more than is known already.
const PLATEAU: Ratio = Ratio::from_percent(5);

/// After so long under watch the load before it has left nothing behind that a stop would show:
/// three time constants of the mean current.
const PAST_IS_KNOWN_AFTER: Duration = Duration::from_secs(200);

/// What a rest is held against: how things stood when it began, counted on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(super) struct BeforeRest {
    pub(super) ledger: Ledger,
    /// What this rest's evidence has moved the charge by so far; the next replaces it.
    moved_by_rest: Quanta,
    /// The scale as it was before this rest.
    scale: Ratio,
}

impl Charge {
    /// A first voltage, with nothing remembered.
    pub(super) fn start(&mut self, cell: &CellNow, board: &Board) {
        let said = cell.first_word(board);
        self.forget_since();
        self.leave(self.capacity.part(said.soc));
        self.ledger = match self.stage {
            Stage::Unheard(None) => Ledger::of(&said, scale_doubt(board)),
            Stage::Unheard(Some(_)) | Stage::Counting(_) => self.ledger.restarted(&said),
        };
    }

    /// A voltage after a time of which nothing is known but how things stood before.
    pub(super) fn resume(&mut self, cell: &CellNow, board: &Board) {
        self.settle(board);
        self.forget_since();
        // A remembered ledger has had its time off written into it when the handheld woke.
        let believed = match self.stage {
            Stage::Unheard(_) => self.ledger,
            Stage::Counting(_) => Self::after_time_off(self.ledger),
        };
        self.ledger = believed;
        let said = cell.first_word(board);
        let off = (said.soc - self.soc()).to_bits();
        let expected = believed.disagreement(&said);
        let charged = off > 0 && exceeds(off.saturating_add(off), expected, CHARGED_HALVES);
        if charged || exceeds(off, expected, CONTRADICTION) {
            return self.start(cell, board);
        }
        let correction = believed.corrected(&said);
        let apart = said.soc - self.soc();
        let step = self.capacity.part(apart.scaled(correction.weight));
        self.leave(self.held(self.remaining + step));
        // What happened meanwhile was not counted, so that it says nothing about counting.
        self.ledger = believed.only_charge(correction.after);
    }

    pub(super) fn rescale(&mut self, from: Ratio, by: Ratio) {
        self.scale = (from + by).held_within(LEAST_SCALE, MOST_SCALE);
        let whole = i64::from(Ratio::ONE.to_bits());
        let scaled = Ratio::ONE + self.scale;
        self.capacity_share =
            Ratio::from_bits(divide(whole, i64::from(scaled.to_bits()), Ratio::FRACTION_BITS));
    }

    /// One cell as a frame shows it.
    pub(super) fn cell_now(&self, frame: &Telemetry, board: &Board) -> CellNow {
        // Frames that leave the lowest cell out are read as if it stood as far below as before.
        let below = self.weakest_below_mean.unwrap_or(Volts::ZERO);
        CellNow {
            volts: board.mean_cell(frame.pack_voltage) - below,
            current: board.cell_current(frame.pack_current),
            temperature: frame.cell_temperature.unwrap_or(board.assumed_temperature()),
        }
    }

    pub(super) fn watch_rest(&mut self, now: Instant, frame: &Telemetry, board: &Board) {
        if frame.pack_current.magnitude() >= self.still_under() {
            self.rest = Rest::Moving;
            self.before_rest = None;
            return;
        }
        let cell = self.cell_now(frame, board);
        let sample = cell.sample(self.soc(), board.cell_current(self.mean_current), board);
        let (rest, pair) = self.rest.after(now, sample);
        match rest {
            Rest::Still { since, .. } if since == now => {
                self.settle(board);
                self.before_rest = Some(BeforeRest {
                    ledger: self.ledger,
                    moved_by_rest: Quanta::ZERO,
                    scale: self.scale,
                });
            }
            Rest::Moving | Rest::Still { .. } => {}
        }
        self.rest = rest;
        if let Some(pair) = pair {
            self.correct(pair, cell.temperature, board);
        }
    }

    /// What remembered charge and ledger are worth after a time off.
    pub(super) fn after_time_off(ledger: Ledger) -> Ledger {
        ledger.blurred(TIME_OFF_DOUBT).aged(WEAR_DOUBT)
    }

    /// Puts this rest's newest evidence in the place of its earlier ones.
    pub(super) fn correct(&mut self, (earlier, newest): Pair, temperature: Celsius, board: &Board) {
        self.settle(board);
        let Some(mut before) = self.before_rest else { return };
        let past_is_known = self.watched_for >= PAST_IS_KNOWN_AFTER;
        let reading = self.relaxation.reading(earlier, newest, past_is_known, board);
        if past_is_known {
            self.relaxation = self.relaxation.after(earlier, newest, board);
        }
        let curve = board.cell().resting.at(temperature);
        let said = evidence::evidence(&reading, &curve, board);
        let without = self.remaining - before.moved_by_rest;
        let apart = said.soc - self.capacity.share(without);
        let still_creeping =
            (reading.resting - newest.volts).magnitude() > reading.noise + reading.noise;
        if self.since_first_word < PAST_IS_KNOWN_AFTER && still_creeping {
            // The first word was taken for a rested pack's, and now is seen not to have been.
            before.ledger = before.ledger.blurred(apart);
            self.ledger = self.ledger.blurred(apart);
        }
        let off = apart.to_bits();
        let expected = before.ledger.disagreement(&said);
        if exceeds(off, expected, UNFORESEEN) {
            // Whatever it was, counting did not see it: it is no fault of the scale.
            before.ledger = before.ledger.restarted(&said).blurred(apart);
            self.ledger = before.ledger;
        }
        let evidence_sigma = Ledger::of(&said, Ratio::ZERO).sigma();
        if evidence_sigma > PLATEAU && evidence_sigma > before.ledger.sigma() {
            return;
        }
        let correction = before.ledger.corrected(&said);
        if correction.after.variance() > self.ledger.variance() {
            return;
        }
        let step = self.capacity.part(apart.scaled(correction.weight));
        let remaining = self.held(without + step);
        self.before_rest = Some(BeforeRest { moved_by_rest: remaining - without, ..before });
        self.rescale(before.scale, apart.scaled(correction.scale_weight));
        self.leave(remaining);
        self.ledger = correction.after;
    }
}

/// Whether `off` is more than so many sigma, their `variance` being given.
fn exceeds(off: i32, variance: i64, sigmas: i32) -> bool {
    let square = i64::from(off).wrapping_mul(i64::from(off));
    square > crate::math::scale_wide::<0>(variance, sigmas.wrapping_mul(sigmas))
}

/// One sigma of the scale before anything is learned: a capacity and a current sensor's gain.
fn scale_doubt(board: &Board) -> Ratio {
    let square = |ratio: Ratio| i64::from(ratio.to_bits()).wrapping_mul(i64::from(ratio.to_bits()));
    let gain = board.sensors().current_gain_error;
    Ratio::from_bits(root(square(gain).saturating_add(square(CAPACITY_DOUBT))))
}
