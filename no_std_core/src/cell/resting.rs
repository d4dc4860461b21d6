//! The voltage of a cell at rest over its state of charge, by temperature, and back.
//!
//! Asked by `charge` and `range`; built by whoever makes a board, from points or from
//! [`super::published`]. Kept on an even grid of charge (1/128), where a look-up is a shift, two
//! loads and a multiplication; the reverse look-up is a search of seven steps.

use heapless::Vec;

use super::grid::{self, Bracket, PART_BITS};
use crate::math::{between, divide, scale};
use crate::units::{Celsius, Ratio, Volts};

const GRID_BITS: u32 = 7;
const POINTS: usize = (1 << GRID_BITS) + 1;
/// One step of the grid, in bits of a `Ratio`.
const STEP: i32 = 1 << (Ratio::FRACTION_BITS - GRID_BITS);
/// How many temperatures one curve may be given at.
pub const MOST_COLUMNS: usize = 4;

/// Why points are no resting-voltage curve.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum CurveFault {
    /// Fewer than two points, or a column that has not one voltage per charge.
    TooFewPoints {
        /// How many there were.
        given: usize,
    },
    /// No temperature at all, or more than [`MOST_COLUMNS`].
    WrongColumnCount {
        /// How many there were.
        given: usize,
    },
    /// A charge that is not above the one before it, or lies outside 0 to 1.
    ChargeNotRising {
        /// Which point, counted from 0.
        point: usize,
        /// Its charge.
        given: Ratio,
    },
    /// The first charge is not 0 or the last not 1: the ends would have to be guessed.
    EndMissing {
        /// The first charge.
        first: Ratio,
        /// The last charge.
        last: Ratio,
    },
    /// A voltage below the one before it.
    VoltageFalls {
        /// Which point, counted from 0.
        point: usize,
        /// The voltage before.
        before: Volts,
        /// The lower one that follows.
        given: Volts,
    },
    /// A voltage that no cell has, or that the table does not hold: under 0 or not under 8 V.
    VoltageOutOfRange {
        /// Which point, counted from 0.
        point: usize,
        /// What was given.
        given: Volts,
    },
    /// Temperatures that do not rise from column to column.
    TemperatureNotRising {
        /// The temperature that is not above the one before it.
        given: Celsius,
    },
}

impl CurveFault {
    /// The point that is at fault, counted from 0, where one is.
    #[must_use]
    pub const fn point(&self) -> Option<usize> {
        match self {
            Self::ChargeNotRising { point, .. }
            | Self::VoltageFalls { point, .. }
            | Self::VoltageOutOfRange { point, .. } => Some(*point),
            Self::TooFewPoints { .. }
            | Self::WrongColumnCount { .. }
            | Self::EndMissing { .. }
            | Self::TemperatureNotRising { .. } => None,
        }
    }
}

impl core::fmt::Display for CurveFault {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::TooFewPoints { given } => {
                write!(f, "{given} points; at least 2, and one voltage per charge in each column")
            }
            Self::WrongColumnCount { given } => {
                write!(f, "{given} temperatures; 1 to {MOST_COLUMNS} are allowed")
            }
            Self::ChargeNotRising { point, given } => write!(
                f,
                "point {}: charge {} is not above the one before it, within 0 to 1",
                point.saturating_add(1),
                given.to_f64()
            ),
            Self::EndMissing { first, last } => write!(
                f,
                "charge runs from {} to {}; it has to run from 0 to 1",
                first.to_f64(),
                last.to_f64()
            ),
            Self::VoltageFalls { point, before, given } => write!(
                f,
                "point {}: {:.4} V is below the {:.4} V before it; a resting voltage never falls as charge rises",
                point.saturating_add(1),
                given.to_f64(),
                before.to_f64()
            ),
            Self::VoltageOutOfRange { point, given } => write!(
                f,
                "point {}: {:.4} V is outside 0 to 8 V",
                point.saturating_add(1),
                given.to_f64()
            ),
            Self::TemperatureNotRising { given } => {
                write!(f, "temperature {} degC is given twice or out of order", given.to_f64())
            }
        }
    }
}

impl core::error::Error for CurveFault {}

#[derive(Clone, PartialEq, Eq, Hash)]
struct Column {
    place: grid::Column,
    volts: Table,
}

/// Voltages on the grid in steps of 2^-13 V (0.12 mV): a table takes half of what volts would, and
/// reaches to 8 V.
type Table = [u16; POINTS];

/// How many bits of `Volts` a table leaves out.
const COARSER_BITS: u32 = Volts::FRACTION_BITS - 13;

/// The nearest step of a table.
fn coarse(volts_bits: i32) -> u16 {
    let nearest = volts_bits.saturating_add(1 << (COARSER_BITS - 1)) >> COARSER_BITS;
    u16::try_from(nearest.max(0)).unwrap_or(u16::MAX)
}

/// Resting voltage over state of charge at up to four temperatures; never falling in charge.
#[derive(Clone, PartialEq, Eq, Hash)]
pub struct RestingCurve {
    columns: Vec<Column, MOST_COLUMNS>,
    /// Integral of the voltage from empty to each grid point, in volts times charge, at the
    /// column nearest to 25 °C: what a unit of capacity holds.
    energy: Table,
}

impl core::fmt::Debug for RestingCurve {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "RestingCurve({} temperatures)", self.columns.len())
    }
}

impl RestingCurve {
    /// A curve through points: `soc` rising from 0 to 1, at least 2 of them; one column per
    /// temperature, temperatures rising, one voltage per charge, never falling.
    ///
    /// # Errors
    /// The first [`CurveFault`] found.
    #[inline(never)]
    pub fn new(soc: &[Ratio], columns: &[(Celsius, &[Volts])]) -> Result<Self, CurveFault> {
        check_charges(soc)?;
        if columns.is_empty() || columns.len() > MOST_COLUMNS {
            return Err(CurveFault::WrongColumnCount { given: columns.len() });
        }
        let mut made = Vec::new();
        let mut before: Option<Celsius> = None;
        for (index, &(at, volts)) in columns.iter().enumerate() {
            if before.is_some_and(|colder| at <= colder) {
                return Err(CurveFault::TemperatureNotRising { given: at });
            }
            check_voltages(soc, volts)?;
            before = Some(at);
            let next = columns.get(index.saturating_add(1)).map(|&(at, _)| at);
            // Cannot fail: the count was checked above.
            let _ = made
                .push(Column { place: grid::Column::new(at, next), volts: resampled(soc, volts) });
        }
        let energy = integrated(&made);
        Ok(Self { columns: made, energy })
    }

    /// Cuts the curve to the part between two charges, stretched so that it runs from 0 to 1 again:
    /// what a pack has that is used between narrower voltages than the table was made for.
    /// Charges that are not `low < high` within 0 to 1 leave the curve as it is.
    pub fn trim(&mut self, low: Ratio, high: Ratio) {
        let whole = low == Ratio::ZERO && high == Ratio::ONE;
        if whole || low < Ratio::ZERO || high > Ratio::ONE || low >= high {
            return;
        }
        for column in &mut self.columns {
            let mut place = Ratio::ZERO;
            // One at a time and in place: a curve is large for a small stack.
            let before = column.volts;
            for value in &mut column.volts {
                let (step, part) = grid::place(low + (high - low).scaled(place), GRID_BITS);
                let (from, to) = (entry(&before, step), entry(&before, step.saturating_add(1)));
                *value = coarse(between::<PART_BITS>(from, to, part));
                place = place + Ratio::from_bits(STEP);
            }
        }
        self.energy = integrated(&self.columns);
    }

    /// The curve at one temperature; beyond the first and last column, that column's.
    #[must_use]
    pub fn at(&self, temperature: Celsius) -> RestingCurveAt<'_> {
        let bracket = grid::bracket(self.columns.iter().map(|column| column.place), temperature);
        RestingCurveAt { curve: self, bracket }
    }

    /// The integral of the resting voltage from empty to `soc`, in volts: times a capacity in
    /// coulombs it is the energy in joules that a slow discharge to empty would give.
    /// Never falls as charge rises.
    #[must_use]
    pub fn energy_below(&self, soc: Ratio) -> Volts {
        let (step, part) = grid::place(soc, GRID_BITS);
        Volts::from_bits(between::<PART_BITS>(
            entry(&self.energy, step),
            entry(&self.energy, step.saturating_add(1)),
            part,
        ))
    }
}

/// A [`RestingCurve`] at one temperature.
#[derive(Clone, Copy, Debug)]
pub struct RestingCurveAt<'a> {
    curve: &'a RestingCurve,
    bracket: Bracket,
}

impl RestingCurveAt<'_> {
    /// The voltage at rest at `soc`, which counts as 0 to 1. Never falls as `soc` rises.
    #[must_use]
    pub fn voltage(&self, soc: Ratio) -> Volts {
        let (step, part) = grid::place(soc, GRID_BITS);
        let here = between::<PART_BITS>(self.point(step), self.point(step.saturating_add(1)), part);
        Volts::from_bits(here)
    }

    /// How much the voltage rises per whole charge around `soc`, never negative.
    ///
    /// Over two grid steps, so that a single flat step in a table is not taken for a plateau.
    #[must_use]
    pub fn slope(&self, soc: Ratio) -> Volts {
        let step = Ratio::from_bits(STEP);
        let (below, above) = ((soc - step).max(Ratio::ZERO), (soc + step).min(Ratio::ONE));
        let rise = self.voltage(above) - self.voltage(below);
        Volts::from_bits(divide(
            i64::from(rise.to_bits()),
            i64::from((above - below).to_bits()),
            Ratio::FRACTION_BITS,
        ))
    }

    /// The charge that rests at `voltage`; voltages beyond the curve count as its ends.
    /// Never falls as the voltage rises. On a stretch that is exactly flat, its lower end.
    #[must_use]
    pub fn soc(&self, voltage: Volts) -> Ratio {
        let wanted = voltage.to_bits();
        let (mut low, mut high) = (0_usize, POINTS.saturating_sub(1));
        if wanted <= self.point(low) {
            return Ratio::ZERO;
        }
        if wanted >= self.point(high) {
            return Ratio::ONE;
        }
        while high.saturating_sub(low) > 1 {
            let middle = low.saturating_add(high) >> 1;
            if self.point(middle) < wanted {
                low = middle;
            } else {
                high = middle;
            }
        }
        let from = self.point(low);
        let rise = self.point(high).saturating_sub(from);
        let part = divide(i64::from(wanted.saturating_sub(from)), i64::from(rise), PART_BITS);
        let whole = i32::try_from(low).unwrap_or(0).saturating_mul(STEP);
        Ratio::from_bits(whole.saturating_add(scale::<PART_BITS>(STEP, part)))
    }

    /// The voltage at a step of the grid, in the bits of `Volts`.
    fn point(&self, step: usize) -> i32 {
        let Bracket { lower, upper, part } = self.bracket;
        let column =
            |index: usize| self.curve.columns.get(index).map_or(0, |c| entry(&c.volts, step));
        let low = column(lower);
        if part == 0 {
            return low;
        }
        // Between two temperatures a cell's voltage differs by far less than the two volts that
        // leave room for the part: 18 bits, of which three are zeros, times 16.
        let way = column(upper).saturating_sub(low) >> COARSER_BITS;
        if way.unsigned_abs() < 1 << 14 {
            low.saturating_add(way.wrapping_mul(part) >> (PART_BITS - COARSER_BITS))
        } else {
            between::<PART_BITS>(low, column(upper), part)
        }
    }
}

/// An entry of a table, in the bits of `Volts`.
fn entry(table: &Table, step: usize) -> i32 {
    table.get(step).map_or(0, |&coarse| i32::from(coarse) << COARSER_BITS)
}

fn check_charges(soc: &[Ratio]) -> Result<(), CurveFault> {
    let (Some(&first), Some(&last), true) = (soc.first(), soc.last(), soc.len() >= 2) else {
        return Err(CurveFault::TooFewPoints { given: soc.len() });
    };
    let mut before = Ratio::from_bits(-1);
    for (point, &given) in soc.iter().enumerate() {
        if given <= before || given > Ratio::ONE {
            return Err(CurveFault::ChargeNotRising { point, given });
        }
        before = given;
    }
    if first == Ratio::ZERO && last == Ratio::ONE {
        Ok(())
    } else {
        Err(CurveFault::EndMissing { first, last })
    }
}

fn check_voltages(soc: &[Ratio], volts: &[Volts]) -> Result<(), CurveFault> {
    if volts.len() != soc.len() {
        return Err(CurveFault::TooFewPoints { given: volts.len() });
    }
    let mut before = Volts::MIN;
    for (point, &given) in volts.iter().enumerate() {
        if given < Volts::ZERO || given >= Volts::from_whole(8) {
            return Err(CurveFault::VoltageOutOfRange { point, given });
        }
        if given < before {
            return Err(CurveFault::VoltageFalls { point, before, given });
        }
        before = given;
    }
    Ok(())
}

fn resampled(soc: &[Ratio], volts: &[Volts]) -> Table {
    let mut even = [0; POINTS];
    let mut at = 0_i32;
    for value in &mut even {
        let points = soc.iter().zip(volts).map(|(s, v)| (s.to_bits(), v.to_bits()));
        *value = coarse(grid::on_broken_line(points, at));
        at = at.saturating_add(STEP);
    }
    even
}

fn integrated(columns: &[Column]) -> Table {
    let room = Celsius::from_whole(25);
    let nearest = columns.iter().min_by_key(|column| (column.place.at - room).magnitude());
    let mut energy = [0; POINTS];
    let (Some(column), mut sum) = (nearest, 0_u32) else {
        return energy;
    };
    let mut before: Option<u16> = None;
    for (value, &volts) in energy.iter_mut().zip(&column.volts) {
        // Trapezoids: none at the first point.
        if let Some(before) = before {
            sum = sum.saturating_add(u32::from(before).saturating_add(u32::from(volts)));
        }
        before = Some(volts);
        *value = u16::try_from(sum >> (GRID_BITS.saturating_add(1))).unwrap_or(u16::MAX);
    }
    energy
}

#[cfg(test)]
mod tests;
