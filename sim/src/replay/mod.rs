//! A recorded ride through the library, exactly as a handheld would live it.
//!
//! A tick per row, and the hand's own ticks between them. Takes [`Measured`] rows, which hold no truth, and gives back what the
//! handheld knew and asked for. Used by `cli` and by whoever scores the estimates; `world`
//! closes the loop with the same handheld.

mod estimates;
mod telemetry;

pub use estimates::EstimatesWriter;
pub use telemetry::{measured, telemetry};

use homestretch::board::Board;
use homestretch::charge::Estimate;
use homestretch::handheld::{Handheld, Output};
use homestretch::store::Life;
use homestretch::telemetry::Telemetry;
use homestretch::throttle::{Hand, Settings};
use homestretch::time::Instant;
use homestretch::units::{Metres, Ratio};

use crate::ride::Measured;

/// What the handheld knew after one row.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EstimateRow {
    /// As in the ride.
    pub time_s: f64,
    /// Most likely charge, 0 to 1.
    pub soc: f64,
    /// Lower end of its 90 % interval.
    pub soc_low: f64,
    /// Upper end of it.
    pub soc_high: f64,
    /// Likely distance left.
    pub range_km: f64,
    /// Distance met nine times in ten.
    pub range_low_km: f64,
    /// Capacity of a cell that the estimate goes by.
    pub capacity_Ah: f64,
    /// Resistance over that of the board file, as load has shown it.
    pub resistance_scale: f64,
}

impl EstimateRow {
    /// What a handheld on `board` knew at `time_s`, from the tick's output.
    #[must_use]
    pub fn of(time_s: f64, output: &Output, board: &Board) -> Self {
        let Estimate { soc, low, high } = output.status.charge;
        let km = |way: Metres| way.to_f64() / 1000.0;
        let cell_capacity_Ah = board.cell().capacity.to_f64() / 3600.0;
        Self {
            time_s,
            soc: soc.to_f64(),
            soc_low: low.to_f64(),
            soc_high: high.to_f64(),
            range_km: km(output.status.range.likely),
            range_low_km: km(output.status.range.nine_in_ten),
            capacity_Ah: cell_capacity_Ah * output.status.capacity_share.to_f64(),
            resistance_scale: output.status.resistance_scale.to_f64(),
        }
    }
}

/// A handheld that lives a recorded ride.
#[derive(Debug)]
pub struct Replay<'b> {
    handheld: Handheld<'b>,
    board: &'b Board,
    settings: &'b Settings,
    started_s: Option<f64>,
    /// When the last row was lived, and what the thumb's sensor read in it.
    before: Option<(u64, u16)>,
}

/// The hand ticks this often between rows, as it does on the board, with the thumb where the last
/// row had it: its ramps are made for that. No frame arrives in between, so that what it knows of
/// the pack stays as it is.
const TICK_US: u64 = 20_000;

/// For so long after a row: a log with longer steps leaves the hand without a thumb, as if it hung.
const TICKS_FOR_US: u64 = 2_000_000;

impl<'b> Replay<'b> {
    /// A handheld just switched on, with what its memory holds.
    #[must_use]
    pub fn new(board: &'b Board, settings: &'b Settings, life: Option<&Life>) -> Self {
        Self {
            handheld: Handheld::new(board, settings, life),
            board,
            settings,
            started_s: None,
            before: None,
        }
    }

    /// Lives one row; times have to increase, as a `RideReader` sees to.
    pub fn live(&mut self, row: &Measured) -> Output {
        let start = *self.started_s.get_or_insert(row.time_s);
        let now = micros(row.time_s - start);
        // A ride without a thumb was ridden by somebody; the hand here keeps off.
        let thumb = Ratio::from_f64(row.thumb.unwrap_or(0.0)).unwrap_or(Ratio::ZERO);
        let count = self.settings.parts().calibration.count_for(thumb);
        if let Some((before, thumb)) = self.before {
            let ticks = (1..).map(|tick| before + tick * TICK_US);
            for between in ticks.take_while(|&at| at < now && at <= before + TICKS_FOR_US) {
                self.handheld.tick(Instant::from_micros(between), thumb, None);
            }
        }
        self.before = Some((now, count));
        tick_through(&mut self.handheld, Instant::from_micros(now), count, telemetry(row).as_ref())
    }

    /// What the handheld knew after a row, from the row's output.
    #[must_use]
    pub fn estimate(&self, row: &Measured, output: &Output) -> EstimateRow {
        EstimateRow::of(row.time_s, output, self.board)
    }

    /// What has to outlive the ride.
    #[must_use]
    pub fn life(&self) -> Option<Life> {
        self.handheld.life()
    }
}

/// A tick, and as many more at the same instant as the hand needs to work out what it has heard.
///
/// On a board that takes the next few tenths of a second; a host has the time at once, and its
/// estimates are those of the row that they stand in. Nothing else moves at a repeated instant.
pub fn tick_through(
    handheld: &mut Handheld<'_>,
    now: Instant,
    hand: impl Into<Hand>,
    telemetry: Option<&Telemetry>,
) -> Output {
    let hand = hand.into();
    let mut output = handheld.tick(now, hand, telemetry);
    while handheld.ponders() {
        output = handheld.tick(now, hand, None);
    }
    output
}

/// Seconds since the start as whole microseconds; a ride of 500 years is cut there.
#[must_use]
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "held to 0..2^53 on the line before"
)]
pub fn micros(seconds: f64) -> u64 {
    let micros = (seconds * 1e6).round().clamp(0.0, 9e15);
    micros as u64
}

#[cfg(test)]
mod tests;
