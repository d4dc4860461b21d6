//! Whether two machines lived the same ride, and where they part.

use std::path::Path;

use anyhow::{Context as _, bail};
use homestretch_flashed::digest::Stage;

use super::machine::{Core, run};
use super::told::{Told, Values};

/// A firmware says its digests after so many ticks.
pub const SAID_EVERY: u32 = 100;

/// Where two machines part.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Parting {
    /// Within the ticks after `after` up to `until`, in these stages.
    Within {
        /// The last tick at which both were known to be alike.
        after: u32,
        /// The first at which they were seen to differ.
        until: u32,
        /// The stages that differ, in the order in which data passes them.
        stages: Vec<Stage>,
    },
    /// In something that does not tick: a board, its settings, the memory at the end.
    In {
        /// What it is.
        word: String,
    },
    /// One of them ticked longer.
    Length,
}

/// Where two machines part; nothing where all they say is the same.
#[must_use]
pub fn parting(one: &Told, other: &Told) -> Option<Parting> {
    for word in ["board", "settings"] {
        if one.words.get(word) != other.words.get(word) {
            return Some(Parting::In { word: String::from(word) });
        }
    }
    let mut alike_until = 0;
    for (&tick, values) in &one.ticks {
        let Some(others) = other.ticks.get(&tick) else { return Some(Parting::Length) };
        let stages = differing(values, others);
        if !stages.is_empty() {
            return Some(Parting::Within { after: alike_until, until: tick, stages });
        }
        alike_until = tick;
    }
    if one.ticks.len() != other.ticks.len() {
        return Some(Parting::Length);
    }
    if one.end.map(|(tick, _)| tick) != other.end.map(|(tick, _)| tick) {
        return Some(Parting::Length);
    }
    if let (Some((tick, values)), Some((_, others))) = (&one.end, &other.end) {
        let stages = differing(values, others);
        if !stages.is_empty() {
            return Some(Parting::Within { after: alike_until, until: *tick, stages });
        }
    }
    let words = one.words.keys().chain(other.words.keys());
    let mut words = words.filter(|word| one.words.get(*word) != other.words.get(*word));
    words.next().map(|word| Parting::In { word: word.clone() })
}

fn differing(one: &Values, other: &Values) -> Vec<Stage> {
    let pairs = one.iter().zip(other).zip(Stage::ALL);
    pairs.filter(|((one, other), _)| one != other).map(|(_, stage)| stage).collect()
}

/// Lives the ride in the file on `core` and here, and compares. Gives how many ticks it had.
///
/// # Errors
/// Where they part: the first tick that differs, and its stages.
pub fn same(core: Core, images: &Path, ride: &Path) -> anyhow::Result<u32> {
    let image = core.image(images, "ride")?;
    let bytes = std::fs::read(ride).with_context(|| format!("cannot read {}", ride.display()))?;
    let here = Told::here(&bytes, |tick| tick % SAID_EVERY == 0)?;
    let there = Told::read(&run(core, &image, ride, &[], None)?)?;
    let told = |stages: &[Stage]| stages.iter().map(|stage| stage.name()).collect::<Vec<_>>();
    match parting(&here, &there) {
        None => Ok(here.end.map_or(0, |(tick, _)| tick)),
        Some(Parting::Length) => bail!("one ticked longer than the other"),
        Some(Parting::In { word }) => bail!("the {word} differs"),
        Some(Parting::Within { after, until, .. }) => {
            let (from, to) = ((after + 1).to_string(), until.to_string());
            let here = Told::here(&bytes, |tick| tick > after && tick <= until)?;
            let said = run(core, &image, ride, &["closely", &from, &to], None)?;
            match parting(&here, &Told::read(&said)?) {
                Some(Parting::Within { until, stages, .. }) => bail!(
                    "tick {until} is the first that differs, in: {}",
                    told(&stages).join(", ")
                ),
                other => {
                    bail!("they part within ticks {from} to {to}, but a closer look says {other:?}")
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::on_target::rides::InFlash;
    use homestretch::units::Amperes;
    use homestretch_flashed::ride;

    fn examples() -> std::path::PathBuf {
        Path::new(env!("CARGO_MANIFEST_DIR")).join("../examples")
    }

    fn closely(steps: &[ride::Step]) -> Told {
        let bytes = ride::write(InFlash::Town.board(), steps.iter().copied(), 1 << 20).unwrap();
        Told::here(&bytes, |_| true).unwrap()
    }

    #[test]
    fn the_last_bit_of_one_current_is_found_by_tick_and_stage() {
        let steps = InFlash::Town.steps(&examples()).unwrap();
        let (whole, mut spoiled) = (steps[..600].to_vec(), steps[..600].to_vec());
        let with_frame = |step: &ride::Step| step.telemetry.is_some();
        let at = 400 + spoiled[400..].iter().position(with_frame).unwrap();
        let frame = spoiled[at].telemetry.as_mut().unwrap();
        frame.pack_current = Amperes::from_bits(frame.pack_current.to_bits() ^ 1);
        let first = 1 + spoiled[at].at.to_micros() / 20_000;
        let Some(Parting::Within { until, stages, .. }) =
            parting(&closely(&whole), &closely(&spoiled))
        else {
            panic!("nothing was found");
        };
        assert_eq!(u64::from(until), first);
        assert_eq!(stages.first(), Some(&Stage::Charge));
    }

    #[test]
    fn the_same_ride_twice_does_not_part() {
        let steps = InFlash::Faults.steps(&examples()).unwrap();
        let steps = &steps[..3000];
        assert_eq!(parting(&closely(steps), &closely(steps)), None);
    }

    #[test]
    fn a_shorter_ride_and_another_board_are_told() {
        let steps = InFlash::Town.steps(&examples()).unwrap();
        let (long, short) = (closely(&steps[..500]), closely(&steps[..400]));
        assert_eq!(parting(&long, &short), Some(Parting::Length));
        let mut other = long.clone();
        other.words.insert(String::from("board"), 1);
        assert_eq!(parting(&long, &other), Some(Parting::In { word: String::from("board") }));
        let mut other = long.clone();
        other.words.insert(String::from("conversions"), 1);
        assert_eq!(parting(&long, &other), Some(Parting::In { word: String::from("conversions") }));
    }
}
