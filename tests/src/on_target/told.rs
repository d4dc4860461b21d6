//! What a firmware says of a ride: digests, tick after tick; and the same, made on this machine.

use std::collections::BTreeMap;

use anyhow::{Context as _, ensure};
use homestretch::handheld::Handheld;
use homestretch_flashed::board_end::BoardEnd;
use homestretch_flashed::conversions;
use homestretch_flashed::digest::{Digest, Digests, Stage};
use homestretch_flashed::play::play;
use homestretch_flashed::ride::Ride;

/// A digest per stage, over all ticks so far.
pub type Values = [u32; Stage::ALL.len()];

/// What was said.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Told {
    /// The digests after some of the ticks, by the tick's number.
    pub ticks: BTreeMap<u32, Values>,
    /// The number of the last tick, and the digests after it.
    pub end: Option<(u32, Values)>,
    /// Whatever else was said: a word and a number.
    pub words: BTreeMap<String, u32>,
}

impl Told {
    /// What a firmware's output says.
    ///
    /// # Errors
    /// A line that none of them would say.
    pub fn read(output: &str) -> anyhow::Result<Self> {
        let mut told = Self::default();
        for line in output.lines() {
            let mut words = line.split_ascii_whitespace();
            let word = words.next().with_context(|| format!("an empty line in\n{output}"))?;
            let numbers = words.map(|number| u32::from_str_radix(number, 16));
            let numbers: Vec<_> =
                numbers.collect::<Result<_, _>>().with_context(|| format!("it said: {line}"))?;
            match (word, numbers.as_slice()) {
                ("tick", [tick, values @ ..]) => {
                    told.ticks.insert(*tick, values.try_into().context("digests are missing")?);
                }
                ("end", [tick, values @ ..]) => {
                    told.end = Some((*tick, values.try_into().context("digests are missing")?));
                }
                (_, [number]) => {
                    told.words.insert(String::from(word), *number);
                }
                _ => anyhow::bail!("it said: {line}"),
            }
        }
        Ok(told)
    }

    /// What the same ride comes to on this machine, with the digests of the ticks that `says` names.
    ///
    /// # Errors
    /// Bytes that are no ride.
    pub fn here(bytes: &[u8], says: impl Fn(u32) -> bool) -> anyhow::Result<Self> {
        let ride = Ride::read(bytes).map_err(|fault| anyhow::anyhow!("no ride: {fault:?}"))?;
        let board = ride.board().board().map_err(|_| anyhow::anyhow!("no board"))?;
        let settings = ride.board().settings(&board).map_err(|_| anyhow::anyhow!("no settings"))?;
        let mut handheld = Handheld::new(&board, &settings, None);
        let (mut told, mut digests, mut last) = (Self::default(), Digests::default(), 0);
        let mut board_end = BoardEnd::default();
        play(&ride, &mut handheld, |(tick, now), handheld, output| {
            let order = board_end.after((tick, now), output, &settings);
            digests.take(handheld, output, &board_end, &order);
            last = tick;
            if says(tick) {
                told.ticks.insert(tick, digests.values());
            }
        });
        ensure!(last > 0, "the ride has no tick");
        told.end = Some((last, digests.values()));
        for (word, number) in [
            ("board", Digest::of(&board)),
            ("settings", Digest::of(&settings)),
            ("memory", Digest::of(&handheld.life())),
            ("conversions", conversions::digest()),
        ] {
            told.words.insert(String::from(word), number);
        }
        Ok(told)
    }
}
