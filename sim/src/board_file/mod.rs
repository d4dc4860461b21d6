//! A board as a file: TOML for what was built, CSV for the tables of its cell.
//!
//! Read once by `cli`, checked by the library's own `board`; every fault of a file is reported in
//! one go, with its line, its value and what is allowed. The format is docs/files.md, "Board file".

mod control_keys;
mod controls;
mod document;
mod fault;
mod motors;
mod reader;
mod riders;
mod tables;

use std::path::{Path, PathBuf};

use homestretch::board::Board;
use homestretch::throttle::{Settings, Tuning};

use crate::plant::MotorSheet;

pub use control_keys::{CONTROL_KEYS, ControlKey};
pub use fault::{BoardFileError, FileFault, Refused};
pub use riders::{RIDER_KEYS, RiderKey, Riders};
pub use tables::{TableError, read_resistance, read_resting_curve};

/// What a board file says.
#[derive(Clone, Debug)]
pub struct BoardFile {
    /// The name that the builder gave it.
    pub name: String,
    /// The checked board.
    pub board: Board,
    /// What the thumb may do, as plain values.
    pub tuning: Tuning,
    /// The same, checked and prepared.
    pub throttle: Settings,
    /// The names of its paces, in the order of their numbers.
    pub paces: Vec<String>,
    /// What synthetic rides are ridden with.
    pub motors: MotorSheet,
    /// Who rides it, and what they bear: what tuning is judged by.
    pub riders: Riders,
    path: PathBuf,
}

impl BoardFile {
    /// Reads and checks a board file and the tables that it names.
    ///
    /// # Errors
    /// [`BoardFileError`] with every fault found, one line each.
    pub fn open(path: impl AsRef<Path>) -> Result<Self, BoardFileError> {
        let path = path.as_ref();
        let failed = |faults| BoardFileError { file: path.to_path_buf(), faults };
        let text = std::fs::read(path).map_err(|error| {
            failed(vec![FileFault::of_file(format!("cannot be read: {error}"))])
        })?;
        let text = String::from_utf8(text).map_err(|error| {
            let at = error.utf8_error().valid_up_to();
            failed(vec![FileFault::of_file(format!(
                "is not UTF-8 text: byte {} is no part of it",
                at + 1
            ))])
        })?;
        reader::read(&text, path).map_err(failed)
    }

    /// The board in `text`, as if it stood in the file `path`, which is where its tables are looked for.
    ///
    /// # Errors
    /// [`BoardFileError`] with every fault found, one line each.
    pub fn parse(text: &str, path: impl AsRef<Path>) -> Result<Self, BoardFileError> {
        let path = path.as_ref();
        reader::read(text, path)
            .map_err(|faults| BoardFileError { file: path.to_path_buf(), faults })
    }

    /// The file that it was read from.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }
}

#[cfg(test)]
mod tests;
