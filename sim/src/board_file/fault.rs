//! What can be wrong with a board file, told in one go.

use std::path::PathBuf;

use crate::file_fault::tell;
pub use crate::file_fault::{FileFault, Refused};

/// A board file that cannot be used: every fault of it, one line each.
#[derive(Clone, Debug, PartialEq)]
pub struct BoardFileError {
    /// The file.
    pub file: PathBuf,
    /// In the order of their lines; what is missing comes last.
    pub faults: Vec<FileFault>,
}

impl std::fmt::Display for BoardFileError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        tell(f, &self.file, &self.faults)
    }
}

impl std::error::Error for BoardFileError {}
