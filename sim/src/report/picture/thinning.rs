//! Thins a ride of any length to a bounded number of bins in which no peak is lost.
//!
//! Fed by `picture`, read by `panel` (how far the values reach) and `trace` (the curves). A bin
//! keeps, per series, its first, lowest, highest and last value with their times. When a row falls
//! behind the last bin, all bins are made twice as wide and joined in pairs.
//! Source: the four points per pixel column that draw a line exactly are those of Jugel, Jerzak,
//! Hackenbroich and Markl, 2014, "M4: a visualization-oriented time series data aggregation"
//! (from memory).

use super::series::{COUNT, Series, drawable};

/// Most bins that are kept. Between half of them and all are in use on a long ride: one for every
/// one to two pixels of the plot.
pub(super) const MOST_BINS: usize = 1200;

/// Width of a bin while the ride is short. Below the pace of any recording, so that a short ride is
/// drawn row by row.
const FIRST_WIDTH_S: f64 = 1.0 / 256.0;

/// A value and when it was.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Point {
    /// Seconds since the first row.
    pub(super) time_s: f64,
    /// In the unit of its series.
    pub(super) value: f64,
}

/// How one series ran within a bin.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Extent {
    /// The first value.
    pub(super) first: Point,
    /// The first of the lowest values.
    pub(super) lowest: Point,
    /// The first of the highest values.
    pub(super) highest: Point,
    /// The last value.
    pub(super) last: Point,
    sum: f64,
    count: f64,
}

impl Extent {
    fn of(point: Point) -> Self {
        Self {
            first: point,
            lowest: point,
            highest: point,
            last: point,
            sum: point.value,
            count: 1.0,
        }
    }

    fn joined(self, later: Self) -> Self {
        Self {
            first: self.first,
            lowest: if later.lowest.value < self.lowest.value { later.lowest } else { self.lowest },
            highest: if later.highest.value > self.highest.value {
                later.highest
            } else {
                self.highest
            },
            last: later.last,
            sum: self.sum + later.sum,
            count: self.count + later.count,
        }
    }

    /// The mean of its values.
    pub(super) fn mean(&self) -> f64 {
        self.sum / self.count
    }

    /// The middle of its time.
    pub(super) fn middle_s(&self) -> f64 {
        f64::midpoint(self.first.time_s, self.last.time_s)
    }

    /// The four points that draw it, in order of time.
    pub(super) fn points(&self) -> [Point; 4] {
        let (earlier, later) = if self.lowest.time_s <= self.highest.time_s {
            (self.lowest, self.highest)
        } else {
            (self.highest, self.lowest)
        };
        [self.first, earlier, later, self.last]
    }
}

/// All rows of one stretch of time.
#[derive(Clone, Debug)]
pub(super) struct Bin {
    slot: usize,
    rows: f64,
    rows_lost: f64,
    /// When its first row was.
    pub(super) first_s: f64,
    /// When its last row was.
    pub(super) last_s: f64,
    extents: [Option<Extent>; COUNT],
}

impl Bin {
    /// How `series` ran, or nothing if no row had a value.
    pub(super) fn extent(&self, series: Series) -> Option<&Extent> {
        self.extents.get(series.place()).and_then(Option::as_ref)
    }

    /// The share of its rows in which telemetry was lost, 0 to 1.
    pub(super) fn lost(&self) -> f64 {
        self.rows_lost / self.rows
    }

    fn absorb(&mut self, later: &Self) {
        self.rows += later.rows;
        self.rows_lost += later.rows_lost;
        self.last_s = later.last_s;
        for (mine, theirs) in self.extents.iter_mut().zip(&later.extents) {
            *mine = match (*mine, *theirs) {
                (Some(mine), Some(theirs)) => Some(mine.joined(theirs)),
                (Some(only), None) | (None, Some(only)) => Some(only),
                (None, None) => None,
            };
        }
    }
}

/// The bins of a ride, in order of time. Stretches without a row have no bin.
#[derive(Debug)]
pub(super) struct Bins {
    start_s: Option<f64>,
    newest_s: f64,
    width_s: f64,
    bins: Vec<Bin>,
}

impl Bins {
    pub(super) fn new() -> Self {
        Self { start_s: None, newest_s: 0.0, width_s: FIRST_WIDTH_S, bins: Vec::new() }
    }

    /// Takes a row of `time_s`, with its `values` in the order of [`Series::place`].
    pub(super) fn push(&mut self, time_s: f64, values: &[Option<f64>; COUNT], lost: bool) {
        let Some(time_s) = drawable(time_s) else {
            return;
        };
        let start_s = *self.start_s.get_or_insert(time_s);
        self.newest_s = self.newest_s.max(time_s - start_s);
        let time_s = self.newest_s;
        while time_s / self.width_s >= MOST_BINS as f64 {
            self.widen();
        }
        let row = Bin {
            slot: whole(time_s / self.width_s),
            rows: 1.0,
            rows_lost: f64::from(u8::from(lost)),
            first_s: time_s,
            last_s: time_s,
            extents: values.map(|value| value.map(|value| Extent::of(Point { time_s, value }))),
        };
        match self.bins.last_mut() {
            Some(last) if last.slot == row.slot => last.absorb(&row),
            Some(_) | None => self.bins.push(row),
        }
    }

    fn widen(&mut self) {
        self.width_s *= 2.0;
        for bin in &mut self.bins {
            bin.slot /= 2;
        }
        self.bins.dedup_by(|later, earlier| {
            let same = later.slot == earlier.slot;
            if same {
                earlier.absorb(later);
            }
            same
        });
    }

    /// The bins, in order of time.
    pub(super) fn iter(&self) -> impl Iterator<Item = &Bin> {
        self.bins.iter()
    }

    /// How long the ride is.
    pub(super) fn span_s(&self) -> f64 {
        self.newest_s
    }

    /// The lowest and the highest value of `series`, or nothing if it never had one.
    pub(super) fn reach(&self, series: Series) -> Option<(f64, f64)> {
        self.iter()
            .filter_map(|bin| bin.extent(series))
            .map(|extent| (extent.lowest.value, extent.highest.value))
            .reduce(|(low, high), (lower, higher)| (low.min(lower), high.max(higher)))
    }
}

#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "times run from zero, and the caller keeps the quotient below the number of bins"
)]
fn whole(quotient: f64) -> usize {
    quotient as usize
}

#[cfg(test)]
#[path = "thinning/tests.rs"]
mod tests;
