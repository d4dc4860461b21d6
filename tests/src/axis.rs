//! A rising axis of a table, and where a value stands on it.
//!
//! Used by `resting` and `resistance`. Beyond its ends a table holds its last value.
//! Source: textbook interpolation, no source.

/// Numbers that rise; at least one.
#[derive(Clone, Debug, PartialEq)]
pub struct Axis(Vec<f64>);

/// Between two neighbours: the lower one's index, and how far towards the upper one, 0 to 1.
///
/// Of an axis with one point the upper index is the lower one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Position {
    /// Index of the lower neighbour.
    pub lower: usize,
    /// Index of the upper neighbour.
    pub upper: usize,
    /// 0 at the lower one, 1 at the upper one.
    pub part: f64,
}

impl Position {
    /// The value between those of the two neighbours, as read by `value`.
    pub fn between(self, value: impl Fn(usize) -> f64) -> f64 {
        let lower = value(self.lower);
        lower + self.part * (value(self.upper) - lower)
    }
}

impl Axis {
    /// The axis of these `points`; `None` if there are none or they don't rise.
    #[must_use]
    pub fn new(points: Vec<f64>) -> Option<Self> {
        let rising = points.windows(2).all(|pair| pair[0] < pair[1]);
        (rising && !points.is_empty() && points.iter().all(|point| point.is_finite()))
            .then_some(Self(points))
    }

    /// The points.
    #[must_use]
    pub fn points(&self) -> &[f64] {
        &self.0
    }

    /// Where `value` stands; at the nearer end if it is beyond the axis.
    #[must_use]
    pub fn place(&self, value: f64) -> Position {
        let last = self.0.len() - 1;
        let above = self.0.partition_point(|&point| point <= value);
        if above == 0 || last == 0 {
            return Position { lower: 0, upper: 0, part: 0.0 };
        }
        let lower = (above - 1).min(last - 1);
        let (from, to) = (self.0[lower], self.0[lower + 1]);
        Position { lower, upper: lower + 1, part: ((value - from) / (to - from)).clamp(0.0, 1.0) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(value: f64) -> f64 {
        let axis = Axis::new(vec![0.0, 10.0, 30.0]).unwrap();
        axis.place(value).between(|index| [1.0, 2.0, 4.0].get(index).copied().unwrap())
    }

    #[test]
    fn between_points_values_lie_on_the_line_and_beyond_the_ends_they_hold() {
        for (value, expected) in [
            (-5.0, 1.0),
            (0.0, 1.0),
            (5.0, 1.5),
            (10.0, 2.0),
            (20.0, 3.0),
            (30.0, 4.0),
            (99.0, 4.0),
        ] {
            assert!((read(value) - expected).abs() < 1e-12, "{value}");
        }
    }

    #[test]
    fn an_axis_of_one_point_is_everywhere_the_same() {
        let axis = Axis::new(vec![25.0]).unwrap();
        for value in [-10.0, 25.0, 40.0] {
            assert!((axis.place(value).between(|_| 7.0) - 7.0).abs() < 1e-12);
        }
    }

    #[test]
    fn points_that_do_not_rise_make_no_axis() {
        for points in [vec![], vec![1.0, 1.0], vec![2.0, 1.0], vec![f64::NAN]] {
            assert_eq!(Axis::new(points), None);
        }
    }
}
