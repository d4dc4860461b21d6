//! The library among the estimators: it lives the ride as a handheld would.
//!
//! Fed through `Replay`, from the board file that a builder would have written. Driven by
//! `accuracy`.

use homestretch_sim::board_file::BoardFile;
use homestretch_sim::replay::Replay;
use homestretch_sim::ride::Measured;

use crate::estimator::{Estimate, Estimator};

/// The library, on one ride.
#[derive(Debug)]
pub struct Library<'b> {
    replay: Replay<'b>,
}

impl<'b> Library<'b> {
    /// A handheld just switched on, without memory.
    #[must_use]
    pub fn new(board: &'b BoardFile) -> Self {
        Self { replay: Replay::new(&board.board, &board.throttle, None) }
    }
}

impl Estimator for Library<'_> {
    fn step(&mut self, measured: &Measured) -> Estimate {
        let output = self.replay.live(measured);
        let row = self.replay.estimate(measured, &output);
        Estimate::within(row.soc_low, row.soc, row.soc_high)
    }
}
