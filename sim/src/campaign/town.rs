//! A way through an invented town, by seed: streets, crossings, a hill or two.
//!
//! Used by `campaign` and by `cli` where no route is given. Invented: no town is meant. Lengths,
//! waits and grades are common practice, no source.

use rand::RngExt as _;
use rand_chacha::ChaCha8Rng;

use crate::random::{Purpose, stream};
use crate::route::{Outline, Route, RouteErrors, Segment, Slope, Stop, Surface, Way, Wind};

/// The hill draws the road back to the height it came from with this share of a metre per metre.
const VALLEY: f64 = 0.0006;

/// A town's steepest street.
const STEEPEST: f64 = 0.07;

/// A way of a seed for a board that does `top_speed_m_s`, 4 to 12 km long.
///
/// # Errors
/// Those of [`Route::new`].
pub fn town(seed: u64, top_speed_m_s: f64) -> Result<Route, RouteErrors> {
    through(seed, top_speed_m_s, Way::ThereAndBack)
}

/// The same streets, leading ever further away: for a rider who turns when told to.
///
/// # Errors
/// Those of [`Route::new`].
pub fn town_away(seed: u64, top_speed_m_s: f64) -> Result<Route, RouteErrors> {
    through(seed, top_speed_m_s, Way::Again)
}

fn through(seed: u64, top_speed_m_s: f64, way: Way) -> Result<Route, RouteErrors> {
    let mut numbers = stream(seed, Purpose::Route);
    let length_m = span(&mut numbers, 4000.0, 12_000.0);
    let hilly = span(&mut numbers, 0.2, 1.0);
    let (mut at_m, mut elevation_m, mut heading_deg) = (0.0, 0.0, span(&mut numbers, 0.0, 360.0));
    let (mut segments, mut stops) = (Vec::new(), Vec::new());
    while at_m < length_m {
        let street_m = span(&mut numbers, 80.0, 600.0).min((length_m - at_m).max(20.0));
        let leaning = span(&mut numbers, -0.04, 0.04) * hilly - elevation_m * VALLEY;
        let grade = leaning.clamp(-STEEPEST, STEEPEST);
        let hurry = span(&mut numbers, 0.5, 0.95);
        segments.push(Segment {
            length_m: street_m,
            slope: Slope::GradePercent(grade * 100.0),
            surface: surface(&mut numbers),
            speed_wish_m_s: top_speed_m_s * hurry,
            wind: Wind::Headwind(0.0),
            heading_deg: Some(heading_deg),
        });
        at_m += street_m;
        elevation_m += grade * street_m;
        // Left, right or straight on.
        heading_deg = (heading_deg + span(&mut numbers, -100.0, 100.0)).rem_euclid(360.0);
        let waits = span(&mut numbers, 0.0, 1.0) < 0.4;
        if waits && at_m < length_m - 60.0 {
            stops.push(Stop { at_m, wait_s: span(&mut numbers, 5.0, 60.0) });
        }
    }
    Route::new(&Outline {
        name: format!("an invented town, seed {seed}"),
        start_elevation_m: 0.0,
        way,
        segments,
        stops,
    })
}

fn surface(numbers: &mut ChaCha8Rng) -> Surface {
    match span(numbers, 0.0, 1.0) {
        part if part < 0.72 => Surface::Asphalt,
        part if part < 0.82 => Surface::Concrete,
        part if part < 0.90 => Surface::WetAsphalt,
        part if part < 0.98 => Surface::Paving,
        _ => Surface::WetLeaves,
    }
}

/// A number between two ends.
pub(super) fn span(numbers: &mut ChaCha8Rng, lowest: f64, highest: f64) -> f64 {
    let part: f64 = numbers.random();
    lowest + part * (highest - lowest)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_town_is_a_town_for_every_seed_and_the_same_for_the_same() {
        for seed in 0..200 {
            let route = town(seed, 7.0).unwrap();
            assert!((4000.0..12_700.0).contains(&route.length_m()), "{}", route.length_m());
            assert_eq!(route, town(seed, 7.0).unwrap());
            let mut at_m = 0.0;
            while at_m < route.length_m() {
                let here = route.at(at_m);
                assert!(here.grade.abs() <= STEEPEST + 1e-9);
                assert!((3.4..6.7).contains(&here.speed_wish_m_s));
                at_m += 7.0;
            }
        }
    }
}
