//! What can be wrong with a ride's file, said with file, line, column and value.
//!
//! Made by `table`, `reader`, `writer` and `import`; shown by the command line as it is.

use std::fmt;
use std::io;
use std::sync::Arc;

use super::column::Column;
use super::excerpt::listed;

/// A line of a file. The header is line 1.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Place {
    /// The file as the caller named it.
    pub file: Arc<str>,
    /// Counted as an editor counts, blank lines included.
    pub line: u64,
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}, line {}", self.file, self.line)
    }
}

/// Why a ride could not be read, taken over or written.
///
/// Values from the file are excerpts: cut to a length that fits a line.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum RideError {
    /// The file can't be opened.
    #[error("{file}: can't be opened: {source}")]
    Open {
        /// The file as the caller named it.
        file: Arc<str>,
        /// The system's own reason.
        source: io::Error,
    },
    /// Reading broke off.
    #[error("{file}: can't be read: {source}")]
    Read {
        /// The file as the caller named it.
        file: Arc<str>,
        /// The system's own reason.
        source: io::Error,
    },
    /// Writing broke off; the target is as it was.
    #[error("{file}: can't be written: {source}")]
    Write {
        /// The file as the caller named it.
        file: Arc<str>,
        /// The system's own reason.
        source: io::Error,
    },
    /// There is nothing in the file.
    #[error("{file}: is empty; a ride log begins with a line of column names")]
    Empty {
        /// The file as the caller named it.
        file: Arc<str>,
    },
    /// The first line holds numbers.
    #[error("{place}: no header; `{value}` is a number where a column's name should stand")]
    NoHeader {
        /// The first line that is not blank.
        place: Place,
        /// The first number in it.
        value: String,
    },
    /// Columns that are needed are not there.
    #[error("{file}: no column {}; its columns are {}", listed(.missing), listed(.found))]
    MissingColumns {
        /// The file as the caller named it.
        file: Arc<str>,
        /// The names that were looked for in vain.
        missing: Vec<String>,
        /// The names in the header.
        found: Vec<String>,
    },
    /// A column that is needed stands twice in the header.
    #[error("{place}: column `{name}` stands there twice, as fields {first} and {second}")]
    RepeatedColumn {
        /// The header.
        place: Place,
        /// The name.
        name: String,
        /// Counted from 1.
        first: usize,
        /// Counted from 1.
        second: usize,
    },
    /// A row has too few or too many fields.
    #[error("{place}: the row has a field count of {found}, the header one of {expected}")]
    FieldCount {
        /// The row.
        place: Place,
        /// In the header.
        expected: usize,
        /// In the row.
        found: usize,
    },
    /// A field is no number.
    #[error("{place}, column `{name}`: `{value}` is not a number")]
    NotANumber {
        /// The row.
        place: Place,
        /// The column's name in that file.
        name: String,
        /// What stands there.
        value: String,
    },
    /// A field is a number that no sensor gives: NaN or an infinity.
    #[error("{place}, column `{name}`: `{value}` is not a finite number")]
    NotFinite {
        /// The row.
        place: Place,
        /// The column's name in that file.
        name: String,
        /// What stands there.
        value: String,
    },
    /// A number that cannot be meant.
    #[error(
        "{place}, column `{column}`: `{value}` is outside {} to {}",
        .column.range().0, .column.range().1
    )]
    OutOfRange {
        /// The row.
        place: Place,
        /// The column.
        column: Column,
        /// What stands there.
        value: String,
    },
    /// A number that cannot be meant once it is converted by a mapping.
    #[error(
        "{place}, column `{name}`: `{value}` becomes {converted} as `{column}`, outside {} to {}",
        .column.range().0, .column.range().1
    )]
    ConvertedOutOfRange {
        /// The row.
        place: Place,
        /// The column's name in that file.
        name: String,
        /// What stands there.
        value: String,
        /// What the mapping makes of it.
        converted: f64,
        /// Our column.
        column: Column,
    },
    /// The link flag is neither 0 nor 1.
    #[error("{place}, column `{name}`: `{value}` is neither 0 nor 1")]
    LinkFlag {
        /// The row.
        place: Place,
        /// The column's name in that file.
        name: String,
        /// What stands there.
        value: String,
    },
    /// A row without a time.
    #[error("{place}, column `{name}`: is empty; every row needs a time")]
    NoTime {
        /// The row.
        place: Place,
        /// The column's name in that file.
        name: String,
    },
    /// Time stands still or runs backwards.
    #[error("{place}: time does not increase: {time_s} s after {previous_s} s")]
    TimeNotIncreasing {
        /// The later row.
        place: Place,
        /// Its time.
        time_s: f64,
        /// The time of the row before.
        previous_s: f64,
    },
    /// Bytes that are no text.
    #[error("{place}, field {field}: the bytes are not UTF-8 text")]
    NotUtf8 {
        /// The row.
        place: Place,
        /// Counted from 1.
        field: usize,
    },
    /// A quotation mark without its partner on the same line.
    #[error("{place}: a quotation mark is not closed on its line")]
    OpenQuote {
        /// The line.
        place: Place,
    },
    /// A line longer than any row of a ride.
    #[error("{place}: is longer than {longest} bytes, which no row of a ride is")]
    LineTooLong {
        /// The line.
        place: Place,
        /// The bound.
        longest: usize,
    },
    /// A column to be carried along has the name of one that is written anyway.
    #[error("{file}: column `{name}` would be written twice")]
    WrittenTwice {
        /// The file as the caller named it.
        file: Arc<str>,
        /// The name.
        name: String,
    },
}
