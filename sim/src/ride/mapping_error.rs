//! What can be wrong with a mapping file: which key, what it holds, what is allowed.
//!
//! Made by `mapping`.

use std::io;

/// Why a mapping could not be used.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum MappingError {
    /// The file can't be read.
    #[error("{file}: can't be read: {source}")]
    Read {
        /// The file as the caller named it.
        file: String,
        /// The system's own reason.
        source: io::Error,
    },
    /// It is not the TOML of a mapping: a key that is not known, a value of the wrong kind.
    #[error("{file}, line {line}, `{text}`: {reason}")]
    Toml {
        /// The file as the caller named it.
        file: String,
        /// Counted from 1.
        line: usize,
        /// What stands on that line.
        text: String,
        /// What is wrong, with what would be allowed.
        reason: String,
    },
    /// There is no time among the columns.
    #[error("{file}: no `columns.time_s`; a ride needs a time")]
    NoTime {
        /// The file as the caller named it.
        file: String,
    },
    /// A value that has the right kind and makes no sense.
    #[error("{file}: `{key}` is {value}; allowed is {allowed}")]
    Value {
        /// The file as the caller named it.
        file: String,
        /// The key with its path.
        key: String,
        /// What it holds.
        value: String,
        /// What it may hold.
        allowed: String,
    },
}
