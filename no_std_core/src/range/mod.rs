//! How far the charge that is left will carry the rider.
//!
//! Energy is not charge: [`Usable`] asks the cell how much can be had before the pack sags to
//! where no drive is left; [`Consumption`] learns by distance what a metre costs. Fed with what
//! each telemetry frame moved, asks `charge`; read by `status`.

mod consumption;
mod height;
mod home;
mod remaining;
mod usable;

pub use consumption::{Consumption, Memory as RuleMemory};
pub use height::Height;
pub use home::{Heading, Memory as WayMemory, WayHome, Word};
pub use remaining::Remaining;
pub use usable::{Load, PackNow, Usable};

use self::height::HEIGHT_SHIFT;
use self::home::{Home, Left, work_joules};
use self::remaining::{Kept, judged};
use self::usable::{Search, Step};
use crate::board::Board;
use crate::math::{divide, narrow, scale};
use crate::time::{Duration, Instant};
use crate::units::{Celsius, Joules, Kelvins, Metres, Ratio};

/// The end of the usable charge moves slowly and costs a search: it is looked for this often.
const LOOK_EVERY: Duration = Duration::from_secs(5);

/// One sigma of the usable energy for what the tables of resistance do not know (age, warmth
/// within the pack, a load other than of late), as a share of it. Common practice, no source.
const TABLE_DOUBT: Ratio = Ratio::from_percent(3);

/// And more for each kelvin below this: from there to the freezing point the resistance of the published
/// cells grows by 1.6 to 2.5 times, by activation energies of 20 to 35 kJ/mol.
const COLD_BELOW: Celsius = Celsius::from_whole(15);
const COLD_DOUBT: Ratio = Ratio::from_fraction(4, 1000);

/// The last part of the charge is ridden slowly, since the reserve takes drive and speed, and carries
/// further for it: from drawn rides to empty, which take 25 % less over their last tenth.
const SLOW_BELOW: Ratio = Ratio::from_percent(10);
const SLOW_GAINS: Ratio = Ratio::from_percent(25);

/// True metres over those of the odometer, and one sigma of it: a wheel wears and flattens under its
/// load, and never grows, so that the diameter of the board file is a little too large. Common
/// practice, no source.
const ODOMETER: Ratio = Ratio::from_percent(98);
const ODOMETER_DOUBT: Ratio = Ratio::from_percent(2);

/// Half the width of the charge's interval over one sigma of it (1.6449), inverted.
const SIGMA_OF_HALF_WIDTH: Ratio = Ratio::from_fraction(10_000, 16_449);

/// What a frame moved: energy drawn, way made.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Leg {
    /// Out of the pack's terminals, discharge positive.
    pub energy: Joules,
    /// Over ground, never negative.
    pub distance: Metres,
}

/// What a frame has to tell the range.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Ridden {
    /// What it moved.
    pub leg: Leg,
    /// What the pack gave while the board stood.
    pub stood: Joules,
    /// The load after it.
    pub load: Load,
    /// The pack after it.
    pub pack: PackNow,
    /// How high the board stands, where something measures it.
    pub height: Height,
}

/// The steepest streets have some 35 %. From memory.
const STEEPEST: Ratio = Ratio::from_percent(35);

/// What outlives a power cut.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Memory {
    /// What a metre costs.
    pub rule: RuleMemory,
    /// The way since home was marked.
    pub way: WayMemory,
}

/// The range of one board.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Range {
    consumption: Consumption,
    load: Load,
    usable: Usable,
    looked_at: Option<Instant>,
    look: Option<Look>,
    /// One sigma of the usable energy for its tables.
    table_doubt: Ratio,
    remaining: Kept,
    home: Home,
    /// Now, and where the block that is being ridden began.
    height: Height,
    block_from: Height,
}

/// A look at what is left, as far as it has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
enum Look {
    /// What can be had is searched for.
    Searching(Search),
    /// A block is learned from; no look, but in its place.
    Learning { share: Ratio },
    /// How far that carries, from this charge and from the lower end of its interval.
    Reaching { soc: Ratio, low: Ratio },
    /// The second of the two.
    ReachingLow { likely: Metres, low: Ratio },
    /// How sure that is.
    Doubting { likely: Metres, at_low: Metres },
    /// What the way home takes: first how much of its surprises was lent,
    Homeward,
    /// then all of it,
    Needing { lent: Ratio },
    /// and how sure that is.
    Unsure,
    /// What to say of it.
    Wording,
    /// What to tell.
    Judging { likely: Metres, at_low: Metres, consumption_doubt: Ratio },
}

impl Range {
    /// Nothing ridden yet; `memory` is what earlier rides taught, where there were any, and the charge
    /// that the last one ended with.
    #[must_use]
    pub fn new(board: &Board, memory: Option<(Memory, Ratio)>) -> Self {
        Self {
            consumption: Consumption::new(memory.map(|(memory, _)| memory.rule)),
            load: Load::expected(board),
            usable: Usable::default(),
            looked_at: None,
            look: None,
            table_doubt: TABLE_DOUBT,
            remaining: Kept::default(),
            home: memory.map_or_else(
                || Home::here(None),
                |(memory, soc)| Home::remembered(memory.way, soc),
            ),
            height: Height::UNKNOWN,
            block_from: Height::UNKNOWN,
        }
    }

    /// Takes in what a frame moved, and begins to look again at the end of the usable charge every five
    /// seconds of the frames' time, or when the clock stepped back.
    #[inline(never)]
    pub fn ride(&mut self, now: Instant, ridden: &Ridden) {
        self.consumption = self.consumption.with(ridden.leg).with_stand(ridden.stood);
        self.load = ridden.load;
        self.height = ridden.height;
        let since = self.looked_at.and_then(|before| now.since(before));
        // The first look waits until something is known of the charge: see `first_look`.
        if self.looked_at.is_some() && since.is_none_or(|since| since >= LOOK_EVERY) {
            self.begin_look(now, ridden.pack);
        }
    }

    /// Begins the first look, where there has been none: as soon as the charge is known.
    pub fn first_look(&mut self, now: Instant, pack: PackNow) {
        if self.looked_at.is_none() {
            if self.home.was_charged(pack.charge.soc) {
                self.mark_home();
            }
            self.begin_look(now, pack);
        }
    }

    // Not inlined: a look is large, and seldom begun.
    #[inline(never)]
    fn begin_look(&mut self, now: Instant, pack: PackNow) {
        self.looked_at = Some(now);
        // A look that is not finished yet is: frames that come too fast must not stop it.
        if self.look.is_none() {
            self.table_doubt = table_doubt(pack.temperature);
            self.look = Some(Look::Searching(Search::new(pack)));
        }
    }

    /// Whether there is a step to be done.
    #[must_use]
    pub fn ponders(&self) -> bool {
        self.look.is_some() || self.consumption.is_full()
    }

    /// One step of a look at what is left; nothing where there is none. To be called in each tick
    /// that has time for it.
    #[inline(never)]
    pub fn ponder(&mut self, board: &Board) {
        let learns = self.look.is_none() && self.consumption.is_full();
        if learns && self.consumption.has_stood() {
            self.consumption = self.consumption.learned_of_stand(board);
        } else if learns {
            self.look = Some(self.learn_block(board));
        } else {
            self.look = self.look.and_then(|look| self.further(look, board));
        }
    }

    /// What the block that was ridden teaches, without what its climb took.
    fn learn_block(&mut self, board: &Board) -> Look {
        let Leg { distance, .. } = self.consumption.gathered();
        // No street is steeper: the height has another zero than before.
        let steepest = narrow(distance.scaled(STEEPEST).to_bits() >> HEIGHT_SHIFT);
        let climbed = self.height.above(self.block_from);
        let climbed = climbed.filter(|eighths| eighths.unsigned_abs() <= steepest.unsigned_abs());
        let climb = work_joules(climbed, board);
        self.block_from = self.height;
        let level = Leg { energy: -whole_joules(climb), distance: Metres::ZERO };
        self.consumption = self.consumption.with(level);
        self.home.ridden(self.consumption.gathered().energy, distance, climb);
        let (consumption, share) = self.consumption.next_block(board);
        self.consumption = consumption;
        Look::Learning { share }
    }

    fn further(&mut self, look: Look, board: &Board) -> Option<Look> {
        match look {
            Look::Searching(search) => match search.step {
                Step::Found { usable } => {
                    self.usable = usable;
                    let (soc, low) = search.charges();
                    Some(Look::Reaching { soc, low })
                }
                Step::Ending { .. } | Step::Ended { .. } | Step::Likely { .. } => {
                    Some(Look::Searching(search.further(self.load, board)))
                }
            },
            Look::Learning { share } => {
                self.consumption = self.consumption.learned(share);
                None
            }
            Look::Reaching { soc, low } => {
                let likely = self.reach(self.usable.energy(), soc, board);
                Some(Look::ReachingLow { likely, low })
            }
            Look::ReachingLow { likely, low } => {
                let at_low = self.reach(self.usable.energy_at_low(), low, board);
                Some(Look::Doubting { likely, at_low })
            }
            Look::Doubting { likely, at_low } => {
                let consumption_doubt = self.consumption.doubt_over(likely);
                Some(Look::Judging { likely, at_low, consumption_doubt })
            }
            Look::Judging { likely, at_low, consumption_doubt } => {
                self.remaining =
                    Kept::of(judged(likely, at_low, consumption_doubt, self.table_doubt));
                Some(Look::Homeward)
            }
            Look::Homeward => {
                let lent = self.home.lent_part(&self.consumption);
                Some(Look::Needing { lent })
            }
            Look::Needing { lent } => {
                self.home.look_at_need(&self.consumption, lent, board);
                Some(Look::Unsure)
            }
            Look::Unsure => {
                self.home.look_at_doubt(&self.consumption);
                Some(Look::Wording)
            }
            Look::Wording => {
                self.home.look_at_word(self.left(), self.consumption.per_metre(board));
                None
            }
        }
    }

    /// How far `energy` carries, from charge `soc` on: as the road is now at first, as a rule in the
    /// long run, and more slowly at last.
    fn reach(&self, energy: Joules, soc: Ratio, board: &Board) -> Metres {
        let way = metres(energy, self.consumption.per_metre_over(energy, board));
        // In the cold the end comes before the reserve does.
        let slow_part = (SLOW_BELOW - self.usable.end).max(Ratio::ZERO).to_bits();
        let slow = divide(
            i64::from(slow_part),
            i64::from((soc - self.usable.end).to_bits().max(slow_part).max(1)),
            Ratio::FRACTION_BITS,
        );
        let longer = Ratio::ONE + Ratio::from_bits(slow).scaled(SLOW_GAINS);
        way.scaled(longer.scaled(ODOMETER))
    }

    /// What is left to get home with.
    fn left(&self) -> Left {
        let energy = self.usable.energy();
        let by_charge = (energy - self.usable.energy_at_low()).scaled(SIGMA_OF_HALF_WIDTH);
        // The larger and half the smaller of two: within an eighth of the root of their squares.
        let by_tables = energy.scaled(self.table_doubt);
        let (more, less) = (by_charge.max(by_tables), by_charge.min(by_tables));
        Left { energy, doubt: more + less.scaled(Ratio::from_percent(50)) }
    }

    /// Home is here.
    pub fn mark_home(&mut self) {
        let rule = self.consumption.is_remembered().then(|| self.consumption.rule());
        self.home = Home::here(rule);
    }

    /// The way from now on is the one back home.
    pub fn turn_home(&mut self) {
        self.home.turn();
    }

    /// Where the ride goes, and what to tell of the way home.
    #[must_use]
    pub const fn word(&self) -> (Heading, Word) {
        self.home.word()
    }

    /// The way home.
    #[must_use]
    pub fn way_home(&self, board: &Board) -> WayHome {
        self.home.shown(self.usable.energy(), self.consumption.per_metre(board))
    }

    /// What has to outlive a power cut.
    #[must_use]
    pub fn memory(&self) -> Memory {
        Memory { rule: self.consumption.memory(), way: self.home.memory() }
    }

    /// The distance that is left.
    #[must_use]
    pub fn remaining(&self) -> Remaining {
        self.remaining.told()
    }

    /// What can be had from the pack, and where drive ends.
    #[must_use]
    pub const fn usable(&self) -> Usable {
        self.usable
    }

    /// The load that the pack is asked for.
    #[must_use]
    pub const fn load(&self) -> Load {
        self.load
    }

    /// What a metre costs.
    #[must_use]
    pub const fn consumption(&self) -> Consumption {
        self.consumption
    }
}

/// One sigma of the usable energy at this temperature, as a share of it.
fn table_doubt(temperature: Celsius) -> Ratio {
    let colder = (COLD_BELOW - temperature).held_within(Kelvins::ZERO, Kelvins::from_whole(40));
    // Degrees have 16 fraction bits.
    let more = scale::<16>(colder.to_bits(), COLD_DOUBT.to_bits());
    TABLE_DOUBT + Ratio::from_bits(more)
}

/// So many whole joules. Not `from_whole`, which is for constants: it divides by 128 bits.
fn whole_joules(joules: i32) -> Joules {
    Joules::from_bits(i64::from(joules) << 32)
}

/// So many whole metres.
fn whole_metres(metres: i32) -> Metres {
    Metres::from_bits(i64::from(metres) << 32)
}

/// How far `energy` carries at `per_metre`.
fn metres(energy: Joules, per_metre: Joules) -> Metres {
    // 32 fraction bits each; 8 of the quotient are kept, a step of 4 mm.
    let whole = divide(energy.to_bits().max(0) >> 16, per_metre.to_bits().max(1) >> 16, 8);
    Metres::from_bits(i64::from(whole) << 24)
}

#[cfg(test)]
mod tests;
