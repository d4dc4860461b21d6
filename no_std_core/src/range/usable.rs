//! What can be had from the pack before it sags, under the load it is asked for, to where no
//! drive is left.
//!
//! Asked by `range`; asks the cell's curve and resistance. In the cold the end comes early.

use super::whole_joules;
use crate::board::Board;
use crate::cell::Pulse;
use crate::charge::{Capacity, Estimate, Quanta};
use crate::math::{divide, narrow, scale, scale_wide};
use crate::units::{Amperes, Celsius, Joules, Ratio, Volts};

/// A load that lasts makes a cell sag more than a pulse of ten seconds. The published cells under
/// a steady 1C, at the charge where they meet their cutoff: 1.3 to 1.7 times, from
/// `soc_left_when_1C_discharge_reaches_cutoff` of the reference tables against their pulses.
const LASTING: Ratio = Ratio::from_percent(150);

/// Where no drive is left the rider is content with less than before: drive has folded back, and a
/// board that creeps at a third of its usual speed asks for a third of its usual current and less.
/// No source; held against where drawn rides and the reference rides end.
const CREEPING: Ratio = Ratio::from_percent(40);

/// Speed at which the prior load is drawn, over a second: 20 km/h.
const PRIOR_SPEED_MM_S: i64 = 5_556;

/// How much of the capacity has to be drawn for the load to be learned anew: one part of so many.
const PARTS_OF_CAPACITY: i32 = 40;
const LOAD_LEARNED_OVER: Ratio = Ratio::from_fraction(1, PARTS_OF_CAPACITY.unsigned_abs());

/// The current of one cell that the pack is asked for while driving: the mean, weighted by the
/// charge that it drew, since charge is what runs out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Load(Amperes);

impl Load {
    /// The load to expect before anything is ridden: the prior consumption at 20 km/h.
    #[must_use]
    pub fn expected(board: &Board) -> Self {
        // Joules per metre times millimetres per second are milliwatts; over volts, milliamperes.
        let watts = (board.prior_consumption().to_bits() >> 16)
            .saturating_mul(PRIOR_SPEED_MM_S)
            .wrapping_div(1000);
        let cell = board.cell();
        let volts =
            i64::from(cell.highest.to_bits()).saturating_add(i64::from(cell.lowest.to_bits())) >> 1;
        let cells =
            i64::from(board.pack().series).saturating_mul(i64::from(board.pack().parallel)).max(1);
        Self(Amperes::from_bits(divide(watts, volts.saturating_mul(cells), 16)))
    }

    /// The load after `charge` was drawn at `current` (both of the pack): only driving teaches.
    #[must_use]
    pub fn after(
        self,
        current: Amperes,
        charge: Quanta,
        capacity: Capacity,
        board: &Board,
    ) -> Self {
        if charge <= Quanta::ZERO || current <= Amperes::ZERO {
            return self;
        }
        let share = capacity.share(charge).held_within(Ratio::ZERO, LOAD_LEARNED_OVER);
        let part = share.to_bits().wrapping_mul(PARTS_OF_CAPACITY);
        let off = board.cell_current(current) - self.0;
        Self(self.0 + Amperes::from_bits(scale::<{ Ratio::FRACTION_BITS }>(off.to_bits(), part)))
    }

    /// The current of one cell.
    #[must_use]
    pub const fn per_cell(self) -> Amperes {
        self.0
    }
}

/// How the pack stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct PackNow {
    /// Its charge.
    pub charge: Estimate,
    /// Its capacity over the board's.
    pub capacity_share: Ratio,
    /// Of its cells.
    pub temperature: Celsius,
    /// Their resistance over the board file's, as load has shown it.
    pub resistance_scale: Ratio,
}

/// What can be had.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Usable {
    /// The charge at which no drive is left.
    pub end: Ratio,
    /// In whole joules: half of the room, in a state that counts its bytes.
    energy: i32,
    energy_at_low: i32,
}

impl Usable {
    /// Energy at the pack's terminals from the likely charge to where no drive is left.
    #[must_use]
    pub fn energy(&self) -> Joules {
        whole_joules(self.energy)
    }

    /// The same from the lower end of the charge's interval.
    #[must_use]
    pub fn energy_at_low(&self) -> Joules {
        whole_joules(self.energy_at_low)
    }

    /// What can be had under `load`.
    #[must_use]
    pub fn of(pack: &PackNow, load: Load, board: &Board) -> Self {
        let mut search = Search::new(*pack);
        loop {
            if let Step::Found { usable } = search.step {
                return usable;
            }
            search = search.further(load, board);
        }
    }
}

/// The search for what can be had, a step at a time: each is small enough for one tick.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) struct Search {
    from: Begun,
    pub(super) step: Step,
}

/// What a search begins with.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
struct Begun {
    soc: Ratio,
    low: Ratio,
    capacity_share: Ratio,
    temperature: Celsius,
    resistance_scale: Ratio,
}

/// How far a search has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) enum Step {
    /// Drive ends between two charges, in bits of a `Ratio`.
    Ending { low: i32, high: i32, halvings: u8 },
    /// The end is known.
    Ended { end: Ratio },
    /// And the energy from the likely charge to there.
    Likely { end: Ratio, energy: i32 },
    /// All is known.
    Found { usable: Usable },
}

/// How often the charges between which drive ends are halved: 1/1024 is fine enough.
const HALVINGS: u8 = 10;
/// And how many of them are one step.
const HALVINGS_A_STEP: u8 = 2;

impl Search {
    pub(super) const fn new(pack: PackNow) -> Self {
        let PackNow { charge, capacity_share, temperature, resistance_scale } = pack;
        let (soc, low) = (charge.soc, charge.low);
        let from = Begun { soc, low, capacity_share, temperature, resistance_scale };
        let step = Step::Ending { low: 0, high: Ratio::ONE.to_bits(), halvings: HALVINGS };
        Self { from, step }
    }

    /// The charge that it began with, and the lower end of its interval.
    pub(super) const fn charges(&self) -> (Ratio, Ratio) {
        (self.from.soc, self.from.low)
    }

    /// One step further.
    #[must_use]
    pub(super) fn further(self, load: Load, board: &Board) -> Self {
        let Begun { soc, low, capacity_share, .. } = self.from;
        let energy = |end, soc| {
            let joules = energy_between((end, soc), &self.from, load, board).scaled(capacity_share);
            narrow(joules.to_bits() >> 32)
        };
        let step = match self.step {
            Step::Ending { high, halvings: 0, .. } => Step::Ended { end: Ratio::from_bits(high) },
            Step::Ending { low, high, halvings } => {
                let (low, high) = halved((low, high), &self.from, load, board);
                Step::Ending { low, high, halvings: halvings.saturating_sub(HALVINGS_A_STEP) }
            }
            Step::Ended { end } => Step::Likely { end, energy: energy(end, soc) },
            Step::Likely { end, energy: likely } => Step::Found {
                usable: Usable { end, energy: likely, energy_at_low: energy(end, low) },
            },
            found @ Step::Found { .. } => found,
        };
        Self { step, ..self }
    }
}

/// The lowest charge at which a mean cell under the load stands above its share of the stop voltage
/// lies between two; after some halvings, between two that are closer. Sag falls and voltage rises
/// with charge, so that there is one such charge.
fn halved((mut low, mut high): (i32, i32), from: &Begun, load: Load, board: &Board) -> (i32, i32) {
    let stop = board.mean_cell(board.pack().stop_below);
    let curve = board.cell().resting.at(from.temperature);
    for _ in 0..HALVINGS_A_STEP {
        let middle = low.saturating_add(high) >> 1;
        let soc = Ratio::from_bits(middle);
        let drop = drop(soc, from, load, board).scaled(CREEPING);
        let drives = curve.voltage(soc) - drop >= stop;
        if drives { high = middle } else { low = middle }
    }
    (low, high)
}

/// What a cell sags by under a load that lasts. A resistance that shows smaller than the table's is that
/// of a cell that already works hard: its swings are smaller then, its sag is not. One that is larger is
/// wear or wiring.
fn drop(soc: Ratio, from: &Begun, load: Load, board: &Board) -> Volts {
    let ohms = board.cell().resistance.ohms(soc, from.temperature, Pulse::TenSeconds);
    load.0 * ohms.scaled(LASTING).scaled(from.resistance_scale.max(Ratio::ONE))
}

/// Energy at the terminals of the pack from charge `soc` down to `end`; nothing below it.
fn energy_between((end, soc): (Ratio, Ratio), from: &Begun, load: Load, board: &Board) -> Joules {
    if soc <= end {
        return Joules::ZERO;
    }
    let curve = &board.cell().resting;
    let middle = Ratio::from_bits(end.to_bits().saturating_add(soc.to_bits()) >> 1);
    let lost = drop(middle, from, load, board).scaled(soc - end);
    let volts = (curve.energy_below(soc) - curve.energy_below(end) - lost).max(Volts::ZERO);
    // Volts times the pack's coulombs times cells in series, with 32 fraction bits.
    let group =
        scale_wide::<{ Volts::FRACTION_BITS }>(board.pack_capacity().to_bits(), volts.to_bits());
    Joules::from_bits(scale_wide::<0>(group, i32::from(board.pack().series)))
}
