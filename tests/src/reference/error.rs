//! What can be wrong with a folder of reference traces, said with file, place and value.
//!
//! Made by whatever reads or writes such a folder; shown by the command line as it is.

use std::io;
use std::path::PathBuf;

use homestretch_sim::ride::RideError;

/// Why reference traces could not be used.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ReferenceError {
    /// A file or folder can't be read.
    #[error("{}: can't be read: {source}", .file.display())]
    Read {
        /// Which.
        file: PathBuf,
        /// The system's own reason.
        source: io::Error,
    },
    /// A file or folder can't be written.
    #[error("{}: can't be written: {source}", .file.display())]
    Write {
        /// Which.
        file: PathBuf,
        /// The system's own reason.
        source: io::Error,
    },
    /// There is nothing to check against.
    #[error(
        "{}: holds no reference trace; one is a pair of files, NAME.csv and NAME.json",
        .folder.display()
    )]
    NoTraces {
        /// The folder.
        folder: PathBuf,
    },
    /// A file of facts is not what it should be.
    #[error("{}: {source}", .file.display())]
    Facts {
        /// The file.
        file: PathBuf,
        /// Line, column and what is wrong there.
        source: serde_json::Error,
    },
    /// A fact that cannot be meant.
    #[error("{}: `{quantity}` is {given}; it has to be {allowed}", .file.display())]
    OutOfRange {
        /// The file.
        file: PathBuf,
        /// The key in the file.
        quantity: &'static str,
        /// What stands there.
        given: f64,
        /// What may stand there.
        allowed: &'static str,
    },
    /// A table can't be split into fields.
    #[error("{}: {source}", .file.display())]
    Csv {
        /// The file.
        file: PathBuf,
        /// Line and reason.
        source: csv::Error,
    },
    /// A field of a table is no number.
    #[error("{}, line {line}, column `{column}`: `{value}` is not a finite number", .file.display())]
    NotANumber {
        /// The file.
        file: PathBuf,
        /// The header is line 1.
        line: u64,
        /// The column's name.
        column: String,
        /// What stands there.
        value: String,
    },
    /// A table lacks a column.
    #[error("{}: no column `{column}`", .file.display())]
    NoColumn {
        /// The file.
        file: PathBuf,
        /// The name that was looked for in vain.
        column: String,
    },
    /// A table is no table of its kind.
    #[error("{}: {fault}", .file.display())]
    Table {
        /// The file.
        file: PathBuf,
        /// What is wrong.
        fault: &'static str,
    },
    /// A trace is no ride log.
    #[error(transparent)]
    Ride(#[from] RideError),
    /// A trace has a row whose truth is not known.
    #[error("{}, line {line}: no `true_soc`", .file.display())]
    NoTruth {
        /// The file.
        file: PathBuf,
        /// The header is line 1.
        line: u64,
    },
}
