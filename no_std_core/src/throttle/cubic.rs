//! A cubic through given points that never turns back between them.
//!
//! Used by `curve` when settings are built; no part of a tick.
//! Source: F. N. Fritsch and R. E. Carlson, "Monotone piecewise cubic interpolation", SIAM Journal
//! on Numerical Analysis 17 (1980) 238-246 (from memory).

use super::curve::MOST_HANDLES;
use crate::math::root;
use heapless::Vec;

/// A handle in wide integers: thumb in `2^-24`, acceleration in `2^-16` m/s².
#[derive(Clone, Copy)]
pub(super) struct Point {
    pub(super) thumb: i64,
    pub(super) value: i64,
}

/// The curve's slope at each point, in `2^-16` m/s² per whole way of the thumb.
pub(super) fn tangents(points: &[Point]) -> Vec<i64, { MOST_HANDLES + 1 }> {
    let chord = |pair: &[Point]| match pair {
        [from, to] => {
            let rise = to.value.saturating_sub(from.value) << 24;
            rise.checked_div(to.thumb.saturating_sub(from.thumb)).unwrap_or(0)
        }
        _ => 0,
    };
    let chords: Vec<i64, MOST_HANDLES> = points.windows(2).map(chord).collect();
    let inner = chords.windows(2).map(|pair| match pair {
        [before, after] if *before > 0 && *after > 0 => before.saturating_add(*after) >> 1,
        _ => 0,
    });
    let last = chords.last().copied().unwrap_or(0);
    let ends = inner.chain(core::iter::once(last));
    let mut tangents = Vec::new();
    let mut start = chords.first().copied().unwrap_or(0);
    for (chord, end) in chords.iter().zip(ends) {
        let (held, next) = held_monotone(start, end, *chord);
        // There is room: one tangent per chord and one more.
        let _ = tangents.push(held);
        start = next;
    }
    let _ = tangents.push(start);
    tangents
}

/// Both tangents of a segment, shortened to the circle of radius three chords.
fn held_monotone(start: i64, end: i64, chord: i64) -> (i64, i64) {
    let length = start.saturating_mul(start).saturating_add(end.saturating_mul(end));
    let radius = chord.saturating_mul(3);
    if length <= radius.saturating_mul(radius) {
        return (start, end);
    }
    // A root of sixteen bits may be that much below the exact one.
    let length = i64::from(root(length));
    let length = length.saturating_add(length >> 15).saturating_add(1);
    let shortened = |slope: i64| slope.saturating_mul(radius).checked_div(length).unwrap_or(0);
    (shortened(start), shortened(end))
}

/// The cubic through the segment in which `thumb` lies.
pub(super) fn value_at<'a>(
    mut segments: impl Iterator<Item = (&'a [Point], &'a [i64])>,
    thumb: i64,
) -> i64 {
    segments
        .find_map(|segment| match segment {
            ([from, to], [start, end]) if thumb <= to.thumb => {
                let width = to.thumb.saturating_sub(from.thumb);
                let along = thumb.saturating_sub(from.thumb) << 24;
                let part = along.checked_div(width).unwrap_or(0);
                let times = |a: i64, b: i64| a.saturating_mul(b) >> 24;
                let square = times(part, part);
                let cube = times(square, part);
                let blend = square.saturating_mul(3).saturating_sub(cube.saturating_mul(2));
                let leaving = part.saturating_sub(square.saturating_mul(2)).saturating_add(cube);
                let arriving = cube.saturating_sub(square);
                let rise = times(to.value.saturating_sub(from.value), blend);
                let bend = times(*start, leaving).saturating_add(times(*end, arriving));
                let value = from.value.saturating_add(rise).saturating_add(times(bend, width));
                Some(value.min(to.value).max(from.value))
            }
            _ => None,
        })
        .unwrap_or(i64::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn law_held_tangents_lie_within_three_chords(
            start in 0_i64..1 << 28, end in 0_i64..1 << 28, chord in 0_i64..1 << 28,
        ) {
            let (a, b) = held_monotone(start, end, chord);
            prop_assert!(a >= 0 && a <= start && b >= 0 && b <= end);
            let (a, b, chord) = (i128::from(a), i128::from(b), i128::from(chord));
            prop_assert!(a * a + b * b <= 9 * chord * chord);
        }
    }

    #[test]
    fn tangents_on_a_line_are_its_slope() {
        let point = |step: i64| Point { thumb: step << 20, value: step << 12 };
        let slopes = tangents(&[point(0), point(3), point(8), point(16)]);
        // One whole way is 16 steps, or 2^16.
        assert_eq!(slopes.as_slice(), [1 << 16; 4]);
    }
}
