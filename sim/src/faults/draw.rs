//! Faults as a campaign draws them: a few on each ride, of every kind, at any time.
//!
//! How often things break is an assumption, and far more than they do on a board: a campaign is to
//! meet all of them.

use rand::Rng as _;
use rand_chacha::ChaCha8Rng;

use super::script::{Fault, Kind, Script};
use crate::random::{Purpose, stream, uniform};

/// Faults are drawn over the first so many seconds.
const WITHIN_S: f64 = 1500.0;

/// One to so many on each ride.
const MOST: u32 = 4;

/// What breaks on the ride of this seed.
#[must_use]
pub fn draw(seed: u64) -> Script {
    let mut numbers = stream(seed, Purpose::DrawnFaults);
    let count = 1 + numbers.next_u32() % MOST;
    let faults = (0..count).map(|_| one(&mut numbers)).collect();
    Script { faults }
}

fn one(numbers: &mut ChaCha8Rng) -> Fault {
    let from_s = 5.0 + uniform(numbers) * WITHIN_S;
    let between =
        |numbers: &mut ChaCha8Rng, low: f64, high: f64| low + uniform(numbers) * (high - low);
    let short = between(numbers, 0.04, 3.0);
    let (kind, for_s) = match numbers.next_u32() % 23 {
        0 => (Kind::ThumbWireOpen {}, short),
        1 => (Kind::ThumbWireShorted {}, short),
        2 => (Kind::ThumbStuck {}, between(numbers, 1.0, 20.0)),
        3 => (Kind::ThumbNoise { counts: between(numbers, 5.0, 60.0) }, 30.0),
        4 => (Kind::TelemetryImpossible {}, between(numbers, 0.2, 20.0)),
        5 => (Kind::TelemetrySilent {}, between(numbers, 0.5, 15.0)),
        6 | 7 => (Kind::RadioSilent {}, short),
        8 => (Kind::RadioLoss { share: between(numbers, 0.05, 0.7) }, 60.0),
        9 => (Kind::SecondHand { share: between(numbers, -1.0, 1.0) }, between(numbers, 1.0, 20.0)),
        10 => (Kind::HandClockJumps { by_s: between(numbers, -4.0, 4.0) }, 1.0),
        11 => (Kind::HandRestarts {}, short),
        12 => (Kind::HandHangs {}, short),
        13 => (Kind::BoardRestarts {}, short),
        14 => (Kind::BoardHangs {}, between(numbers, 0.05, 0.5)),
        15 => (Kind::RadioDamages { share: between(numbers, 0.05, 0.7) }, 60.0),
        16 => (Kind::RadioRepeats { share: between(numbers, 0.05, 1.0) }, 60.0),
        17 => (Kind::RadioReorders { share: between(numbers, 0.05, 1.0) }, 60.0),
        18 => {
            let (on_s, off_s) = (between(numbers, 0.02, 2.0), between(numbers, 0.02, 2.0));
            (Kind::Jammer { on_s, off_s }, 30.0)
        }
        19 => (Kind::Recorder { rate_Hz: between(numbers, 1.0, 200.0) }, 600.0),
        20 => (Kind::Forger { rate_Hz: between(numbers, 1.0, 200.0) }, 60.0),
        21 => (Kind::ControllerSilent {}, between(numbers, 0.2, 10.0)),
        _ => (Kind::Pace { number: u8::from(numbers.next_u32().is_multiple_of(2)) + 1 }, 40.0),
    };
    Fault { from_s, for_s: Some(for_s), kind }
}
