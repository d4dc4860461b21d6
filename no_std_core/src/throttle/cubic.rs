//! A cubic through given points that never turns back between them.
//!
//! Used by `curve` when settings are built; no part of a tick.
//! Source: F. N. Fritsch and R. E. Carlson, "Monotone piecewise cubic interpolation", SIAM Journal
//! on Numerical Analysis 17 (1980) 238-246, for what makes a cubic monotone: tangents of at most
//! three chords. Of those, the weighted harmonic means of F. N. Fritsch and J. Butland, "A method for
//! constructing local monotone piecewise cubic interpolants", SIAM Journal on Scientific and
//! Statistical Computing 5 (1984) 300-304 (both from memory), as general-purpose numeric libraries
//! have them: what a builder draws elsewhere is what the thumb does here.

use super::curve::MOST_HANDLES;
use heapless::Vec;

/// A handle in wide integers: thumb in `2^-24`, acceleration in `2^-16` m/s².
#[derive(Clone, Copy)]
pub(super) struct Point {
    pub(super) thumb: i64,
    pub(super) value: i64,
}

/// From one point to the next: its width (`2^-24`) and its slope (`2^-16` m/s² per whole way).
#[derive(Clone, Copy)]
struct Chord {
    width: i64,
    slope: i64,
}

/// The curve's slope at each point, in `2^-16` m/s² per whole way of the thumb.
///
/// Law: none is below zero or above three times the flatter of its chords.
pub(super) fn tangents(points: &[Point]) -> Vec<i64, { MOST_HANDLES + 1 }> {
    let chord = |pair: &[Point]| match pair {
        [from, to] => {
            let width = to.thumb.saturating_sub(from.thumb).max(1);
            let rise = to.value.saturating_sub(from.value).max(0) << 24;
            Chord { width, slope: rise.checked_div(width).unwrap_or(0) }
        }
        _ => Chord { width: 1, slope: 0 },
    };
    let chords: Vec<Chord, MOST_HANDLES> = points.windows(2).map(chord).collect();
    let mut tangents = Vec::new();
    // There is room: one tangent per chord and one more.
    let mut push = |tangent| {
        let _ = tangents.push(tangent);
    };
    match chords.as_slice() {
        [] => {}
        [only] => {
            push(only.slope);
            push(only.slope);
        }
        [first, second, ..] => {
            push(at_end(*first, *second));
            for pair in chords.windows(2) {
                if let [before, after] = pair {
                    push(between(*before, *after));
                }
            }
            if let [.., before, last] = chords.as_slice() {
                push(at_end(*last, *before));
            }
        }
    }
    tangents
}

/// The harmonic mean of two chords, the nearer end of the longer one weighing less.
fn between(before: Chord, after: Chord) -> i64 {
    if before.slope == 0 || after.slope == 0 {
        return 0;
    }
    // Weights of 18 bits and slopes of 25: all products below have room for 16 bits more.
    let (near, far) = (before.width >> 8, after.width >> 8);
    let first = far.saturating_mul(2).saturating_add(near);
    let second = near.saturating_mul(2).saturating_add(far);
    let mixed =
        first.saturating_mul(after.slope).saturating_add(second.saturating_mul(before.slope));
    let all = first.saturating_add(second).saturating_mul(after.slope) << 16;
    let share = all.checked_div(mixed).unwrap_or(0);
    before.slope.saturating_mul(share) >> 16
}

/// The slope at the outer end of a chord, by the parabola through it and its neighbour.
fn at_end(chord: Chord, neighbour: Chord) -> i64 {
    let own = chord.width.saturating_mul(2).saturating_add(neighbour.width);
    let rise =
        own.saturating_mul(chord.slope).saturating_sub(chord.width.saturating_mul(neighbour.slope));
    let width = chord.width.saturating_add(neighbour.width);
    rise.checked_div(width).unwrap_or(0).max(0).min(chord.slope.saturating_mul(3))
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
        fn law_tangents_are_at_most_three_times_the_flatter_chord(
            steps in prop::collection::vec((1_i64 << 19..1 << 22, 0_i64..1 << 18), 1..MOST_HANDLES),
        ) {
            let mut at = Point { thumb: 0, value: 0 };
            let mut points = std::vec![at];
            for (width, rise) in steps {
                at = Point { thumb: at.thumb + width, value: at.value + rise };
                points.push(at);
            }
            let slope = |pair: &[Point]| {
                ((pair[1].value - pair[0].value) << 24) / (pair[1].thumb - pair[0].thumb)
            };
            let chords: std::vec::Vec<i64> = points.windows(2).map(slope).collect();
            for (place, tangent) in tangents(&points).into_iter().enumerate() {
                for chord in [place.checked_sub(1), Some(place)].into_iter().flatten() {
                    if let Some(&chord) = chords.get(chord) {
                        prop_assert!((0..=3 * chord).contains(&tangent), "{tangent} of {chord}");
                    }
                }
            }
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
