//! What a voltage makes of charge: at the first word, after a long silence, at rests.
//!
//! The part of [`Charge`] that moves with voltage; `tally` is the one that moves with current.

use super::Charge;
use super::at_rest;
use super::cell_now::{CellNow, Resistances};
use super::counter::Quanta;
use super::ledger::{Evidence, Ledger};
use super::rest::{Pair, Rest};
use super::thought::{About, Found, Thought};
use crate::board::Board;
use crate::math::{divide, square};
use crate::telemetry::Telemetry;
use crate::time::{Duration, Instant};
use crate::units::{Celsius, Ratio, Volts};

/// A remembered charge is this much less certain after a time off of unknown length.
const TIME_OFF_DOUBT: Ratio = Ratio::from_percent(1);

/// A voltage after a time off that is this many halves of a sigma below what was remembered wins
/// over it.
pub(super) const CONTRADICTION: i32 = 6;

/// And one that is this many above it: the commonest thing that happens to a pack while its handheld
/// is off is a charger.
pub(super) const CHARGED: i32 = 3;

/// And one of the first window or rest after it, which nothing but a charger lifts.
pub(super) const CHARGED_AFTER_ALL: i32 = 4;

/// A rest that is this many halves of a sigma from what was believed shows that something unforeseen
/// has happened.
pub(super) const UNFORESEEN: i32 = 8;

/// And this many that the pack was not rested when its first voltage was taken for a resting one.
pub(super) const UNRESTED: i32 = 2;

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
    /// The cell's at its beginning; nothing of a window under load, which is held against how things
    /// stand in the same way.
    resistances: Option<Resistances>,
}

impl BeforeRest {
    pub(super) fn now(ledger: Ledger, resistances: Option<Resistances>) -> Self {
        Self { ledger, moved_by_rest: Quanta::ZERO, resistances }
    }

    /// Whether it was noted for a rest.
    pub(super) const fn is_of_a_rest(&self) -> bool {
        self.resistances.is_some()
    }
}

impl Charge {
    /// A first voltage, with nothing remembered: nothing is known until it has been weighed.
    #[inline(never)]
    pub(super) fn start(&mut self, cell: CellNow) {
        self.forget_since();
        self.leave(Quanta::ZERO);
        self.ledger = Ledger::unknown();
        self.thought = Some(Thought::Hear { about: About::FirstWord, cell });
    }

    /// A voltage after a time of which nothing is known but how things stood before.
    #[inline(never)]
    pub(super) fn resume(&mut self, cell: CellNow, board: &Board) {
        self.settle(board);
        self.forget_since();
        self.ledger = Self::after_time_off(self.ledger);
        self.woke = true;
        self.thought = Some(Thought::Hear { about: About::TimeOff { contradicts: false }, cell });
    }

    /// What a first voltage says, now that it has been weighed.
    pub(super) fn take_first_word(&mut self, said: &Evidence) {
        // What was drawn since it was heard stays counted.
        self.leave(self.held(self.remaining + self.capacity.part(said.soc)));
        self.ledger = Ledger::of(said);
        self.scale.begin(said);
    }

    /// How much a voltage after a time off is worth, now that it has been weighed; nothing where it
    /// contradicts what was believed, and has won.
    pub(super) fn weight_after_time_off(
        &mut self,
        said: &Evidence,
        contradicts: bool,
    ) -> Option<Ratio> {
        if contradicts {
            self.woke = false;
            self.leave(self.capacity.part(said.soc));
            self.ledger = Ledger::of(said);
            self.scale.begin(said);
            return None;
        }
        Some(self.ledger.weight(said))
    }

    /// What a voltage after a time off says, taken in with a weight.
    pub(super) fn take_up_again(&mut self, said: &Evidence, weight: Ratio) {
        self.scale.blur(TIME_OFF_DOUBT);
        self.scale.reach(said);
        let Some(after) = self.ledger.corrected(said, weight) else { return };
        let step = self.capacity.part((said.soc - self.soc()).scaled(weight));
        self.leave(self.held(self.remaining + step));
        self.ledger = after;
    }

    /// What follows from the scale; it takes a division.
    pub(super) fn look_up_capacity(&mut self) {
        let whole = i64::from(Ratio::ONE.to_bits());
        let scaled = Ratio::ONE + self.scale.value();
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
            self.forget_before_rest();
            return;
        }
        let cell = self.cell_now(frame, board);
        let mean_current = board.cell_current(self.mean_current);
        // The first moments of a rest fill no window, and need none.
        let known = self.before_rest.as_ref().and_then(|before| before.resistances);
        let resistances = known.unwrap_or_default();
        let (rest, pair) = self.rest.after(now, cell.sample(mean_current, resistances));
        if rest.still_for(now) == Some(Duration::ZERO) {
            self.forget_before_rest();
        }
        self.rest = rest;
        if matches!(self.thought, None | Some(Thought::Tell)) {
            self.think_of_rest(pair.as_ref(), cell.temperature);
        }
    }

    /// A rest is to be noted when it begins, and read where two windows of it are full.
    #[inline(never)]
    fn think_of_rest(&mut self, pair: Option<&Pair>, temperature: Celsius) {
        match (pair, &self.before_rest) {
            (_, None) => self.thought = Some(Thought::Begin { temperature }),
            (Some(&pair), Some(_)) => {
                let step = at_rest::Step::Average { pair };
                self.thought = Some(Thought::AtRest { step, temperature });
            }
            (None, Some(_)) => {}
        }
    }

    /// Notes how things stand at the beginning of a rest. What has been counted but not settled yet
    /// will be written into both ledgers alike.
    pub(super) fn begin_rest(&mut self, temperature: Celsius, board: &Board) {
        let resistances = Resistances::of(self.soc(), temperature, board);
        self.before_rest = Some(BeforeRest::now(self.ledger, Some(resistances)));
    }

    /// How things stood before a rest is needed until its evidence has been taken in.
    pub(super) fn forget_before_rest(&mut self) {
        if !self.thought.as_ref().is_some_and(Thought::is_about_a_rest) {
            self.before_rest = None;
        }
    }

    /// What remembered charge and ledger are worth after a time off.
    pub(super) fn after_time_off(ledger: Ledger) -> Ledger {
        ledger.blurred(TIME_OFF_DOUBT)
    }

    /// Holds a rest's newest evidence against how things stood before it: whatever the rest shows
    /// that neither counting nor its doubts explain is unforeseen.
    pub(super) fn expect(&mut self, said: &Evidence, found: Found) {
        let Some(mut before) = self.before_rest else { return };
        let apart = said.soc - self.capacity.share(self.remaining - before.moved_by_rest);
        if self.counted_for < PAST_IS_KNOWN_AFTER && found == Found::Unrested {
            // The first word was taken for a rested pack's, and now is seen not to have been.
            before.ledger = before.ledger.blurred(apart);
            self.ledger = self.ledger.blurred(apart);
        }
        if found == Found::Unforeseen {
            // Whatever it was, counting did not see it: it is no fault of the scale.
            before.ledger = Ledger::of(said).blurred(apart);
            self.ledger = before.ledger;
            self.scale.begin(said);
        }
        self.before_rest = Some(before);
    }

    /// How much this rest's newest evidence is worth for the charge; nothing where it stands on a
    /// plateau and knows no more than is known already.
    pub(super) fn weight(&self, about: About, said: &Evidence) -> Option<Ratio> {
        let ledger = &self.before_rest.as_ref()?.ledger;
        let sigma = said.sigma();
        let tells = about == About::Load || sigma <= PLATEAU || sigma <= ledger.sigma();
        tells.then(|| ledger.weight(said))
    }

    /// What will be doubted when it has been taken in.
    pub(super) fn doubt_after(&self, said: &Evidence, weight: Ratio) -> Option<Ledger> {
        self.before_rest.as_ref()?.ledger.corrected(said, weight)
    }

    /// Puts this rest's newest evidence, a charge that was `said`, in the place of its earlier ones.
    ///
    /// What has been drawn since it was held against what was expected is not in it, and is settled
    /// afterwards like anything else that was counted.
    pub(super) fn correct(&mut self, said: Ratio, weight: Ratio, after: Ledger) {
        let Some(before) = &self.before_rest else { return };
        if after.variance() > self.ledger.variance() {
            return;
        }
        let without = self.remaining - before.moved_by_rest;
        let apart = said - self.capacity.share(without);
        let step = self.capacity.part(apart.scaled(weight));
        let remaining = self.held(without + step);
        if let Some(before) = &mut self.before_rest {
            before.moved_by_rest = remaining - without;
        }
        self.leave(remaining);
        self.ledger = after;
    }

    /// The charge that is believed, and one sigma; at a rest, before it.
    pub(super) fn believed(&self) -> (Ratio, Ratio) {
        let Some(before) = &self.before_rest else { return (self.soc(), self.ledger.sigma()) };
        let moved = self.capacity.share(before.moved_by_rest);
        (self.soc() - moved, before.ledger.sigma())
    }

    /// Whether the load before a rest has been watched for long enough to know what it left behind.
    pub(super) fn past_is_known(&self) -> bool {
        self.watched_for() >= PAST_IS_KNOWN_AFTER
    }

    pub(super) fn watched_for(&self) -> Duration {
        self.counted_for - self.watched_from
    }
}

/// Whether `off` is more than so many sigma, their `variance` being given.
pub(super) fn exceeds(off: i32, variance: i64, sigmas: i32) -> bool {
    square(off) > crate::math::scale_wide::<0>(variance, sigmas.wrapping_mul(sigmas))
}
