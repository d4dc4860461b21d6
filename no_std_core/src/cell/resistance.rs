//! What a cell loses under load: resistance by charge and temperature, after one and ten seconds.
//!
//! Asked by `charge` (to take the drop off a voltage under a small current) and by `range`
//! (to find where the pack sags to nothing). Built with the board.

use heapless::Vec;

use super::grid::{self, PART_BITS};
use crate::math::{between, divide, scale};
use crate::units::{Celsius, Ohms, Ratio};

const GRID_BITS: u32 = 4;
const POINTS: usize = (1 << GRID_BITS) + 1;
/// One step of the grid, in bits of a `Ratio`.
const STEP: i32 = 1 << (Ratio::FRACTION_BITS - GRID_BITS);
/// How many temperatures a map may be given at; one more is kept for the cold beyond them.
pub const MOST_TEMPERATURES: usize = 7;

/// How far below the coldest given temperature the map is continued.
const COLDER_BY_K: i32 = 20;

/// A one-second resistance where only the ten-second one is known. The published cells in
/// [`super::published`] have 0.64 to 1.0 there, about 0.85 in the middle.
const ONE_SECOND_SHARE: Ratio = Ratio::from_percent(85);

/// Resistance over that at 25 °C where only one number is known: Arrhenius with 20 kJ/mol, the
/// demonstration value of the equivalent-circuit set of the PyBaMM library (exp(E/R (1/T - 1/298.15 K))).
const BY_TEMPERATURE: [(i32, i32); 6] =
    [(-20, 4197), (-10, 2924), (0, 2093), (10, 1533), (25, 1000), (45, 602)];

/// How long the current has flowed for which a resistance is asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Pulse {
    /// One second: ohmic drop and charge transfer.
    OneSecond,
    /// Ten seconds: diffusion has begun.
    TenSeconds,
}

/// Why points are no resistance map.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum ResistanceFault {
    /// The points are no full rectangle of charges by temperatures.
    NotARectangle {
        /// How many resistances there were.
        given: usize,
        /// How many charges times temperatures make.
        wanted: usize,
    },
    /// No temperature at all, or more than [`MOST_TEMPERATURES`].
    WrongTemperatureCount {
        /// How many there were.
        given: usize,
    },
    /// Charges or temperatures that do not rise, or charges outside 0 to 1.
    NotRising {
        /// Which one, counted from 0.
        point: usize,
    },
    /// A resistance that is zero, negative or above 10 ohm.
    OutOfRange {
        /// Which one, counted from 0.
        point: usize,
        /// What was given.
        given: Ohms,
    },
}

impl ResistanceFault {
    /// The resistance that is at fault, counted from 0, where one is.
    #[must_use]
    pub const fn resistance(&self) -> Option<usize> {
        match self {
            Self::OutOfRange { point, .. } => Some(*point),
            Self::NotARectangle { .. }
            | Self::WrongTemperatureCount { .. }
            | Self::NotRising { .. } => None,
        }
    }
}

impl core::fmt::Display for ResistanceFault {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::NotARectangle { given, wanted } => {
                write!(f, "{given} resistances where charges times temperatures make {wanted}")
            }
            Self::WrongTemperatureCount { given } => {
                write!(f, "{given} temperatures; 1 to {MOST_TEMPERATURES} are allowed")
            }
            Self::NotRising { point } => write!(
                f,
                "charge or temperature number {} is not above the one before it, or a charge lies outside 0 to 1",
                point.saturating_add(1)
            ),
            Self::OutOfRange { point, given } => write!(
                f,
                "resistance number {} is {:.6} ohm; above 0 and at most 10 ohm are allowed",
                point.saturating_add(1),
                given.to_f64()
            ),
        }
    }
}

impl core::error::Error for ResistanceFault {}

#[derive(Clone, PartialEq, Eq, Hash)]
struct Column {
    place: grid::Column,
    one_second: [i32; POINTS],
    ten_seconds: [i32; POINTS],
}

/// Resistance of one cell by charge and temperature.
#[derive(Clone, PartialEq, Eq, Hash)]
pub struct ResistanceMap {
    columns: Vec<Column, { MOST_TEMPERATURES + 1 }>,
}

impl core::fmt::Debug for ResistanceMap {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "ResistanceMap({} temperatures)", self.columns.len())
    }
}

impl ResistanceMap {
    /// A map from measured pulses: charges and temperatures rising, `ten_seconds` (and
    /// `one_second`, where known) with all charges of the first temperature, then of the second.
    ///
    /// Charges beyond the first and last count as those. Below the coldest temperature the
    /// resistance keeps growing by the factor per kelvin that the two coldest columns show, for
    /// 20 K more; above the hottest it stays.
    ///
    /// # Errors
    /// The first [`ResistanceFault`] found.
    #[inline(never)]
    pub fn new(
        soc: &[Ratio],
        temperatures: &[Celsius],
        ten_seconds: &[Ohms],
        one_second: Option<&[Ohms]>,
    ) -> Result<Self, ResistanceFault> {
        check(soc, temperatures, ten_seconds)?;
        if let Some(one_second) = one_second {
            check(soc, temperatures, one_second)?;
        }
        let column = |index: usize, at: Celsius| {
            let from = index.saturating_mul(soc.len());
            let of = from..from.saturating_add(soc.len());
            // There is a row for each: the check has seen it.
            let row = |table: &[Ohms]| resampled(soc, table.get(of.clone()).unwrap_or(&[]));
            let ten_seconds = row(ten_seconds);
            let one_second = one_second.map_or_else(
                || {
                    ten_seconds.map(|ohms| {
                        scale::<{ Ratio::FRACTION_BITS }>(ohms, ONE_SECOND_SHARE.to_bits())
                    })
                },
                &row,
            );
            let next = temperatures.get(index.saturating_add(1)).copied();
            Column { place: grid::Column::new(at, next), one_second, ten_seconds }
        };
        let mut columns = Vec::new();
        // No push can fail: the count was checked above.
        if let [coldest, next, ..] = *temperatures {
            let _ = columns.push(colder(&column(0, coldest), &column(1, next)));
        }
        for (index, &at) in temperatures.iter().enumerate() {
            let _ = columns.push(column(index, at));
        }
        Ok(Self { columns })
    }

    /// A map from one number, the resistance at 25 °C, by the temperature law of an Arrhenius
    /// process with 20 kJ/mol and without any dependence on charge.
    ///
    /// # Errors
    /// A resistance that is not above 0 or exceeds 10 ohm.
    pub fn from_one(at_25_degc: Ohms) -> Result<Self, ResistanceFault> {
        let temperatures = BY_TEMPERATURE.map(|(degrees, _)| Celsius::from_whole(degrees));
        let ohms = BY_TEMPERATURE
            .map(|(_, thousandths)| at_25_degc.scaled(Ratio::from_fraction(thousandths, 1000)));
        check(&[Ratio::ZERO], &[Celsius::from_whole(25)], &[at_25_degc])?;
        Self::new(&[Ratio::ZERO], &temperatures, &ohms, None)
    }

    /// Cuts the map to the part between two charges, stretched to run from 0 to 1: see
    /// [`super::RestingCurve::trim`].
    pub fn trim(&mut self, low: Ratio, high: Ratio) {
        for column in &mut self.columns {
            for table in [&mut column.one_second, &mut column.ten_seconds] {
                let mut place = Ratio::ZERO;
                let before = *table;
                for value in table {
                    let (step, part) = grid::place(low + (high - low).scaled(place), GRID_BITS);
                    let (from, to) = (entry(&before, step), entry(&before, step.saturating_add(1)));
                    *value = between::<PART_BITS>(from, to, part);
                    place = place + Ratio::from_bits(STEP);
                }
            }
        }
    }

    /// The resistance at `soc` and `temperature` after the current has flowed for `pulse`.
    #[must_use]
    pub fn ohms(&self, soc: Ratio, temperature: Celsius, pulse: Pulse) -> Ohms {
        let bracket = grid::bracket(self.columns.iter().map(|column| column.place), temperature);
        let (step, part) = grid::place(soc, GRID_BITS);
        let at = |column: usize| {
            let Some(column) = self.columns.get(column) else { return 0 };
            let table = match pulse {
                Pulse::OneSecond => &column.one_second,
                Pulse::TenSeconds => &column.ten_seconds,
            };
            between::<PART_BITS>(entry(table, step), entry(table, step.saturating_add(1)), part)
        };
        Ohms::from_bits(between::<PART_BITS>(at(bracket.lower), at(bracket.upper), bracket.part))
    }
}

fn entry(table: &[i32; POINTS], step: usize) -> i32 {
    table.get(step).copied().unwrap_or(0)
}

fn check(soc: &[Ratio], temperatures: &[Celsius], ohms: &[Ohms]) -> Result<(), ResistanceFault> {
    if temperatures.is_empty() || temperatures.len() > MOST_TEMPERATURES {
        return Err(ResistanceFault::WrongTemperatureCount { given: temperatures.len() });
    }
    let wanted = soc.len().saturating_mul(temperatures.len());
    if ohms.len() != wanted || wanted == 0 {
        return Err(ResistanceFault::NotARectangle { given: ohms.len(), wanted });
    }
    let outside = soc.iter().position(|&s| s < Ratio::ZERO || s > Ratio::ONE);
    let standing = soc.is_sorted_by(|a, b| a < b) && temperatures.is_sorted_by(|a, b| a < b);
    if let (Some(point), _) | (None, Some(point)) = (outside, (!standing).then_some(0)) {
        return Err(ResistanceFault::NotRising { point });
    }
    match ohms.iter().enumerate().find(|&(_, &r)| r <= Ohms::ZERO || r > Ohms::from_whole(10)) {
        Some((point, &given)) => Err(ResistanceFault::OutOfRange { point, given }),
        None => Ok(()),
    }
}

fn resampled(soc: &[Ratio], ohms: &[Ohms]) -> [i32; POINTS] {
    let mut even = [0; POINTS];
    let mut at = 0_i32;
    for value in &mut even {
        *value =
            grid::on_broken_line(soc.iter().zip(ohms).map(|(s, r)| (s.to_bits(), r.to_bits())), at);
        at = at.saturating_add(STEP);
    }
    even
}

/// A column 20 K below the coldest, by the growth from the second coldest to the coldest:
/// whole powers of it, and the rest of the way in a straight line.
fn colder(coldest: &Column, next: &Column) -> Column {
    let span_milli_k = (next.place.at - coldest.place.at).to_milli().max(1);
    let continued = |cold: i32, warm: i32| {
        // A resistance that falls in the cold would be a fault of the table; it is not continued.
        let growth = divide(i64::from(cold.max(warm)), i64::from(warm), PART_BITS);
        let (mut value, mut left) = (cold, COLDER_BY_K.saturating_mul(1000));
        while left >= span_milli_k {
            value = scale::<PART_BITS>(value, growth);
            left = left.saturating_sub(span_milli_k);
        }
        let part = divide(i64::from(left), i64::from(span_milli_k), PART_BITS);
        between::<PART_BITS>(value, scale::<PART_BITS>(value, growth), part)
    };
    let both = |cold: &[i32; POINTS], warm: &[i32; POINTS]| {
        let mut made = *cold;
        for (value, &warm) in made.iter_mut().zip(warm) {
            *value = continued(*value, warm);
        }
        made
    };
    let at = coldest.place.at + -crate::units::Kelvins::from_whole(COLDER_BY_K);
    Column {
        place: grid::Column::new(at, Some(coldest.place.at)),
        one_second: both(&coldest.one_second, &next.one_second),
        ten_seconds: both(&coldest.ten_seconds, &next.ten_seconds),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn two_by_two() -> ResistanceMap {
        let soc = [Ratio::from_percent(0), Ratio::from_percent(100)];
        let temperatures = [Celsius::from_whole(0), Celsius::from_whole(20)];
        let ohms = [60, 40, 30, 20].map(Ohms::from_milli);
        ResistanceMap::new(&soc, &temperatures, &ohms, None).unwrap()
    }

    #[test]
    fn a_resistance_between_points_lies_between_them() {
        let map = two_by_two();
        let middle = map.ohms(Ratio::from_percent(50), Celsius::from_whole(10), Pulse::TenSeconds);
        assert!((middle.to_f64() - 0.0375).abs() < 1e-5, "{middle}");
    }

    #[test]
    fn the_cold_beyond_the_table_keeps_growing() {
        // 20 K colder doubles it once more.
        let cold = two_by_two().ohms(Ratio::ZERO, Celsius::from_whole(-20), Pulse::TenSeconds);
        assert!((cold.to_f64() - 0.120).abs() < 1e-4, "{cold}");
    }

    #[test]
    fn a_single_number_follows_the_published_temperature_law() {
        let map = ResistanceMap::from_one(Ohms::from_milli(20)).unwrap();
        let at = |t| {
            map.ohms(Ratio::from_percent(50), Celsius::from_whole(t), Pulse::TenSeconds).to_f64()
                / 0.020
        };
        for (degrees, wanted) in [(10, 1.53), (0, 2.09), (-10, 2.92), (-20, 4.20), (45, 0.60)] {
            assert!((at(degrees) - wanted).abs() < 0.01, "{degrees} degC: {}", at(degrees));
        }
    }

    #[test]
    fn a_negative_resistance_is_refused_by_its_value() {
        let fault = ResistanceMap::from_one(Ohms::from_whole(-1)).unwrap_err();
        assert_eq!(fault, ResistanceFault::OutOfRange { point: 0, given: Ohms::from_whole(-1) });
    }

    #[test]
    fn a_table_with_a_hole_is_refused() {
        let soc = [Ratio::ZERO, Ratio::ONE];
        let fault =
            ResistanceMap::new(&soc, &[Celsius::from_whole(25)], &[Ohms::from_milli(20)], None);
        assert_eq!(fault.unwrap_err(), ResistanceFault::NotARectangle { given: 1, wanted: 2 });
    }
}
