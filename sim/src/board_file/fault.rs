//! What can be wrong with a board file, told in one go.

use std::path::PathBuf;

/// One fault, and the line where it stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FileFault {
    /// Counted from 1; none where something is missing rather than wrong.
    pub line: Option<usize>,
    /// What is wrong: quantity, value, what is allowed.
    pub what: String,
}

impl FileFault {
    pub(super) fn of_file(what: String) -> Self {
        Self { line: None, what }
    }

    pub(super) fn at(line: usize, what: String) -> Self {
        Self { line: Some(line), what }
    }
}

/// A board file that cannot be used: every fault of it, one line each.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BoardFileError {
    /// The file.
    pub file: PathBuf,
    /// In the order of their lines; what is missing comes last.
    pub faults: Vec<FileFault>,
}

impl std::fmt::Display for BoardFileError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        for (index, FileFault { line, what }) in self.faults.iter().enumerate() {
            if index > 0 {
                writeln!(f)?;
            }
            match line {
                Some(line) => write!(f, "{}:{line}: {what}", self.file.display())?,
                None => write!(f, "{}: {what}", self.file.display())?,
            }
        }
        Ok(())
    }
}

impl std::error::Error for BoardFileError {}
