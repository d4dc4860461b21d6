//! What can be had from the pack before it sags, under the load it is asked for, to where no
//! drive is left.
//!
//! Asked by `range`; asks the cell's curve and resistance. In the cold the end comes early.

use crate::board::Board;
use crate::cell::Pulse;
use crate::charge::{Capacity, Estimate, Quanta};
use crate::math::{divide, scale, scale_wide};
use crate::units::{Amperes, Celsius, Joules, Ratio, Volts};

/// A load that lasts makes a cell sag more than a pulse of ten seconds. The published cells under
/// a steady 1C, at the charge where they meet their cutoff: 1.3 to 1.7 times, from
/// `soc_left_when_1C_discharge_reaches_cutoff` of the reference tables against their pulses.
const LASTING: Ratio = Ratio::from_percent(150);

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
}

/// What can be had.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Usable {
    /// The charge at which no drive is left.
    pub end: Ratio,
    /// Energy at the pack's terminals from the likely charge to there.
    pub energy: Joules,
    /// The same from the lower end of the charge's interval.
    pub energy_at_low: Joules,
}

impl Usable {
    /// What can be had under `load`.
    #[must_use]
    pub fn of(pack: &PackNow, load: Load, board: &Board) -> Self {
        let PackNow { charge, capacity_share, temperature } = *pack;
        let end = end_of_drive(load, temperature, board);
        let energy =
            |soc| energy_between(end, soc, load, temperature, board).scaled(capacity_share);
        Self { end, energy: energy(charge.soc), energy_at_low: energy(charge.low) }
    }
}

/// The lowest charge at which a mean cell under the load stands above its share of the stop voltage.
fn end_of_drive(load: Load, temperature: Celsius, board: &Board) -> Ratio {
    let stop = board.mean_cell(board.pack().stop_below);
    let curve = board.cell().resting.at(temperature);
    let drives = |soc: Ratio| curve.voltage(soc) - drop(soc, load, temperature, board) >= stop;
    let (mut low, mut high) = (0_i32, Ratio::ONE.to_bits());
    // Sag falls and voltage rises with charge, so there is one crossing; 1/1024 is fine enough.
    for _ in 0..10 {
        let middle = low.saturating_add(high) >> 1;
        if drives(Ratio::from_bits(middle)) { high = middle } else { low = middle }
    }
    Ratio::from_bits(high)
}

fn drop(soc: Ratio, load: Load, temperature: Celsius, board: &Board) -> Volts {
    let ohms = board.cell().resistance.ohms(soc, temperature, Pulse::TenSeconds);
    load.0 * ohms.scaled(LASTING)
}

/// Energy at the terminals of the pack from charge `from` down to `end`; nothing below it.
fn energy_between(
    end: Ratio,
    from: Ratio,
    load: Load,
    temperature: Celsius,
    board: &Board,
) -> Joules {
    if from <= end {
        return Joules::ZERO;
    }
    let curve = &board.cell().resting;
    let middle = Ratio::from_bits(end.to_bits().saturating_add(from.to_bits()) >> 1);
    let lost = drop(middle, load, temperature, board).scaled(from - end);
    let volts = (curve.energy_below(from) - curve.energy_below(end) - lost).max(Volts::ZERO);
    // Volts times the pack's coulombs times cells in series, with 32 fraction bits.
    let group =
        scale_wide::<{ Volts::FRACTION_BITS }>(board.pack_capacity().to_bits(), volts.to_bits());
    Joules::from_bits(group.saturating_mul(i64::from(board.pack().series)))
}
