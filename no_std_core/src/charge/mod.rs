//! State of charge, with its own uncertainty.
//!
//! A [`counter`](Quanta) counts coulombs exactly; a [`Ledger`] says what that may be wrong by and
//! why; a [`Rest`] tells when the voltage may be believed; [`Evidence`] weighs it. Fed with
//! telemetry, read by `range`, `throttle` and `status`.
//!
//! Full or empty is inferred from nothing but a resting voltage at the steep ends of the curve:
//! the hand sees no charger. A voltage that contradicts what was remembered means that the pack
//! was charged or changed meanwhile, and wins.

mod counter;
mod evidence;
mod gap;
mod ledger;
mod relaxation;
mod rest;

pub use counter::{Capacity, Quanta};
pub use ledger::{Causes, Evidence, Ledger};
pub use relaxation::Relaxation;
pub use rest::Rest;

use self::evidence::Reading;
use self::gap::Bridged;
use self::rest::{Pair, Sample};
use crate::board::Board;
use crate::cell::Pulse;
use crate::math::{divide, root};
use crate::telemetry::Telemetry;
use crate::time::{Duration, Instant};
use crate::units::{Amperes, Celsius, Ratio, Volts};

/// One sigma of a first voltage, whatever the pack did before: nobody has seen. After a minute at
/// 2C and one of rest the published cells stand 5 to 65 mV from their resting voltage, a pack
/// that was put away stands at it; most rides begin with the latter.
const UNKNOWN_PAST: Volts = Volts::from_milli(12);

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

/// A voltage that is this many sigma from what was remembered wins over it, squared: three.
const CONTRADICTION_SQUARED: i64 = 9;

/// A voltage that leaves charge open by more than this (one sigma) stands on a plateau. Its doubts
/// are not bell-shaped there, so it is refused unless it knows more than is known already.
const PLATEAU: Ratio = Ratio::from_percent(5);

/// After so long under watch the load before it has left nothing behind that a stop would show:
/// three time constants of the mean current.
const PAST_IS_KNOWN_AFTER: Duration = Duration::from_secs(200);

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

/// What a rest is held against: how things stood when it began, counted on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
struct BeforeRest {
    ledger: Ledger,
    /// What this rest's evidence has moved the charge by so far; the next replaces it.
    moved_by_rest: Quanta,
    /// The scale as it was before this rest.
    scale: Ratio,
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

    /// Counts from the frame before to the last one, and gives what was drawn; nothing where too
    /// much time lies between.
    fn count(&mut self, before: &Last, last: &Last, board: &Board) -> Option<Quanta> {
        let Some(time) = last.at.since(before.at) else {
            self.settle(board);
            let second =
                Quanta::between(self.mean_current, self.mean_current, Duration::from_secs(1));
            self.ledger = self.ledger.blurred(self.capacity.share(second));
            return Some(Quanta::ZERO);
        };
        if time > gap::LONGEST_BRIDGE {
            return None;
        }
        let still = Self::still_under(board);
        let quiet = before.current.magnitude() < still && last.current.magnitude() < still;
        let bridge = gap::bridged(before.current, last.current, self.mean_current, time, quiet);
        let counted = before.counter.zip(last.counter).and_then(|(earlier, later)| {
            let most = |per_cell: Amperes| {
                let pack = Amperes::from_bits(
                    per_cell.to_bits().saturating_mul(i32::from(board.pack().parallel)),
                );
                Quanta::between(pack, pack, time + Duration::from_secs(1))
            };
            gap::counted(
                earlier,
                later,
                bridge,
                most(board.cell().max_discharge),
                most(board.cell().max_charge),
            )
        });
        let Bridged { charge, sigma } =
            counted.map_or(bridge, |charge| Bridged { charge, sigma: Quanta::ZERO });
        if sigma > Quanta::ZERO {
            self.settle(board);
            let sigma = self.capacity.share(sigma);
            self.ledger = self.ledger.blurred(sigma);
            if let Some(before) = &mut self.before_rest {
                before.ledger = before.ledger.blurred(sigma);
            }
        }
        self.drawn_since = self.drawn_since + charge;
        self.counted_for = self.counted_for + time;
        self.watched_for = self.watched_for + time;
        self.mean_current = gap::mean_after(self.mean_current, last.current, time);
        Some(charge)
    }

    /// A first voltage, with nothing remembered.
    fn start(&mut self, cell: &CellNow, board: &Board) {
        let said = cell.first_word(board);
        self.forget_since();
        self.remaining = self.capacity.part(said.soc);
        self.ledger = match self.stage {
            Stage::Unheard(None) => Ledger::of(&said, scale_doubt(board)),
            Stage::Unheard(Some(_)) | Stage::Counting(_) => self.ledger.restarted(&said),
        };
    }

    /// A voltage after a time of which nothing is known but how things stood before.
    fn resume(&mut self, cell: &CellNow, board: &Board) {
        self.settle(board);
        self.forget_since();
        let believed = self.ledger.blurred(TIME_OFF_DOUBT).aged(WEAR_DOUBT);
        self.ledger = believed;
        let said = cell.first_word(board);
        let off = i64::from((said.soc - self.soc()).to_bits());
        let expected = believed.disagreement(&said);
        if off.saturating_mul(off) > expected.saturating_mul(CONTRADICTION_SQUARED) {
            return self.start(cell, board);
        }
        let correction = believed.corrected(&said);
        let apart = said.soc - self.soc();
        self.remaining =
            self.held(self.remaining + self.capacity.part(apart.scaled(correction.weight)));
        self.rescale(self.scale, apart.scaled(correction.scale_weight));
        self.ledger = correction.after;
    }

    fn rescale(&mut self, from: Ratio, by: Ratio) {
        self.scale = (from + by).held_within(LEAST_SCALE, MOST_SCALE);
    }

    fn watch_rest(&mut self, now: Instant, cell: &CellNow, current: Amperes, board: &Board) {
        let still = current.magnitude() < Self::still_under(board);
        let sample = cell.sample(self.soc(), board.cell_current(self.mean_current), board);
        let (rest, pair) = self.rest.after(now, still, sample);
        match (rest, self.before_rest) {
            (Rest::Moving, _) => self.before_rest = None,
            (Rest::Still { since, .. }, _) if since == now => {
                self.settle(board);
                self.before_rest = Some(BeforeRest {
                    ledger: self.ledger,
                    moved_by_rest: Quanta::ZERO,
                    scale: self.scale,
                });
            }
            (Rest::Still { .. }, _) => {}
        }
        self.rest = rest;
        if let Some(pair) = pair {
            self.correct(pair, cell.temperature, board);
        }
    }

    /// Puts this rest's newest evidence in the place of its earlier ones.
    fn correct(&mut self, (earlier, newest): Pair, temperature: Celsius, board: &Board) {
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
        if !past_is_known && still_creeping {
            // The first word was taken for a rested pack's, and now is seen not to have been.
            before.ledger = before.ledger.blurred(apart);
            self.ledger = self.ledger.blurred(apart);
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
        self.remaining = remaining;
        self.ledger = correction.after;
    }

    /// Takes what was counted since the last settlement off the charge, and writes what that may
    /// be wrong by into the ledgers.
    fn settle(&mut self, board: &Board) {
        let (drawn, by_offset) = (self.drawn_share(), self.offset_doubt(board));
        self.remaining = self.held(self.remaining - self.capacity.part(self.scaled_share()));
        self.ledger = self.ledger.grown(drawn, by_offset);
        if let Some(before) = &mut self.before_rest {
            before.ledger = before.ledger.grown(drawn, by_offset);
        }
        self.drawn_since = Quanta::ZERO;
        self.counted_for = Duration::ZERO;
    }

    fn forget_since(&mut self) {
        self.drawn_since = Quanta::ZERO;
        self.counted_for = Duration::ZERO;
        self.watched_for = Duration::ZERO;
        self.mean_current = Amperes::ZERO;
        self.rest = Rest::Moving;
        self.before_rest = None;
    }

    /// What was counted since the last settlement, as a share of the board's capacity.
    fn drawn_share(&self) -> Ratio {
        self.capacity.share(self.drawn_since)
    }

    /// The same as a share of the capacity that the pack is believed to have.
    fn scaled_share(&self) -> Ratio {
        let drawn = self.drawn_share();
        drawn + drawn.scaled(self.scale)
    }

    /// One sigma of what the sensor's offset made of the counting since the last settlement.
    fn offset_doubt(&self, board: &Board) -> Ratio {
        // Longer than a trapezoid can be at once: the offset is counted in whole pieces.
        let micros = i64::try_from(self.counted_for.to_micros().min(1 << 40)).unwrap_or(0);
        let offset = i64::from(board.sensors().current_offset.to_bits());
        self.capacity.share(Quanta::from_count(offset.saturating_mul(2).saturating_mul(micros)))
    }

    fn ledger_now(&self, board: &Board) -> Ledger {
        self.ledger.grown(self.drawn_share(), self.offset_doubt(board))
    }

    fn soc(&self) -> Ratio {
        let left = self.capacity.share(self.remaining) - self.scaled_share();
        left.held_within(Ratio::ZERO, Ratio::ONE)
    }

    /// A charge within what a pack can hold, and a twentieth around it: a wrong estimate must be
    /// able to come back the way it went, or a closed loop of current would not close.
    fn held(&self, charge: Quanta) -> Quanta {
        let margin = self.capacity.part(Ratio::from_percent(5));
        charge.clamp(Quanta::ZERO - margin, self.capacity.whole() + margin)
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

/// One cell as it was just measured.
struct CellNow {
    volts: Volts,
    current: Amperes,
    temperature: Celsius,
}

impl CellNow {
    /// Its voltage with the quick part of the drop under its current taken off.
    fn without_drop(&self, soc: Ratio, board: &Board) -> Volts {
        self.volts
            + self.current * board.cell().resistance.ohms(soc, self.temperature, Pulse::OneSecond)
    }

    /// What a rest's window is filled with: its voltage, and what recent load left behind.
    fn sample(&self, soc: Ratio, mean_current: Amperes, board: &Board) -> Sample {
        let resistance = &board.cell().resistance;
        let drop = mean_current * resistance.ohms(soc, self.temperature, Pulse::TenSeconds);
        let strain = drop.scaled(relaxation::slowness(self.temperature));
        Sample { volts: self.without_drop(soc, board), strain }
    }

    /// What its voltage says when nothing is known of its past.
    fn first_word(&self, board: &Board) -> Evidence {
        // The bare voltage is near enough to look a resistance up by.
        let soc = board.cell().resting.at(self.temperature).soc(self.volts);
        let drop = self.without_drop(soc, board) - self.volts;
        // Half of the drop may be wrong: resistance of an unknown cell at an unknown charge.
        let noise = UNKNOWN_PAST + drop.magnitude().scaled(Ratio::from_percent(50));
        let reading = Reading { resting: self.volts + drop, relaxation_doubt: Volts::ZERO, noise };
        evidence::evidence(&reading, &board.cell().resting.at(self.temperature), board)
    }
}

/// One sigma of the scale before anything is learned: a capacity and a current sensor's gain.
fn scale_doubt(board: &Board) -> Ratio {
    let square = |ratio: Ratio| i64::from(ratio.to_bits()).wrapping_mul(i64::from(ratio.to_bits()));
    let gain = board.sensors().current_gain_error;
    Ratio::from_bits(root(square(gain).saturating_add(square(CAPACITY_DOUBT))))
}

#[cfg(test)]
mod tests;
