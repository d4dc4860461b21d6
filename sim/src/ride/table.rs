//! A text table read row by row: header, fields, and the line on which each row stands.
//!
//! Beneath `reader` (our logs) and `import` (others'). Knows nothing of rides.
//! Source: RFC 4180, with any delimiter and any line ending.

use std::io::{self, BufReader, Read};
use std::sync::Arc;

use csv::StringRecord;

use super::error::{Place, RideError};
use super::excerpt::excerpt;
use super::lines::{LONGEST_LINE, LineFault, Lines};

/// A table of which one row at a time is in memory.
#[derive(Debug)]
pub(super) struct Table<R: Read> {
    file: Arc<str>,
    rows: csv::Reader<Lines<BufReader<R>>>,
    header: StringRecord,
    header_line: u64,
    row: StringRecord,
    line: u64,
}

impl<R: Read> Table<R> {
    /// A table whose header has been read. `file` is its name in messages.
    pub(super) fn new(source: R, file: &str, delimiter: u8) -> Result<Self, RideError> {
        let mut table = Self {
            file: Arc::from(file),
            rows: csv::ReaderBuilder::new()
                .has_headers(false)
                .flexible(true)
                .delimiter(delimiter)
                .from_reader(Lines::new(BufReader::new(source))),
            header: StringRecord::new(),
            header_line: 1,
            row: StringRecord::new(),
            line: 1,
        };
        if !table.read()? {
            return Err(RideError::Empty { file: table.file });
        }
        table.header_line = table.line;
        table.header = table.row.clone();
        table.header.trim();
        Ok(table)
    }

    /// Whether there was another row; it is now the present one.
    pub(super) fn advance(&mut self) -> Result<bool, RideError> {
        if !self.read()? {
            return Ok(false);
        }
        if self.row.len() == self.header.len() {
            Ok(true)
        } else {
            Err(RideError::FieldCount {
                place: self.place(),
                expected: self.header.len(),
                found: self.row.len(),
            })
        }
    }

    fn read(&mut self) -> Result<bool, RideError> {
        let found = self.rows.read_record(&mut self.row);
        // `Lines` ends every row with one line feed, so the row's own line is the one
        // before the reader's; the row's own position would be that of blank lines before it.
        self.line = self.rows.position().line().saturating_sub(1).max(1);
        found.map_err(|error| self.explain(error))
    }

    fn explain(&self, error: csv::Error) -> RideError {
        if let csv::ErrorKind::Utf8 { err, .. } = error.kind() {
            return RideError::NotUtf8 { place: self.place(), field: err.field() + 1 };
        }
        let file = self.file.clone();
        let source = into_io(error);
        match source.get_ref().and_then(|inner| inner.downcast_ref()) {
            Some(&LineFault::TooLong { line }) => {
                RideError::LineTooLong { place: Place { file, line }, longest: LONGEST_LINE }
            }
            Some(&LineFault::OpenQuote { line }) => {
                RideError::OpenQuote { place: Place { file, line } }
            }
            None => RideError::Read { file, source },
        }
    }

    /// The file as it is named in messages.
    pub(super) fn file(&self) -> &Arc<str> {
        &self.file
    }

    /// The present row's line.
    pub(super) fn place(&self) -> Place {
        Place { file: self.file.clone(), line: self.line }
    }

    /// The header, trimmed.
    pub(super) fn header(&self) -> &StringRecord {
        &self.header
    }

    /// The header as it can be shown in an error.
    pub(super) fn names(&self) -> Vec<String> {
        self.header.iter().map(excerpt).collect()
    }

    /// The present row, as it stands in the file.
    pub(super) fn row(&self) -> &StringRecord {
        &self.row
    }

    /// One field of the present row, trimmed; nothing where there is none.
    pub(super) fn field(&self, index: usize) -> &str {
        self.row.get(index).unwrap_or_default().trim()
    }

    /// Where the column `name` stands; `None` where it doesn't.
    pub(super) fn find(&self, name: &str) -> Result<Option<usize>, RideError> {
        let mut places = (0..self.header.len()).filter(|&at| self.header.get(at) == Some(name));
        let first = places.next();
        match (first, places.next()) {
            (Some(first), Some(second)) => Err(RideError::RepeatedColumn {
                place: Place { file: self.file.clone(), line: self.header_line },
                name: excerpt(name),
                first: first + 1,
                second: second + 1,
            }),
            _ => Ok(first),
        }
    }

    /// Nothing, unless the header holds a number, and so is none.
    pub(super) fn refuse_numbers_as_header(&self) -> Result<(), RideError> {
        let number = self.header.iter().find(|name| name.parse::<f64>().is_ok_and(f64::is_finite));
        match number {
            Some(value) => Err(RideError::NoHeader {
                place: Place { file: self.file.clone(), line: self.header_line },
                value: excerpt(value),
            }),
            None => Ok(()),
        }
    }
}

/// The system's error inside `error`, with its kind; the splitter's own where there is none.
pub(super) fn into_io(error: csv::Error) -> io::Error {
    if !error.is_io_error() {
        return io::Error::other(error.to_string());
    }
    if let csv::ErrorKind::Io(source) = error.into_kind() {
        source
    } else {
        io::Error::from(io::ErrorKind::Other)
    }
}
