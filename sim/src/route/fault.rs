//! What can be wrong with a file of a route or schedule, told in one go.
//!
//! Used by every reader here.

use std::fmt;
use std::path::{Path, PathBuf};

pub use crate::file_fault::FileFault;
use crate::file_fault::tell;

/// A file that cannot be used: every fault of it, one line each.
#[derive(Clone, Debug, PartialEq)]
pub struct RouteFileError {
    /// The file.
    pub file: PathBuf,
    /// In the order of their lines; what is missing comes last.
    pub faults: Vec<FileFault>,
}

impl RouteFileError {
    pub(super) fn new(file: &Path, mut faults: Vec<FileFault>) -> Self {
        faults.sort_by_key(|fault| fault.line.unwrap_or(usize::MAX));
        Self { file: file.to_owned(), faults }
    }

    pub(super) fn one(file: &Path, fault: FileFault) -> Self {
        Self { file: file.to_owned(), faults: vec![fault] }
    }
}

/// So many faults are told, and how many more there are: one mistake often makes a hundred.
const MOST_TOLD: usize = 8;

impl fmt::Display for RouteFileError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        tell(f, &self.file, self.faults.get(..MOST_TOLD).unwrap_or(&self.faults))?;
        match self.faults.len().saturating_sub(MOST_TOLD) {
            0 => Ok(()),
            more => write!(f, "\nand {more} more"),
        }
    }
}

impl std::error::Error for RouteFileError {}

/// A value as the file has it, cut where it is long.
pub(super) fn shown(text: &str) -> String {
    const LONGEST: usize = 40;
    if text.chars().count() <= LONGEST {
        text.to_owned()
    } else {
        text.chars().take(LONGEST).chain("...".chars()).collect()
    }
}
