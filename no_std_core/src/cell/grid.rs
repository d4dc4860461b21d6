//! Tables of irregular points made even, so that the hot look-ups need no search and no division.
//!
//! Used by its neighbours `resting` and `resistance` while a board is being built.

use crate::math::{between, divide, scale};
use crate::units::{Celsius, Ratio};

/// The value at `x` of the broken line through `points` (rising in `x`); held at its ends.
pub(super) fn on_broken_line(points: impl Iterator<Item = (i32, i32)>, x: i32) -> i32 {
    let mut before: Option<(i32, i32)> = None;
    for (next_x, next_y) in points {
        if x <= next_x {
            let Some((last_x, last_y)) = before else {
                return next_y;
            };
            let part = divide(
                i64::from(x).wrapping_sub(i64::from(last_x)),
                i64::from(next_x).wrapping_sub(i64::from(last_x)),
                PART_BITS,
            );
            return between::<PART_BITS>(last_y, next_y, part);
        }
        before = Some((next_x, next_y));
    }
    before.map_or(0, |(_, y)| y)
}

/// How finely a place between two neighbours is told.
pub(super) const PART_BITS: u32 = 16;

/// Where a state of charge lies on an even grid of `2^bits` steps from 0 to 1: the step's number
/// and the part of it. Charges outside 0 to 1 count as the nearest end.
pub(super) fn place(soc: Ratio, bits: u32) -> (usize, i32) {
    let steps = 1_i32 << bits.min(16);
    let held = soc.held_within(Ratio::ZERO, Ratio::ONE).to_bits();
    let shift = Ratio::FRACTION_BITS.saturating_sub(bits);
    let step = (held >> shift).min(steps.saturating_sub(1));
    let within = held.saturating_sub(step << shift);
    (usize::try_from(step).unwrap_or(0), within >> shift.saturating_sub(PART_BITS))
}

/// A temperature at which a table is given, and the way to the next one, made ready for look-ups.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) struct Column {
    pub(super) at: Celsius,
    /// 2^40 over the way to the next column, rounded up so that the next column is reached; zero
    /// behind the last one.
    to_next: i32,
}

/// The products of [`Column::to_next`] with a difference of temperatures have so many bits more
/// than a part.
const RECIPROCAL_BITS: u32 = 40;

impl Column {
    /// The column at a temperature, the next one being at another, where there is one.
    pub(super) fn new(at: Celsius, next: Option<Celsius>) -> Self {
        let reciprocal = |next: Celsius| {
            let way = i64::from((next - at).to_bits().max(1));
            divide(1, way, RECIPROCAL_BITS).saturating_add(1)
        };
        Self { at, to_next: next.map_or(0, reciprocal) }
    }
}

/// Two neighbouring columns of a table by temperature, and the way from the first to the second.
#[derive(Clone, Copy, Debug)]
pub(super) struct Bracket {
    pub(super) lower: usize,
    pub(super) upper: usize,
    pub(super) part: i32,
}

/// The columns around `temperature`, of `columns` that rise in temperature.
///
/// Temperatures beyond the first and last column count as that column's.
pub(super) fn bracket(columns: impl Iterator<Item = Column>, temperature: Celsius) -> Bracket {
    let mut lower: Option<Column> = None;
    let mut index = 0_usize;
    for column in columns {
        if temperature <= column.at {
            let before = index.saturating_sub(1);
            let Some(cold) = lower else {
                return Bracket { lower: index, upper: index, part: 0 };
            };
            let along = (temperature - cold.at).to_bits();
            let part = scale::<{ RECIPROCAL_BITS.saturating_sub(PART_BITS) }>(along, cold.to_next);
            return Bracket { lower: before, upper: index, part: part.min(1 << PART_BITS) };
        }
        lower = Some(column);
        index = index.saturating_add(1);
    }
    let last = index.saturating_sub(1);
    Bracket { lower: last, upper: last, part: 0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_charge_on_a_grid_point_has_no_part() {
        assert_eq!(place(Ratio::from_fraction(1, 4), 7), (32, 0));
        assert_eq!(place(Ratio::from_fraction(-1, 4), 7), (0, 0));
        assert_eq!(place(Ratio::ONE, 7), (127, 1 << PART_BITS));
    }

    #[test]
    fn a_broken_line_is_held_at_its_ends() {
        let points = [(0, 10), (4, 30)];
        let at = |x| on_broken_line(points.iter().copied(), x);
        assert_eq!((at(-1), at(0), at(1), at(4), at(9)), (10, 10, 15, 30, 30));
    }
}
