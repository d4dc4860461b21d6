//! The resting curve in straight pieces, split into what the slow and the quick sphere feel.
//!
//! Made from `tables`, asked by `pack` at every refresh, with a remembered piece so that no search is
//! needed. Beyond both ends it goes on straight, steeply below empty.

use super::tables::RestingRow;
use super::tail::Tail;

/// Least slope below soc 0 (V per unit of charge). The published tables next to this project's checks fall
/// at 21 to 41 there; an own table that ends on a plateau must not stay on it.
const SLOPE_BELOW_EMPTY_V: f64 = 20.0;
/// Least slope above soc 1 (V per unit of charge); the same tables rise at 1.4 and more there.
const SLOPE_ABOVE_FULL_V: f64 = 1.0;
/// Width over which the plateau's slope is taken above the knee, in charge. Common practice, no source.
const PLATEAU_WIDTH: f64 = 0.2;

/// One straight piece, from `from` to the next one's.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Piece {
    from: f64,
    to: f64,
    soc: f64,
    slow_V: f64,
    slow_slope_V: f64,
    quick_V: f64,
    quick_slope_V: f64,
    area_V: f64,
    /// Change of the voltage per kelvin; constant within a piece.
    pub(crate) per_K: f64,
}

impl Piece {
    /// What the slow sphere's surface gives at `soc`.
    #[inline]
    pub(crate) fn slow(&self, soc: f64) -> Surface {
        let voltage_V = self.slow_V + self.slow_slope_V * (soc - self.soc);
        Surface { voltage_V, slope_V: self.slow_slope_V }
    }

    /// What the quick sphere's surface gives at `soc`.
    #[inline]
    pub(crate) fn quick(&self, soc: f64) -> Surface {
        let voltage_V = self.quick_V + self.quick_slope_V * (soc - self.soc);
        Surface { voltage_V, slope_V: self.quick_slope_V }
    }

    /// Area under the 25 degC curve from its first row to `soc` (V).
    #[inline]
    pub(crate) fn area_V(&self, soc: f64) -> f64 {
        let along = soc - self.soc;
        let slope_V = self.slow_slope_V + self.quick_slope_V;
        self.area_V + along * ((self.slow_V + self.quick_V) + 0.5 * along * slope_V)
    }
}

/// A part of the voltage at some charge, and its slope over charge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Surface {
    pub(crate) voltage_V: f64,
    pub(crate) slope_V: f64,
}

#[derive(Clone, Debug)]
pub(crate) struct Curve {
    pieces: Vec<Piece>,
    last: Piece,
}

impl Curve {
    /// From checked rows (at least two, strictly rising).
    pub(crate) fn new(rows: &[RestingRow], tail: &Tail) -> Self {
        let knots = with_knee(rows, tail.knee_soc);
        let plateau = Plateau::of(&knots, tail);
        let slow = |row: &RestingRow| plateau.voltage_V(row) * (1.0 - tail.quick_share);
        let mut pieces: Vec<Piece> = Vec::with_capacity(knots.len() + 1);
        for pair in knots.windows(2) {
            let [a, b] = pair else { continue };
            let width = b.soc - a.soc;
            let slow_V = slow(a);
            let slow_slope_V = (slow(b) - slow_V) / width;
            let total_slope_V = (b.voltage_V - a.voltage_V) / width;
            if pieces.is_empty() {
                let below = total_slope_V.max(SLOPE_BELOW_EMPTY_V);
                pieces.push(Piece {
                    from: f64::NEG_INFINITY,
                    to: a.soc,
                    soc: a.soc,
                    slow_V,
                    slow_slope_V,
                    quick_V: a.voltage_V - slow_V,
                    quick_slope_V: below - slow_slope_V,
                    area_V: 0.0,
                    per_K: a.per_K,
                });
            }
            pieces.push(Piece {
                from: a.soc,
                to: b.soc,
                soc: a.soc,
                slow_V,
                slow_slope_V,
                quick_V: a.voltage_V - slow_V,
                quick_slope_V: total_slope_V - slow_slope_V,
                area_V: 0.0,
                per_K: a.per_K + 0.5 * (b.per_K - a.per_K),
            });
        }
        let mut last = pieces.last().copied().unwrap_or(EMPTY);
        if let Some(end) = knots.last() {
            let total = last.slow_slope_V + last.quick_slope_V;
            let slow_V = slow(end);
            last = Piece {
                from: end.soc,
                to: f64::INFINITY,
                soc: end.soc,
                slow_V,
                quick_V: end.voltage_V - slow_V,
                quick_slope_V: total.max(SLOPE_ABOVE_FULL_V) - last.slow_slope_V,
                per_K: end.per_K,
                ..last
            };
            pieces.push(last);
        }
        sum_areas(&mut pieces);
        last = pieces.last().copied().unwrap_or(EMPTY);
        Self { pieces, last }
    }

    /// The piece of `soc`: the remembered one nearly always, else walked to from there.
    #[inline]
    pub(crate) fn piece_at(&self, remembered: &mut usize, soc: f64) -> &Piece {
        let mut piece = self.piece(*remembered);
        // The outermost pieces have no end, so both walks do.
        while soc >= piece.to {
            *remembered += 1;
            piece = self.piece(*remembered);
        }
        while soc < piece.from {
            *remembered = remembered.saturating_sub(1);
            piece = self.piece(*remembered);
        }
        piece
    }

    /// The piece of `soc`, searched by halves.
    pub(crate) fn find(&self, soc: f64) -> usize {
        self.pieces.partition_point(|piece| piece.from <= soc).saturating_sub(1)
    }

    fn piece(&self, at: usize) -> &Piece {
        self.pieces.get(at).unwrap_or(&self.last)
    }

    /// Change of the voltage per kelvin at `soc`.
    pub(crate) fn per_K(&self, soc: f64) -> f64 {
        self.piece(self.find(soc)).per_K
    }

    /// What both surfaces give at their charges (V).
    pub(crate) fn surface_V(&self, quick: f64, slow: f64) -> f64 {
        self.piece(self.find(quick)).quick(quick).voltage_V
            + self.piece(self.find(slow)).slow(slow).voltage_V
    }

    /// Resting voltage at 25 degC.
    pub(crate) fn resting_V(&self, soc: f64) -> f64 {
        self.surface_V(soc, soc)
    }

    /// Area under the 25 degC curve from its first row to `soc` (V).
    pub(crate) fn area_V(&self, soc: f64) -> f64 {
        self.piece(self.find(soc)).area_V(soc)
    }

    /// The charge that rests at `voltage_V` and 25 degC; the middle of a level stretch.
    pub(crate) fn soc_at(&self, voltage_V: f64) -> f64 {
        // Bisection over a width that covers every voltage from 0 to 6 V given the end slopes.
        let edge = |reached: fn(f64, f64) -> bool| {
            let (mut low, mut high) = (-1.0, 7.0);
            for _ in 0..60 {
                let middle = 0.5 * (low + high);
                if reached(self.resting_V(middle), voltage_V) {
                    high = middle;
                } else {
                    low = middle;
                }
            }
            0.5 * (low + high)
        };
        0.5 * (edge(|v, asked| v >= asked) + edge(|v, asked| v > asked))
    }
}

const EMPTY: Piece = Piece {
    from: f64::NEG_INFINITY,
    to: f64::INFINITY,
    soc: 0.0,
    slow_V: 0.0,
    slow_slope_V: 0.0,
    quick_V: 0.0,
    quick_slope_V: 0.0,
    area_V: 0.0,
    per_K: 0.0,
};

/// The plateau: the curve itself above the knee, its mean slope carried on below.
struct Plateau {
    knee_soc: f64,
    knee_V: f64,
    slope_V: f64,
}

impl Plateau {
    fn of(knots: &[RestingRow], tail: &Tail) -> Self {
        let knee_V = between(knots, tail.knee_soc).voltage_V;
        let slope_V =
            (between(knots, tail.knee_soc + PLATEAU_WIDTH).voltage_V - knee_V) / PLATEAU_WIDTH;
        Self { knee_soc: tail.knee_soc, knee_V, slope_V }
    }

    fn voltage_V(&self, row: &RestingRow) -> f64 {
        if row.soc >= self.knee_soc {
            row.voltage_V
        } else {
            self.knee_V + self.slope_V * (row.soc - self.knee_soc)
        }
    }
}

/// The row at `soc`, straight between its neighbours; the end rows beyond the ends.
fn between(rows: &[RestingRow], soc: f64) -> RestingRow {
    let after = rows.partition_point(|row| row.soc <= soc);
    match (after.checked_sub(1).and_then(|i| rows.get(i)), rows.get(after)) {
        (Some(a), Some(b)) => {
            let share = (soc - a.soc) / (b.soc - a.soc);
            RestingRow {
                soc,
                voltage_V: a.voltage_V + share * (b.voltage_V - a.voltage_V),
                per_K: a.per_K + share * (b.per_K - a.per_K),
            }
        }
        (Some(end), None) | (None, Some(end)) => *end,
        (None, None) => RestingRow { soc, voltage_V: 0.0, per_K: 0.0 },
    }
}

/// The rows with one more at the knee, where the plateau bends.
fn with_knee(rows: &[RestingRow], knee_soc: f64) -> Vec<RestingRow> {
    let mut knots = rows.to_vec();
    let inside = rows.first().is_some_and(|row| row.soc < knee_soc)
        && rows.last().is_some_and(|row| row.soc > knee_soc);
    if inside && rows.iter().all(|row| (row.soc - knee_soc).abs() > 1e-6) {
        let at = rows.partition_point(|row| row.soc <= knee_soc);
        knots.insert(at, between(rows, knee_soc));
    }
    knots
}

fn sum_areas(pieces: &mut [Piece]) {
    let mut before: Option<Piece> = None;
    for piece in pieces {
        if let Some(b) = before {
            let width = piece.soc - b.soc;
            let middle_V = b.slow_V + b.quick_V + 0.5 * width * (b.slow_slope_V + b.quick_slope_V);
            piece.area_V = b.area_V + width * middle_V;
        }
        before = Some(*piece);
    }
}
