//! What goes out as a file and comes in as one, and the checksum that tells settings apart.
//!
//! Asked by `routes` and `wire`. The board file is the draft's own text.

use crate::board_file::BoardFile;
use crate::tuning::{Draft, Fault};

/// A file to be taken away.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Export {
    /// Its name, in plain letters.
    pub(super) name: String,
    /// What it is.
    pub(super) kind: &'static str,
    /// All of it.
    pub(super) bytes: Vec<u8>,
}

/// Why there is no such file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum NoExport {
    /// Nothing is called so.
    Unknown,
    /// It cannot be made yet.
    NotYet,
}

/// The checksum of a board's settings, as it is shown everywhere; none where they have none.
pub(super) fn checksum(file: &BoardFile) -> Option<String> {
    file.throttle.mark().map(|mark| format!("{mark:08x}"))
}

/// The candidate as a file; `stem` is the board file's name without its ending.
pub(super) fn export(what: &str, draft: &Draft, stem: &str) -> Result<Export, NoExport> {
    match what {
        "board" => Ok(Export {
            name: format!("{stem}.tuned.toml"),
            kind: "application/toml; charset=utf-8",
            bytes: draft.text().as_bytes().to_vec(),
        }),
        "constant" | "record" => Err(NoExport::NotYet),
        _ => Err(NoExport::Unknown),
    }
}

/// `draft` with what a file says: a board file.
pub(super) fn taken(draft: &Draft, file_name: &str, bytes: &[u8]) -> Result<Draft, Vec<Fault>> {
    let refused =
        |what: String| vec![Fault { key: None, what, given: None, lowest: None, highest: None }];
    let text = std::str::from_utf8(bytes)
        .map_err(|_| refused(format!("`{file_name}` is no text: a board file is wanted")))?;
    Draft::new(draft.path(), text)
}
