//! State of charge, with its own uncertainty.
//!
//! A [`counter`](Quanta) counts coulombs exactly; a [`Ledger`] says what that may be wrong by and
//! why; a [`Rest`] tells when the voltage may be believed; [`Evidence`] weighs it. Fed with
//! telemetry, read by `range`, `throttle` and `status`.
//!
//! Full or empty is inferred from nothing but a resting voltage at the steep ends of the curve:
//! the hand sees no charger. A voltage that contradicts what was remembered means that the pack
//! was charged or changed meanwhile, and wins.

mod cell_now;
mod corrections;
mod counter;
mod evidence;
mod gap;
mod ledger;
mod relaxation;
mod rest;
mod tally;

pub use counter::{Capacity, Quanta};
pub use ledger::{Causes, Evidence, Ledger};
pub use relaxation::Relaxation;
pub use rest::Rest;

use self::cell_now::CellNow;
use self::corrections::BeforeRest;
use crate::board::Board;
use crate::math::divide;
use crate::telemetry::Telemetry;
use crate::time::{Duration, Instant};
use crate::units::{Amperes, Ratio};

/// Currents under the one that empties the pack in this many hours count as none: above the
/// offset of a sensor and what lights and a waiting motor controller draw.
const STILL_UNDER_HOURS: u8 = 20;

/// One sigma to the half width of an interval that holds the truth nine times in ten, of a
/// normal error (1.6449).
const NINE_IN_TEN: Ratio = Ratio::from_fraction(16_449, 10_000);

/// What is known about the charge at one moment. `low <= soc <= high`, all within 0 to 1.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Estimate {
    /// The charge that is most likely.
    pub soc: Ratio,
    /// Lower end of the interval in which the truth lies nine times in ten.
    pub low: Ratio,
    /// Upper end of it.
    pub high: Ratio,
}

/// What outlives a power cut.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Memory {
    /// The charge when it was last written.
    pub soc: Ratio,
    /// What it may have been wrong by.
    pub ledger: Ledger,
    /// By how much more than counted the charge goes down, as a share: a worn pack's is positive.
    pub scale: Ratio,
    /// How the cells were found to relax.
    pub relaxation: Relaxation,
}

/// The last frame that was believed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
struct Last {
    at: Instant,
    current: Amperes,
    counter: Option<Quanta>,
}

/// Whether there is an estimate.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
enum Stage {
    /// No word from the pack yet; perhaps something remembered.
    Unheard(Option<Memory>),
    /// Counting.
    Counting(Last),
}

/// The state of charge of one pack.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Charge {
    stage: Stage,
    capacity: Capacity,
    /// What was left when the ledger was last settled.
    remaining: Quanta,
    ledger: Ledger,
    scale: Ratio,
    /// Drawn, and time gone, since then.
    drawn_since: Quanta,
    counted_for: Duration,
    mean_current: Amperes,
    /// How long the load has been watched without a gap.
    watched_for: Duration,
    relaxation: Relaxation,
    rest: Rest,
    before_rest: Option<BeforeRest>,
    weakest_cell_seen: bool,
    estimate: Estimate,
}

impl Charge {
    /// Nothing heard yet; `memory` is what the last life left, where there was one.
    #[must_use]
    pub fn new(board: &Board, memory: Option<Memory>) -> Self {
        let remembered = memory.map_or(Ratio::ZERO, |memory| memory.soc);
        let ledger = memory.map_or_else(Ledger::default, |memory| memory.ledger);
        let capacity = Capacity::new(board.pack_capacity());
        let mut made = Self {
            stage: Stage::Unheard(memory),
            capacity,
            remaining: capacity.part(remembered),
            ledger,
            scale: memory.map_or(Ratio::ZERO, |memory| memory.scale),
            drawn_since: Quanta::ZERO,
            counted_for: Duration::ZERO,
            mean_current: Amperes::ZERO,
            watched_for: Duration::ZERO,
            relaxation: memory.map_or_else(Relaxation::default, |memory| memory.relaxation),
            rest: Rest::Moving,
            before_rest: None,
            weakest_cell_seen: false,
            estimate: Estimate { soc: Ratio::ZERO, low: Ratio::ZERO, high: Ratio::ONE },
        };
        if memory.is_some() {
            made.estimate = made.estimated(board);
        }
        made
    }

    /// Takes in a frame that was found plausible; gives the charge that was drawn since the one
    /// before it; nothing where that is not known.
    ///
    /// `now` may be late (what flowed meanwhile is bridged), the same as before (nothing flows)
    /// or earlier (the clock stepped back: the step is not counted, and doubted like a second).
    pub fn hear(&mut self, now: Instant, frame: &Telemetry, board: &Board) -> Option<Quanta> {
        let temperature = frame.cell_temperature.unwrap_or(board.assumed_temperature());
        let (cell_volts, weakest) = match frame.cell_voltage_min {
            Some(lowest) => (lowest, true),
            None => (board.mean_cell(frame.pack_voltage), false),
        };
        self.weakest_cell_seen = weakest;
        let cell = CellNow {
            volts: cell_volts,
            current: board.cell_current(frame.pack_current),
            temperature,
        };
        let counter = frame.charge_drawn.map(Quanta::from_coulombs);
        let last = Last { at: now, current: frame.pack_current, counter };
        let (drawn, silence) = match self.stage {
            Stage::Unheard(_) => (None, None),
            Stage::Counting(before) => (self.count(&before, &last, board), now.since(before.at)),
        };
        match self.stage {
            Stage::Unheard(None) => self.start(&cell, board),
            Stage::Unheard(Some(_)) => self.resume(&cell, board),
            // Bridged or not, after a long silence the voltage is heard as if for the first time.
            Stage::Counting(_)
                if silence.is_some_and(|silence| silence > rest::LONGEST_SILENCE) =>
            {
                self.resume(&cell, board);
            }
            Stage::Counting(_) => {}
        }
        self.stage = Stage::Counting(last);
        self.watch_rest(now, &cell, frame.pack_current, board);
        self.estimate = self.estimated(board);
        drawn
    }

    /// What is known about the charge.
    #[must_use]
    pub const fn estimate(&self) -> Estimate {
        self.estimate
    }

    /// Whether anything has been heard from the pack.
    #[must_use]
    pub const fn is_known(&self) -> bool {
        matches!(self.stage, Stage::Counting(_))
    }

    /// The board's capacity, in the counter's terms.
    #[must_use]
    pub const fn capacity(&self) -> Capacity {
        self.capacity
    }

    /// The capacity over the board's that the estimate goes by. It is found from counted charge,
    /// so that a current sensor's scale is in it.
    #[must_use]
    pub fn capacity_share(&self) -> Ratio {
        let whole = i64::from(Ratio::ONE.to_bits());
        let scaled = Ratio::ONE + self.scale;
        Ratio::from_bits(divide(whole, i64::from(scaled.to_bits()), Ratio::FRACTION_BITS))
    }

    /// Pack currents under this count as none.
    #[must_use]
    pub fn still_under(board: &Board) -> Amperes {
        board.current_for_hours(STILL_UNDER_HOURS)
    }

    /// Since when the pack has been still.
    #[must_use]
    pub const fn rest(&self) -> Rest {
        self.rest
    }

    /// What has to outlive a power cut; nothing before the pack has been heard.
    #[must_use]
    pub fn memory(&self, board: &Board) -> Option<Memory> {
        match self.stage {
            Stage::Unheard(memory) => memory,
            Stage::Counting(_) => Some(Memory {
                soc: self.soc(),
                ledger: self.ledger_now(board),
                scale: self.scale,
                relaxation: self.relaxation,
            }),
        }
    }

    fn estimated(&self, board: &Board) -> Estimate {
        let soc = self.soc();
        let half = self.ledger_now(board).sigma().scaled(NINE_IN_TEN);
        // Mean voltage and counted charge are those of the mean group; the weakest has less, the
        // more so the emptier it is. Where its own voltage is measured, nothing is hidden.
        let hidden = if self.weakest_cell_seen {
            Ratio::ZERO
        } else {
            (Ratio::ONE - soc).scaled(board.pack().spread)
        };
        let low = (soc - half - hidden).held_within(Ratio::ZERO, Ratio::ONE);
        let high = (soc + half).held_within(Ratio::ZERO, Ratio::ONE);
        Estimate { soc, low, high }
    }
}

#[cfg(test)]
mod tests;
