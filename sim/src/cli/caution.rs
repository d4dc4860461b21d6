//! What a builder has to know before relying on a board.

use crate::board_file::BoardFile;

/// Says it on standard error, where the board calls for it.
pub(super) fn warn(board: &BoardFile) {
    let pack = board.board.pack();
    if !pack.discharge_through_protection {
        eprintln!(
            "caution: the discharge of `{}` goes round its protection board: only stop_below_V ({:.1} V) \
             and the motor controller's own cutoff keep its cells from being over-discharged",
            board.name,
            pack.stop_below.to_f64()
        );
    }
}

/// What is said of a memory that is not used.
pub(super) const ANOTHER_PACK: &str =
    "the memory was learned on a pack described otherwise; it begins anew";
