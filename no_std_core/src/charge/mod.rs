//! State of charge, with its own uncertainty.
//!
//! A [`counter`](Quanta) counts coulombs exactly; a [`Ledger`] says what that may be wrong by and
//! why; a [`Rest`] tells when the voltage may be believed; [`Evidence`] weighs it. Fed with
//! telemetry, read by `range`, `throttle` and `status`.
//!
//! Full or empty is inferred from nothing but a resting voltage at the steep ends of the curve:
//! the hand sees no charger. A voltage that contradicts what was remembered means that the pack
//! was charged or changed meanwhile, and wins.

mod at_rest;
mod cell_now;
mod corrections;
mod counter;
mod evidence;
mod gap;
mod ledger;
mod load;
mod relaxation;
mod resistance;
mod rest;
mod scale;
mod tally;
mod thought;
mod under_load;
mod window;

pub use counter::{Capacity, Quanta};
pub(crate) use gap::PLAIN_STEP;
pub use ledger::{Causes, Evidence, Ledger};
pub use relaxation::Relaxation;
pub use resistance::Resistance;
pub use rest::Rest;
pub use scale::{End, Scale, Sums, Way};

use self::corrections::BeforeRest;
use self::thought::Thought;
use self::window::Window;
use crate::board::Board;
use crate::math::{root, square, sum};
use crate::telemetry::Telemetry;
use crate::time::{Duration, Instant};
use crate::units::{Amperes, Ratio, Volts};

/// Currents under the one that empties the pack in this many hours count as none: above the
/// offset of a sensor and what lights and a waiting motor controller draw.
const STILL_UNDER_HOURS: u8 = 20;

/// And so do currents under this many sigma of the sensor's offset, which matters for a small pack.
const STILL_OFFSETS: Ratio = Ratio::from_whole(4);

/// One sigma to the half width of an interval that holds the truth nine times in ten, of a
/// normal error (1.6449).
const NINE_IN_TEN: Ratio = Ratio::from_fraction(16_449, 10_000);

/// What is known about the charge at one moment. `low <= soc <= high`, all within 0 to 1.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
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
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Memory {
    /// The charge when it was last written.
    pub soc: Ratio,
    /// What it may have been wrong by.
    pub ledger: Ledger,
    /// By how much more than counted the charge goes down: a worn pack's is positive.
    pub scale: Scale,
    /// How the cells were found to relax.
    pub relaxation: Relaxation,
    /// How their resistance was found to stand to the board file's.
    pub resistance: Resistance,
}

/// The last frame that was believed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
struct Last {
    at: Instant,
    current: Amperes,
    counter: Option<Quanta>,
}

/// Whether there is an estimate.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
enum Stage {
    /// No word from the pack yet; perhaps something is remembered.
    Unheard {
        /// Whether there is.
        remembers: bool,
    },
    /// Counting.
    Counting(Last),
}

/// The state of charge of one pack.
///
/// In this order in memory: what every frame asks lies in front, where a small core reaches it with one
/// instruction.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[repr(C)]
pub struct Charge {
    /// Drawn since the last settlement.
    drawn_since: Quanta,
    /// For how long has been counted since a first voltage was taken for a resting one. The marks
    /// below are times of this kind: one sum a frame instead of one for each.
    counted_for: Duration,
    stage: Stage,
    capacity: Capacity,
    mean_current: Amperes,
    /// Pack currents under this count as none.
    still_under: Amperes,
    /// What was left when the ledger was last settled, as a share of the capacity.
    remaining_share: Ratio,
    /// Half the interval's width, and when it was looked up; nothing where the ledger has changed
    /// otherwise since.
    half_width: Ratio,
    looked_at: Option<Duration>,
    estimate: Estimate,
    /// The mean current of the last minutes, up to the window that is being filled.
    lagged_current: Amperes,
    window: Window,
    rest: Rest,
    /// How far the lowest cell stood below the mean one when it was last told.
    weakest_below_mean: Option<Volts>,
    /// What a voltage has begun to say.
    thought: Option<Thought>,
    before_rest: Option<BeforeRest>,
    /// Since when the load has been watched without a gap.
    watched_from: Duration,
    /// What was left when the ledger was last settled, exactly.
    remaining: Quanta,
    ledger: Ledger,
    /// When it was last settled.
    settled_at: Duration,
    /// One over one plus the scale.
    capacity_share: Ratio,
    relaxation: Relaxation,
    resistance: Resistance,
    scale: Scale,
    /// Whether the first voltage after a time off may not have told of a charger yet: lost, or under
    /// load.
    woke: bool,
}

/// Counting alone makes the interval wider so slowly that it is looked up this often.
const LOOK_EVERY: Duration = Duration::from_secs(2);

impl Charge {
    /// Nothing heard yet; `memory` is what the last life left, where there was one.
    #[must_use]
    pub fn new(board: &Board, memory: Option<Memory>) -> Self {
        let remembered = memory.map_or(Ratio::ZERO, |memory| memory.soc);
        let capacity = Capacity::new(board.pack_capacity());
        let mut made = Self {
            stage: Stage::Unheard { remembers: memory.is_some() },
            capacity,
            still_under: still_under(board),
            remaining: Quanta::ZERO,
            remaining_share: Ratio::ZERO,
            ledger: memory.map_or_else(Ledger::default, |memory| memory.ledger),
            scale: memory.map_or_else(Scale::default, |memory| memory.scale),
            capacity_share: Ratio::ONE,
            drawn_since: Quanta::ZERO,
            counted_for: Duration::ZERO,
            settled_at: Duration::ZERO,
            mean_current: Amperes::ZERO,
            lagged_current: Amperes::ZERO,
            window: Window::default(),
            woke: false,
            watched_from: Duration::ZERO,
            relaxation: memory.map_or_else(Relaxation::default, |memory| memory.relaxation),
            resistance: memory.map_or_else(Resistance::default, |memory| memory.resistance),
            rest: Rest::Moving,
            before_rest: None,
            thought: None,
            weakest_below_mean: None,
            estimate: Estimate { soc: Ratio::ZERO, low: Ratio::ZERO, high: Ratio::ONE },
            half_width: Ratio::ONE,
            looked_at: None,
        };
        if memory.is_some() {
            made.leave(capacity.part(remembered));
            // To the bit: a life that is read and written again is the same.
            made.remaining_share = remembered;
            made.look_up_capacity();
            let ledger = Self::after_time_off(made.ledger);
            made.estimate = made.around(remembered, half_width(&ledger), board);
        }
        made
    }

    /// Takes in a frame that was found plausible; gives the charge that was drawn since the one
    /// before it; nothing where that is not known.
    ///
    /// `now` may be late (what flowed meanwhile is bridged), the same as before (nothing flows)
    /// or earlier (the clock stepped back: the step is not counted, and doubted like a second).
    #[inline(never)]
    pub fn hear(&mut self, now: Instant, frame: &Telemetry, board: &Board) -> Option<Quanta> {
        if let Some(lowest) = frame.cell_voltage_min {
            self.weakest_below_mean = Some(board.mean_cell(frame.pack_voltage) - lowest);
        }
        let counter = frame.charge_drawn.map(Quanta::from_coulombs);
        let last = Last { at: now, current: frame.pack_current, counter };
        let drawn = match self.stage {
            Stage::Unheard { .. } => None,
            Stage::Counting(before) => self.count(&before, &last, frame.pack_voltage, board),
        };
        if drawn.is_none() {
            let cell = self.cell_now(frame, board);
            match &self.stage {
                Stage::Unheard { remembers: false } => self.start(cell),
                Stage::Unheard { remembers: true } | Stage::Counting(_) => self.resume(cell, board),
            }
        }
        self.stage = Stage::Counting(last);
        self.watch_rest(now, frame, board);
        if self.thought.is_none() {
            self.watch_window(frame, board);
        }
        let due = self.looked_at.is_none_or(|looked| self.counted_for - looked >= LOOK_EVERY);
        if due && self.thought.is_none() {
            self.thought = Some(Thought::Tell);
        }
        self.estimate = self.around(self.soc(), self.half_width, board);
        drawn
    }

    /// What was known about the charge when the pack was last heard.
    #[must_use]
    pub const fn estimate(&self) -> Estimate {
        self.estimate
    }

    /// What is known about the charge at `now`: in a silence the charge goes on as the last minute
    /// went, and is less and less certain, for ten minutes; then nothing more is assumed.
    ///
    /// Changes nothing: the next frame bridges the silence by what it tells itself.
    #[must_use]
    #[inline(never)]
    pub fn estimate_at(&self, now: Instant, board: &Board) -> Estimate {
        let Stage::Counting(last) = self.stage else { return self.estimate };
        let silence = now.since(last.at).unwrap_or(Duration::ZERO).min(gap::LONGEST_BRIDGE);
        if silence <= PLAIN_STEP {
            return self.estimate;
        }
        let mean = self.mean_current;
        let usual = self.capacity.share(Quanta::between(mean, mean, silence));
        // The current may stop, double, or be what it was last.
        let unsure = (mean - last.current).magnitude() + mean.magnitude();
        let unsure = self.capacity.share(Quanta::between(unsure, unsure, silence).halved());
        let soc = (self.soc() - usual).held_within(Ratio::ZERO, Ratio::ONE);
        let half = wider(self.half_width, unsure.scaled(NINE_IN_TEN));
        self.around(soc, half, board)
    }

    /// Whether anything has been heard from the pack, and has been thought over.
    #[must_use]
    pub fn is_known(&self) -> bool {
        let first_word = self.thought.as_ref().is_some_and(Thought::is_about_a_first_word);
        matches!(self.stage, Stage::Counting(_)) && !first_word
    }

    /// The board's capacity, in the counter's terms.
    #[must_use]
    pub const fn capacity(&self) -> Capacity {
        self.capacity
    }

    /// The capacity over the board's that the estimate goes by. It is found from counted charge,
    /// so that a current sensor's scale is in it.
    #[must_use]
    pub const fn capacity_share(&self) -> Ratio {
        self.capacity_share
    }

    /// The resistance over the board file's that the pack has shown.
    #[must_use]
    pub const fn resistance(&self) -> Resistance {
        self.resistance
    }

    /// Pack currents under this count as none.
    #[must_use]
    pub const fn still_under(&self) -> Amperes {
        self.still_under
    }

    /// Since when the pack has been still.
    #[must_use]
    pub const fn rest(&self) -> &Rest {
        &self.rest
    }

    /// What has to outlive a power cut; nothing before the pack has been heard.
    #[must_use]
    pub fn memory(&self, board: &Board) -> Option<Memory> {
        let remembers = match self.stage {
            Stage::Unheard { remembers } => remembers,
            Stage::Counting(_) => self.is_known(),
        };
        // The span goes on where it stands: what was counted since the last settlement is in it.
        let mut scale = self.scale;
        scale.count(self.drawn_share(), self.offset_doubt(board));
        remembers.then(|| Memory {
            soc: self.soc(),
            ledger: self.ledger_now(board),
            scale,
            relaxation: self.relaxation,
            resistance: self.resistance,
        })
    }

    /// The estimate with the interval looked up anew.
    fn estimated(&mut self, board: &Board) -> Estimate {
        self.half_width = half_width(&self.ledger_now(board));
        self.looked_at = Some(self.counted_for);
        self.around(self.soc(), self.half_width, board)
    }

    /// The interval of so much on both sides of a charge.
    fn around(&self, soc: Ratio, half: Ratio, board: &Board) -> Estimate {
        // Mean voltage and counted charge are those of the mean group; the weakest has less, the
        // more so the emptier it is. Where its own voltage is measured, nothing is hidden.
        let hidden = if self.weakest_below_mean.is_some() {
            Ratio::ZERO
        } else {
            (Ratio::ONE - soc).scaled(board.pack().spread)
        };
        let low = (soc - half - hidden).held_within(Ratio::ZERO, Ratio::ONE);
        let high = (soc + half).held_within(Ratio::ZERO, Ratio::ONE);
        Estimate { soc, low, high }
    }
}

/// Half the width of the interval where the charge may be wrong by what the ledger says.
fn half_width(ledger: &Ledger) -> Ratio {
    ledger.sigma().scaled(NINE_IN_TEN)
}

/// Half a width with another, independent one.
fn wider(one: Ratio, other: Ratio) -> Ratio {
    let squares = sum(square(one.to_bits()), square(other.to_bits()));
    Ratio::from_bits(root(squares)).max(one)
}

fn still_under(board: &Board) -> Amperes {
    let by_capacity = board.current_for_hours(STILL_UNDER_HOURS);
    by_capacity.max(board.sensors().current_offset.scaled(STILL_OFFSETS))
}

#[cfg(test)]
mod tests;
