//! Takes small ups and downs out of a profile, and keeps the great ones whole.
//!
//! Used by `profile` after smoothing. The profile is cut at its great turning points; between two
//! of them it may only rise or only fall, and gets the nearest such line.
//! Source: pool adjacent violators, M. Ayer et al., Annals of Mathematical Statistics 26 (1955)
//! 641; from memory.

/// Replaces a profile by the nearest one without ups and downs smaller than `least`.
pub(super) fn without_ripples(heights: &mut [f64], least: f64) {
    let mut from = 0;
    for (end, rising) in turns(heights, least) {
        // A turning point ends one part and begins the next.
        if let Some(part) = heights.get_mut(from..=end) {
            match rising {
                Some(rising) => monotone(part, rising),
                None => straighten(part),
            }
        }
        from = end;
    }
}

/// The ends of the parts between great turning points, and whether each part rises; that is not
/// known where the whole profile keeps within the least.
fn turns(heights: &[f64], least: f64) -> Vec<(usize, Option<bool>)> {
    let Some(&begin) = heights.first() else { return Vec::new() };
    let (mut low, mut high) = ((0, begin), (0, begin));
    let mut rising = None;
    let mut parts = Vec::new();
    for (at, &height) in heights.iter().enumerate() {
        if rising != Some(true) && height < low.1 {
            low = (at, height);
        }
        if rising != Some(false) && height > high.1 {
            high = (at, height);
        }
        if rising != Some(true) && height - low.1 >= least {
            if rising.is_some() {
                parts.push((low.0, Some(false)));
            }
            (rising, high) = (Some(true), (at, height));
        } else if rising != Some(false) && high.1 - height >= least {
            if rising.is_some() {
                parts.push((high.0, Some(true)));
            }
            (rising, low) = (Some(false), (at, height));
        }
    }
    parts.push((heights.len() - 1, rising));
    parts
}

/// The nearest straight line, in least squares, which does not leave the heights that there were.
fn straighten(part: &mut [f64]) {
    let mut places = Vec::with_capacity(part.len());
    let mut next = 0.0;
    for _ in part.iter() {
        places.push(next);
        next += 1.0;
    }
    let (centre, mean) = ((next - 1.0) / 2.0, part.iter().sum::<f64>() / next);
    let moment: f64 = places.iter().zip(part.iter()).map(|(x, z)| (x - centre) * (z - mean)).sum();
    let spread: f64 = places.iter().map(|x| (x - centre) * (x - centre)).sum();
    let slope = if spread > 0.0 { moment / spread } else { 0.0 };
    let lowest = part.iter().copied().fold(f64::INFINITY, f64::min);
    let highest = part.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    for (height, x) in part.iter_mut().zip(places) {
        // At the ends the line may reach a little further than any height did.
        *height = (mean + slope * (x - centre)).max(lowest).min(highest);
    }
}

/// The nearest profile, in least squares, that only rises or only falls.
fn monotone(part: &mut [f64], rising: bool) {
    let sign = if rising { 1.0 } else { -1.0 };
    // Blocks of one height each: their sum and how many.
    let mut blocks: Vec<(f64, f64)> = Vec::with_capacity(part.len());
    for &height in part.iter() {
        let mut block = (sign * height, 1.0);
        while let Some(&(sum, count)) = blocks.last() {
            if sum * block.1 <= block.0 * count {
                break;
            }
            block = (block.0 + sum, block.1 + count);
            blocks.pop();
        }
        blocks.push(block);
    }
    let mut heights = part.iter_mut();
    for (sum, count) in blocks {
        let mut left = count;
        while left > 0.5 {
            if let Some(height) = heights.next() {
                *height = sign * sum / count;
            }
            left -= 1.0;
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn climb(heights: &[f64]) -> f64 {
        heights.windows(2).map(|pair| (pair[1] - pair[0]).max(0.0)).sum()
    }

    fn ironed(heights: &[f64], least: f64) -> Vec<f64> {
        let mut heights = heights.to_vec();
        without_ripples(&mut heights, least);
        heights
    }

    #[test]
    fn a_hill_with_ripples_keeps_its_top_and_loses_the_ripples() {
        let hill = [0.0, 2.0, 1.5, 5.0, 9.0, 8.5, 10.0, 6.0, 6.5, 2.0, 0.0];
        let line = ironed(&hill, 3.0);
        // The sum of differences is exact but for rounding.
        assert!((climb(&line) - 10.0).abs() < 1e-12, "{line:?}");
        assert!((line[6] - 10.0).abs() < 1e-12);
    }

    #[test]
    fn ripples_alone_leave_the_nearest_straight_line() {
        let line = ironed(&[1.0, 0.0, 1.0, 0.0, 1.0, 0.0], 2.0);
        assert!(climb(&line) < 1e-12, "{line:?}");
        // By hand: mean 0.5, slope -1.5 / 17.5.
        assert!((line[0] - (0.5 + 2.5 * 1.5 / 17.5)).abs() < 1e-12);
    }

    #[test]
    fn two_hills_stay_two() {
        let line = ironed(&[0.0, 5.0, 0.0, 5.0, 0.0], 3.0);
        assert_eq!(line, [0.0, 5.0, 0.0, 5.0, 0.0]);
    }

    proptest! {
        #[test]
        fn law_ironing_never_adds_climb_or_leaves_the_range(
            heights in prop::collection::vec(-20.0_f64..20.0, 1..80),
            least in 0.0_f64..10.0,
        ) {
            let line = ironed(&heights, least);
            // Rounding of sums of 80 numbers below 20.
            prop_assert!(climb(&line) <= climb(&heights) + 1e-9);
            let highest = heights.iter().copied().fold(f64::MIN, f64::max);
            let lowest = heights.iter().copied().fold(f64::MAX, f64::min);
            prop_assert!(line.iter().all(|&z| (lowest - 1e-9..=highest + 1e-9).contains(&z)));
        }

        #[test]
        fn law_no_turn_is_smaller_than_the_least(
            heights in prop::collection::vec(-20.0_f64..20.0, 2..80),
            least in 0.5_f64..10.0,
        ) {
            let line = ironed(&heights, least);
            let mut tops = vec![line[0]];
            for pair in line.windows(2) {
                let turned = tops.len() > 1
                    && (pair[1] - pair[0]) * (tops[tops.len() - 1] - tops[tops.len() - 2]) < 0.0;
                if turned || tops.len() == 1 {
                    tops.push(pair[1]);
                } else {
                    let last = tops.len() - 1;
                    tops[last] = pair[1];
                }
            }
            // The first and the last part may be short: the ends of a track are no turns.
            for pair in tops.windows(2).skip(1).rev().skip(1) {
                prop_assert!((pair[1] - pair[0]).abs() >= least - 1e-9, "{tops:?}");
            }
        }
    }
}
