//! Our own library's place among the estimators.
//!
//! Filled in here and nowhere else: the ride goes through `Replay`, as it would on the handheld,
//! from the board file that a builder would have written.

use std::path::Path;

use anyhow::Context as _;
use homestretch_sim::board_file::BoardFile;
use homestretch_sim::replay::Replay;
use homestretch_sim::ride::Measured;

use crate::estimator::{Estimate, Plugged};

/// Makes an estimator from the path of a board file, once for each ride.
pub type Plug = dyn Fn(&Path) -> anyhow::Result<Plugged> + Sync;

/// The library, fed through its ordinary board file.
pub const LIBRARY: Option<&Plug> = Some(&library);

fn library(board: &Path) -> anyhow::Result<Plugged> {
    let file =
        BoardFile::open(board).with_context(|| format!("the board file {}", board.display()))?;
    // A replay borrows its board; here both live as long as the closure. Boards are few and small.
    let file: &'static BoardFile = Box::leak(Box::new(file));
    let mut replay = Replay::new(&file.board, &file.throttle, None);
    Ok(Plugged::new(move |measured: &Measured| {
        let output = replay.live(measured);
        let row = replay.estimate(measured, &output);
        Estimate::within(row.soc_low, row.soc, row.soc_high)
    }))
}
