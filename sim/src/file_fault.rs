//! One fault of a file that a builder wrote, and how several are told in one go.
//!
//! Used by the readers of boards and of routes.

use std::fmt;
use std::path::Path;

/// One fault, and the line where it stands.
#[derive(Clone, Debug, PartialEq)]
pub struct FileFault {
    /// Counted from 1; none where something is missing rather than wrong.
    pub line: Option<usize>,
    /// What is wrong: quantity, value, what is allowed.
    pub what: String,
    /// The number that is refused, where it is one.
    pub refused: Option<Refused>,
}

/// A number that is refused, for whoever shows it beside its field.
#[derive(Clone, Debug, PartialEq)]
pub struct Refused {
    /// Section and key, `throttle.drive_on_m_s3`.
    pub key: String,
    /// The number, where there is one.
    pub given: Option<f64>,
    /// The lowest and the highest that are allowed, where they are known.
    pub allowed: Option<(f64, f64)>,
}

impl FileFault {
    pub(crate) fn of_file(what: String) -> Self {
        Self { line: None, what, refused: None }
    }

    pub(crate) fn at(line: usize, what: String) -> Self {
        Self { line: Some(line), what, refused: None }
    }
}

/// Writes faults of `file`, one line each.
pub(crate) fn tell(f: &mut fmt::Formatter<'_>, file: &Path, faults: &[FileFault]) -> fmt::Result {
    for (index, FileFault { line, what, .. }) in faults.iter().enumerate() {
        if index > 0 {
            writeln!(f)?;
        }
        match line {
            Some(line) => write!(f, "{}:{line}: {what}", file.display())?,
            None => write!(f, "{}: {what}", file.display())?,
        }
    }
    Ok(())
}
