//! The rides that the microcontroller lives: one recorded, one synthetic, one with faults.
//!
//! Made of bundled files each time, so that nothing has to be kept in step; written in the bytes of
//! `homestretch_flashed::ride`.

use std::path::Path;
use std::sync::Arc;

use anyhow::{Context as _, ensure};
use homestretch::telemetry::Telemetry;
use homestretch::throttle::Settings;
use homestretch::time::Instant;
use homestretch::units::{Celsius, Coulombs, Ratio, Volts};
use homestretch_flashed::board::Bundled;
use homestretch_flashed::ride::{self, Step};
use homestretch_sim::board_file::BoardFile;
use homestretch_sim::campaign::town;
use homestretch_sim::replay::{micros, telemetry};
use homestretch_sim::ride::{Measured, RideReader};
use homestretch_sim::scenario::Scenario;
use homestretch_sim::world::{Pattern, World};

/// What the smallest machine's flash leaves to a ride.
pub const ROOM_BYTES: usize = 0x2_6000;

/// A ride that is put in flash.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum InFlash {
    /// The recorded demonstration ride, nickel-rich cells; its sensors' errors and its radio's
    /// losses are in it.
    Town,
    /// A synthetic ride on iron phosphate.
    Gravel,
    /// The recorded ride, with everything that a handheld may meet thrown in.
    Faults,
}

impl InFlash {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Town, Self::Gravel, Self::Faults];

    /// Its name, that of its file.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Town => "town",
            Self::Gravel => "gravel",
            Self::Faults => "faults",
        }
    }

    /// The board that it is ridden on.
    #[must_use]
    pub const fn board(self) -> Bundled {
        match self {
            Self::Town | Self::Faults => Bundled::Lantern,
            Self::Gravel => Bundled::Heron,
        }
    }

    /// Its steps, from the files under `examples`.
    ///
    /// # Errors
    /// Files that cannot be read.
    pub fn steps(self, examples: &Path) -> anyhow::Result<Vec<Step>> {
        let board = board_file(self.board(), examples)?;
        match self {
            Self::Town => recorded(examples, &board),
            Self::Gravel => synthetic(&board),
            Self::Faults => Ok(with_faults(recorded(examples, &board)?)),
        }
    }

    /// Its bytes, cut where the flash is full.
    ///
    /// # Errors
    /// As [`Self::steps`].
    pub fn bytes(self, examples: &Path) -> anyhow::Result<Vec<u8>> {
        let steps = self.steps(examples)?;
        ride::write(self.board(), steps, ROOM_BYTES).context("a reading without a place")
    }
}

/// The bundled board's file.
///
/// # Errors
/// Where it cannot be read.
pub fn board_file(board: Bundled, examples: &Path) -> anyhow::Result<BoardFile> {
    let path = examples.join("boards").join(board.name()).with_extension("toml");
    Ok(BoardFile::open(path)?)
}

fn recorded(examples: &Path, board: &BoardFile) -> anyhow::Result<Vec<Step>> {
    let rows = RideReader::open(examples.join("rides/town-crossings.csv"))?;
    let rows: Vec<_> = rows.map(|row| Ok(row?.measured)).collect::<anyhow::Result<_>>()?;
    Ok(steps_of(&rows, &board.throttle))
}

/// Two laps of a drawn town, on a mild day; the library rides along.
fn synthetic(board: &BoardFile) -> anyhow::Result<Vec<Step>> {
    const SEED: u64 = 5;
    let top_m_s = board.throttle.parts().limits.top_speed.end.to_f64();
    let pattern = Pattern::Route(Arc::new(town(SEED, top_m_s)?));
    let setup = Scenario::default().setup(board, pattern, 2)?;
    let mut world = World::new(board, &setup, None, SEED)?;
    let mut rows = Vec::new();
    while world.ending().is_none() && world.now_s() < 7200.0 {
        rows.extend(world.tick().row.map(|row| row.measured));
    }
    ensure!(rows.len() > 1000, "the synthetic ride ended after {} rows", rows.len());
    Ok(steps_of(&rows, &board.throttle))
}

/// Rows as steps, by the rules of a replay.
fn steps_of(rows: &[Measured], throttle: &Settings) -> Vec<Step> {
    let start_s = rows.first().map_or(0.0, |row| row.time_s);
    let step = |row: &Measured| {
        let thumb = Ratio::from_f64(row.thumb.unwrap_or(0.0)).unwrap_or(Ratio::ZERO);
        Step {
            at: Instant::from_micros(micros(row.time_s - start_s)),
            thumb: throttle.parts().calibration.count_for(thumb),
            telemetry: telemetry(row),
        }
    };
    rows.iter().map(step).collect()
}

/// Of every so many steps, one of each fault: numbers without a common factor, so that they meet.
mod every {
    pub(super) const IMPLAUSIBLE_STEPS: usize = 701;
    pub(super) const SURGE_STEPS: usize = 1103;
    pub(super) const BROKEN_THUMB_STEPS: usize = 907;
    pub(super) const BURST_STEPS: usize = 1511;
    pub(super) const HANG_STEPS: usize = 1999;
    pub(super) const CLOCK_STEPS: usize = 2503;
    pub(super) const COUNTER_STEPS: usize = 811;
    pub(super) const FROST_STEPS: usize = 4001;
}

/// Invented faults: frames that cannot be true, a thumb wire that breaks, a radio that is gone for
/// half a minute, a hand that hangs for five seconds, a clock that steps back or stands still, a
/// charge counter that restarts, temperatures that come and go or freeze.
fn with_faults(steps: Vec<Step>) -> Vec<Step> {
    let (mut made, mut hung_us, mut drawn_mAs) = (Vec::new(), 0_u64, 0_i64);
    let of = |number: usize, every: usize, long: usize| number > every && number % every < long;
    for (number, mut step) in steps.into_iter().enumerate() {
        if of(number, every::HANG_STEPS, 1) {
            hung_us += 5_000_000;
        }
        step.at = Instant::from_micros(step.at.to_micros() + hung_us);
        if of(number, every::CLOCK_STEPS, 1) {
            let back_us = if number.is_multiple_of(2) { 3_000_000 } else { 190_000 };
            step.at = Instant::from_micros(step.at.to_micros().saturating_sub(back_us));
        }
        if of(number, every::BROKEN_THUMB_STEPS, 3) {
            step.thumb = if number.is_multiple_of(2) { 0 } else { 4095 };
        }
        if of(number, every::BURST_STEPS, 150) {
            step.telemetry = None;
        }
        if let Some(frame) = &mut step.telemetry {
            drawn_mAs += i64::from(frame.pack_current.to_milli()) / 5;
            if of(number, every::COUNTER_STEPS, 1) {
                drawn_mAs = 0;
            }
            spoil(frame, number, drawn_mAs, of);
        }
        made.push(step);
    }
    made
}

fn spoil(
    frame: &mut Telemetry,
    number: usize,
    drawn_mAs: i64,
    of: impl Fn(usize, usize, usize) -> bool,
) {
    // The counter and the lowest cell are there for part of the ride only.
    if (number / 3000).is_multiple_of(2) {
        frame.charge_drawn = Some(Coulombs::from_bits(drawn_mAs * ((1_i64 << 32) / 1000)));
    }
    if (number / 2000) % 3 == 1 {
        let below = Volts::from_milli(i32::try_from(number % 40).unwrap_or(0));
        frame.cell_voltage_min =
            Some(frame.pack_voltage.scaled(Ratio::from_fraction(1, 11)) - below);
    }
    if of(number, every::IMPLAUSIBLE_STEPS, 2) {
        frame.pack_voltage = Volts::from_milli(700);
    }
    if of(number, every::SURGE_STEPS, 4) {
        frame.pack_voltage = Volts::from_milli(48_900);
    }
    if of(number, every::FROST_STEPS, 900) {
        frame.cell_temperature =
            if number.is_multiple_of(2) { Some(Celsius::from_whole(-12)) } else { None };
    }
}
