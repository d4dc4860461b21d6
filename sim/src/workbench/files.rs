//! What goes out as a file and comes in as one, and the checksum that tells settings apart.
//!
//! Asked by `routes` and `wire`. The board file is the draft's own text; record and constant are made by
//! `handover`, which also takes all three back.

use crate::board_file::BoardFile;
use crate::handover;
use crate::tuning::Draft;

/// A file to be taken away.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Export {
    /// Its name.
    pub(super) name: String,
    /// What it is.
    pub(super) kind: &'static str,
    /// All of it.
    pub(super) bytes: Vec<u8>,
}

/// The checksum of a board's settings, as it is shown everywhere; none where they have none.
pub(super) fn checksum(file: &BoardFile) -> Option<String> {
    file.throttle.mark().map(handover::shown)
}

/// The candidate as a file; `stem` is the board file's name without its ending. Nothing where none is
/// called so.
pub(super) fn export(what: &str, draft: &Draft, stem: &str) -> Option<Export> {
    let (name, kind, bytes) = match what {
        "board" => (
            format!("{stem}.tuned.toml"),
            "application/toml; charset=utf-8",
            draft.text().as_bytes().to_vec(),
        ),
        "constant" => (
            format!("{stem}_settings.rs"),
            "text/plain; charset=utf-8",
            handover::constant(draft.file()).into_bytes(),
        ),
        "record" => {
            (format!("{stem}.settings"), "application/octet-stream", handover::record(draft.file()))
        }
        _ => return None,
    };
    Some(Export { name, kind, bytes })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_file_brings_back_the_checksum_that_it_was_taken_away_with() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../examples/boards/lantern.toml");
        let board = Draft::new(path, std::fs::read_to_string(path).unwrap()).unwrap();
        let tuned = board.with_number("throttle.drive_on_m_s3", 1.4).unwrap();
        assert_ne!(checksum(board.file()), checksum(tuned.file()));
        assert!(checksum(tuned.file()).is_some());
        for what in ["board", "constant", "record"] {
            let export = export(what, &tuned, "lantern").unwrap();
            assert!(export.name.starts_with("lantern"), "{}", export.name);
            let taken = handover::taken(&board, &export.name, &export.bytes).unwrap();
            assert_eq!(checksum(taken.file()), checksum(tuned.file()), "{what}");
        }
        assert_eq!(export("everything", &tuned, "lantern"), None);
    }
}
