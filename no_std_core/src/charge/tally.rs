//! What counting makes of charge and of its doubts.
//!
//! The part of [`Charge`] that moves with current and time; `corrections` is the one that moves
//! with voltage. What was counted is kept exactly and written into charge and ledger only when a
//! correction needs them: nothing is rounded tick by tick.

use super::counter::Quanta;
use super::gap::{self, Bridged};
use super::ledger::Ledger;
use super::thought::Thought;
use super::window::Window;
use super::{Charge, Last, Rest};
use crate::board::Board;
use crate::time::Duration;
use crate::units::{Amperes, Ratio, Volts};

/// A silence longer than this, with load around it and no counter, leaves the load of the last
/// minute unknown: single lost frames are common and harmless, a burst is neither.
const UNWATCHED_FROM: Duration = Duration::from_secs(10);

impl Charge {
    /// Counts from the frame before to the last one, and gives what was drawn; nothing where too
    /// much time lies between.
    pub(super) fn count(
        &mut self,
        before: &Last,
        last: &Last,
        pack_voltage: Volts,
        board: &Board,
    ) -> Option<Quanta> {
        let Some(time) = last.at.since(before.at) else {
            let mean = self.mean_current;
            let second = Quanta::between(mean, mean, Duration::from_secs(1));
            self.blur(self.capacity.share(second));
            return Some(Quanta::ZERO);
        };
        if time > gap::LONGEST_BRIDGE {
            return None;
        }
        let still = self.still_under();
        let quiet = before.current.magnitude() < still && last.current.magnitude() < still;
        let bridge = gap::bridged(before.current, last.current, self.mean_current, time, quiet);
        let counted = before.counter.zip(last.counter).and_then(|(earlier, later)| {
            gap::counted(earlier, later, bridge, time, board.possible())
        });
        let Bridged { charge, sigma } =
            counted.map_or(bridge, |charge| Bridged { charge, sigma: Quanta::ZERO });
        if sigma > Quanta::ZERO {
            self.blur(self.capacity.share(sigma));
        }
        self.drawn_since = self.drawn_since + charge;
        self.counted_for = self.counted_for + time;
        let told = time <= gap::PLAIN_STEP || counted.is_some();
        if !(told || quiet || time <= UNWATCHED_FROM) {
            self.watched_from = self.counted_for;
        }
        self.mean_current = if time <= gap::PLAIN_STEP {
            gap::mean_after(self.mean_current, last.current, time)
        } else {
            self.window.break_off();
            gap::mean_after_charge::<{ gap::MEAN_OVER_BITS }>(self.mean_current, charge, time)
        };
        self.window.see(pack_voltage, last.current);
        Some(charge)
    }

    /// Something unforeseen of one sigma happened to the charge. It adds to the rest of its error,
    /// whatever is counted before or after, so that nothing has to be settled first.
    fn blur(&mut self, by: Ratio) {
        self.looked_at = None;
        self.scale.blur(by);
        self.ledger = self.ledger.blurred(by);
        if let Some(before) = &mut self.before_rest {
            before.ledger = before.ledger.blurred(by);
        }
        // A ledger that has been worked out, but not taken over yet, knows nothing of it either.
        if let Some(Thought::Correct { after, .. }) = &mut self.thought {
            *after = after.blurred(by);
        }
    }

    /// Takes what was counted since the last settlement off the charge, and writes what that may
    /// be wrong by into the ledgers.
    pub(super) fn settle(&mut self, board: &Board) {
        self.looked_at = None;
        if self.drawn_since == Quanta::ZERO && self.counted_for == self.settled_at {
            return;
        }
        let (drawn, by_offset) = (self.drawn_share(), self.offset_doubt(board));
        // Only what the scale adds is rounded.
        let more = self.capacity.part(drawn.scaled(self.scale.value()));
        self.leave(self.held(self.remaining - self.drawn_since - more));
        let by_scale = self.scale.doubt_of(drawn, board.sensors().current_gain_error);
        self.ledger = self.ledger.grown(by_offset, by_scale);
        if let Some(before) = &mut self.before_rest {
            before.ledger = before.ledger.grown(by_offset, by_scale);
        }
        self.scale.count(drawn, by_offset);
        self.window.settle(self.drawn_since);
        self.drawn_since = Quanta::ZERO;
        self.settled_at = self.counted_for;
    }

    /// So much is left; the ledger is about to say how well that is known.
    pub(super) fn leave(&mut self, remaining: Quanta) {
        self.remaining = remaining;
        self.remaining_share = self.capacity.share(remaining);
        self.looked_at = None;
    }

    pub(super) fn forget_since(&mut self) {
        self.drawn_since = Quanta::ZERO;
        self.counted_for = Duration::ZERO;
        self.settled_at = Duration::ZERO;
        self.watched_from = Duration::ZERO;
        self.mean_current = Amperes::ZERO;
        self.lagged_current = Amperes::ZERO;
        self.window = Window::default();
        self.rest = Rest::Moving;
        self.before_rest = None;
        self.thought = None;
    }

    /// What was counted since the last settlement, as a share of the board's capacity.
    pub(super) fn drawn_share(&self) -> Ratio {
        self.capacity.share(self.drawn_since)
    }

    /// The same as a share of the capacity that the pack is believed to have.
    pub(super) fn scaled_share(&self) -> Ratio {
        let drawn = self.drawn_share();
        drawn + drawn.scaled(self.scale.value())
    }

    /// One sigma of what the sensor's offset made of the counting since the last settlement.
    pub(super) fn offset_doubt(&self, board: &Board) -> Ratio {
        // Longer than a trapezoid can be at once, and its product is exact where it is not cut:
        // 2^40 us are twelve days.
        let micros = i64::try_from((self.counted_for - self.settled_at).to_micros().min(1 << 40))
            .unwrap_or(0);
        let offset = board.sensors().current_offset.to_bits();
        let once = Quanta::from_count(crate::math::scale_wide::<0>(micros, offset));
        self.capacity.share(once + once)
    }

    pub(super) fn ledger_now(&self, board: &Board) -> Ledger {
        let gain_error = board.sensors().current_gain_error;
        let by_scale = self.scale.doubt_of(self.drawn_share(), gain_error);
        self.ledger.grown(self.offset_doubt(board), by_scale)
    }

    pub(super) fn soc(&self) -> Ratio {
        let left = self.remaining_share - self.scaled_share();
        left.held_within(Ratio::ZERO, Ratio::ONE)
    }

    /// A charge within what a pack can hold, and a twentieth around it: a wrong estimate must be
    /// able to come back the way it went, or a closed loop of current would not close.
    pub(super) fn held(&self, charge: Quanta) -> Quanta {
        let margin = self.capacity.part(Ratio::from_percent(5));
        charge.max(Quanta::ZERO - margin).min(self.capacity.whole() + margin)
    }
}
