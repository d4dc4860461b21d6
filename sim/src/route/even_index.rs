//! Finds the interval in which a number lies, in constant time.
//!
//! Used by `prepared` (distance) and `schedule` (time). An even grid over the whole range says for
//! each of its cells where to begin to look; with cells no wider than the narrowest interval, one
//! or two intervals touch a cell.

/// The most cells, beyond which a cell may touch many intervals: 4 MB.
const MOST_CELLS: usize = 1 << 20;

/// Intervals that begin at rising numbers; the last one has no end.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct EvenIndex {
    starts: Vec<f64>,
    begin: f64,
    cells_per_unit: f64,
    /// By cell, the interval in which the cell begins.
    first: Vec<u32>,
}

impl EvenIndex {
    /// `starts` rising, `end` above the last of them.
    #[allow(clippy::cast_precision_loss, reason = "counts of cells lie far below 2^53")]
    pub(super) fn new(starts: Vec<f64>, end: f64) -> Self {
        let begin = starts.first().copied().unwrap_or(0.0);
        let ends = starts.iter().copied().skip(1).chain([end]);
        let narrowest = starts.iter().zip(ends).map(|(a, b)| b - a).fold(f64::INFINITY, f64::min);
        let wanted = ((end - begin) / narrowest).ceil();
        let most = MOST_CELLS as f64;
        let cells = if wanted >= 1.0 { wanted.min(most) } else { 1.0 };
        let cells_per_unit = cells / (end - begin);
        let mut index = Self { starts, begin, cells_per_unit, first: Vec::new() };
        let mut interval = 0_usize;
        let mut cell = 0.0;
        while cell < cells {
            let at = begin + cell / index.cells_per_unit;
            while index.starts.get(interval + 1).is_some_and(|&start| start <= at) {
                interval += 1;
            }
            index.first.push(u32::try_from(interval).unwrap_or(u32::MAX));
            cell += 1.0;
        }
        index
    }

    /// The last interval that begins at or before `x`; the first one for smaller ones.
    #[inline]
    pub(super) fn find(&self, x: f64) -> usize {
        let cell = cell_of((x - self.begin) * self.cells_per_unit);
        let interval = self.interval_of(cell);
        // As a rule a cell touches two intervals at most.
        match self.starts.get(interval..) {
            Some(&[here, next, ..]) if here <= x && x < next => interval,
            Some(&[_, next, after, ..]) if next <= x && x < after => interval + 1,
            Some(&[here]) if here <= x => interval,
            Some(&[_, next]) if next <= x => interval + 1,
            _ => self.search(cell, x),
        }
    }

    /// By bisection of the intervals that a cell and its neighbours touch, since a number whose
    /// place was rounded may lie a hair outside its cell.
    #[cold]
    fn search(&self, cell: usize, x: f64) -> usize {
        let low = self.interval_of(cell.saturating_sub(1));
        let high = self.interval_of(cell.saturating_add(1)).saturating_add(2);
        let among = self.starts.get(low..high.min(self.starts.len())).unwrap_or_default();
        low + among.partition_point(|&start| start <= x).saturating_sub(1)
    }

    /// The interval in which a cell begins; beyond the end, the last one.
    #[inline]
    fn interval_of(&self, cell: usize) -> usize {
        let last = self.starts.len().saturating_sub(1);
        self.first.get(cell).map_or(last, |&interval| interval as usize)
    }

    /// Where an interval begins.
    #[inline]
    pub(super) fn start(&self, interval: usize) -> f64 {
        self.starts.get(interval).copied().unwrap_or(0.0)
    }
}

/// The whole part of a number; 0 below 0 and for no number.
#[inline]
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the whole part is wanted, and the cast saturates"
)]
pub(super) fn cell_of(position: f64) -> usize {
    position as usize
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn law_the_index_finds_what_a_search_finds(
            widths in prop::collection::vec(0.01_f64..50.0, 1..200),
            begin in -10.0_f64..10.0,
            at in 0.0_f64..1.1,
        ) {
            let mut starts = Vec::new();
            let mut next = begin;
            for width in widths {
                starts.push(next);
                next += width;
            }
            let index = EvenIndex::new(starts.clone(), next);
            let x = begin + at * (next - begin);
            for x in starts.iter().copied().chain([x, begin - 1.0, next, next + 5.0]) {
                let searched = starts.partition_point(|&start| start <= x).saturating_sub(1);
                prop_assert_eq!(index.find(x), searched, "{}", x);
            }
        }
    }

    #[test]
    fn no_number_and_no_end_find_an_interval_that_exists() {
        let index = EvenIndex::new(vec![0.0, 1.0, 5.0], 6.0);
        for x in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, f64::MAX, f64::MIN] {
            assert!(index.find(x) < 3, "{x}");
        }
    }

    #[test]
    fn many_intervals_in_one_cell_are_told_apart() {
        let mut starts: Vec<f64> = (0..1000).map(|n| f64::from(n) * 1e-7).collect();
        starts.push(1000.0);
        let index = EvenIndex::new(starts.clone(), 2000.0);
        for (n, &start) in starts.iter().enumerate() {
            assert_eq!(index.find(start), n);
        }
    }
}
