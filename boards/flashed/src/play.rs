//! A handheld lives a ride: fifty ticks a second, and one for each step.
//!
//! The same rhythm as that of a replayed log, so that both can be compared.

use homestretch::handheld::{Handheld, Output};
use homestretch::time::{Duration, Instant};

use crate::ride::Ride;

/// The hand ticks this often between two steps, the thumb being where it was.
const TICK: Duration = Duration::from_millis(20);

/// For so long after a step; a longer pause leaves the hand without a tick, as if it hung.
const TICKS_FOR: Duration = Duration::from_millis(2000);

/// Ticks through the whole ride. `seen` is told the number of each tick, from 1, and its time, the
/// handheld after it and what came of it.
pub fn play(
    ride: &Ride<'_>,
    handheld: &mut Handheld<'_>,
    mut seen: impl FnMut((u32, Instant), &Handheld<'_>, &Output),
) {
    let mut number = 0_u32;
    let mut tick = |handheld: &mut Handheld<'_>, now, thumb, telemetry: Option<&_>| {
        let output = handheld.tick(now, thumb, telemetry);
        number = number.wrapping_add(1);
        seen((number, now), handheld, &output);
    };
    let mut before: Option<(Instant, u16)> = None;
    for step in ride.steps() {
        if let Some((since, thumb)) = before {
            let mut between = since + TICK;
            while between < step.at && between.since(since).is_some_and(|time| time <= TICKS_FOR) {
                tick(handheld, between, thumb, None);
                between = between + TICK;
            }
        }
        tick(handheld, step.at, step.thumb, step.telemetry.as_ref());
        before = Some((step.at, step.thumb));
    }
}
