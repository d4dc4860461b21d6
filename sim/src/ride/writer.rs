//! Writes a ride log that the reader takes back unchanged.
//!
//! Fed by the plant, by `sensors` and by `import`. Checks what it writes as the reader would,
//! so that a broken ride is found where it is made.
//! Source: docs/files.md, "Ride log".

use std::fmt::Write as _;
use std::io::{self, Write};
use std::path::Path;
use std::sync::Arc;

use csv::StringRecord;

use super::column::Column;
use super::error::{Place, RideError};
use super::excerpt::excerpt;
use super::order::Order;
use super::reader::within;
use super::row::RideRow;
use super::table::into_io;
use crate::atomic_file::AtomicFile;

/// The fewest decimals that a time is cut to when its last ones are zeros.
const TIME_DECIMALS_KEPT: usize = 3;

/// A ride log being written, with the columns chosen at its beginning.
///
/// Where the link is down, columns that come by radio are left empty. A log without
/// [`Column::LinkOk`] can't tell such a row from one whose sensors were silent.
#[derive(Debug)]
pub struct RideWriter<W: Write> {
    file: Arc<str>,
    rows: csv::Writer<W>,
    columns: Vec<Column>,
    carried: usize,
    order: Order,
    /// Of the row to be written next.
    line: u64,
    record: StringRecord,
    text: String,
}

impl RideWriter<AtomicFile> {
    /// A log that will stand at `path` once it is finished; see [`RideWriter::new`].
    ///
    /// # Errors
    /// [`RideError::Write`] where no file can be made there, and those of [`RideWriter::new`].
    pub fn create(
        path: impl AsRef<Path>,
        columns: &[Column],
        carried: &[String],
    ) -> Result<Self, RideError> {
        let path = path.as_ref();
        let name = path.display().to_string();
        match AtomicFile::create(path) {
            Ok(file) => Self::new(file, &name, columns, carried),
            Err(source) => Err(RideError::Write { file: name.into(), source }),
        }
    }

    /// Nothing: the log now stands under its name. Without this call no file is left behind.
    ///
    /// # Errors
    /// [`RideError::Write`]; what stood there before is then untouched.
    pub fn finish(self) -> Result<(), RideError> {
        let file = self.file.clone();
        self.into_inner()?.finish().map_err(|source| RideError::Write { file, source })
    }
}

impl<W: Write> RideWriter<W> {
    /// A log into `target`, its header written. `file` is its name in messages.
    ///
    /// `columns` is taken as a set: the order is that of [`Column::ALL`], and time is always
    /// among them. The columns named in `carried` follow, filled by
    /// [`RideWriter::write_carrying`].
    ///
    /// # Errors
    /// [`RideError::WrittenTwice`] where a carried column is one of the chosen, and
    /// [`RideError::Write`].
    pub fn new(
        target: W,
        file: &str,
        columns: &[Column],
        carried: &[String],
    ) -> Result<Self, RideError> {
        let columns: Vec<Column> = Column::ALL
            .into_iter()
            .filter(|column| *column == Column::Time || columns.contains(column))
            .collect();
        if let Some(name) =
            carried.iter().find(|name| columns.iter().any(|column| column.name() == name.trim()))
        {
            return Err(RideError::WrittenTwice { file: file.into(), name: excerpt(name) });
        }
        let mut writer = Self {
            file: Arc::from(file),
            rows: csv::Writer::from_writer(target),
            carried: carried.len(),
            order: Order::default(),
            line: 2,
            record: StringRecord::new(),
            text: String::new(),
            columns,
        };
        let names = writer.columns.iter().map(|column| column.name());
        let header = names.chain(carried.iter().map(String::as_str));
        writer
            .rows
            .write_record(header)
            .map_err(|error| unwritten(&writer.file, into_io(error)))?;
        Ok(writer)
    }

    /// Nothing: `row` is written, carried columns left empty.
    ///
    /// # Errors
    /// [`RideError::NotFinite`], [`RideError::OutOfRange`] and
    /// [`RideError::TimeNotIncreasing`] as the reader would give for the written file, and
    /// [`RideError::Write`].
    pub fn write(&mut self, row: &RideRow) -> Result<(), RideError> {
        self.write_carrying(row, std::iter::empty())
    }

    /// Nothing: `row` is written with these texts in the carried columns, missing ones left
    /// empty and surplus ones left out.
    ///
    /// # Errors
    /// Those of [`RideWriter::write`].
    pub fn write_carrying<'a>(
        &mut self,
        row: &RideRow,
        carried: impl IntoIterator<Item = &'a str>,
    ) -> Result<(), RideError> {
        // Whole or not at all: a row that is refused half-way leaves nothing behind.
        self.record.clear();
        for index in 0..self.columns.len() {
            self.spell(row, self.columns[index])?;
            self.record.push_field(&self.text);
        }
        let mut carried = carried.into_iter();
        for _ in 0..self.carried {
            self.record.push_field(carried.next().unwrap_or_default());
        }
        // Compared as it will be read: two moments may share what is written of them. Time is
        // the first column.
        let written_s = self.record.get(0).and_then(|text| text.parse().ok());
        let mut order = self.order;
        order.take(written_s.unwrap_or(row.measured.time_s), || self.place())?;
        self.rows
            .write_record(&self.record)
            .map_err(|error| unwritten(&self.file, into_io(error)))?;
        self.order = order;
        self.line += 1;
        Ok(())
    }

    /// The target, with everything written to it.
    ///
    /// # Errors
    /// [`RideError::Write`].
    pub fn into_inner(self) -> Result<W, RideError> {
        let file = self.file;
        self.rows.into_inner().map_err(|error| {
            let source = error.error();
            unwritten(&file, io::Error::new(source.kind(), source.to_string()))
        })
    }

    fn place(&self) -> Place {
        Place { file: self.file.clone(), line: self.line }
    }

    /// Puts what stands in `column` into `self.text`, after the checks that the reader makes.
    fn spell(&mut self, row: &RideRow, column: Column) -> Result<(), RideError> {
        self.text.clear();
        if column.comes_by_link() && !row.measured.link_ok {
            return Ok(());
        }
        let Some(value) = row.value(column) else {
            return Ok(());
        };
        if !value.is_finite() {
            return Err(RideError::NotFinite {
                place: self.place(),
                name: column.to_string(),
                value: value.to_string(),
            });
        }
        if !within(column, value) {
            return Err(RideError::OutOfRange {
                place: self.place(),
                column,
                value: value.to_string(),
            });
        }
        // Writing to a string does not fail.
        let _ = write!(self.text, "{value:.*}", column.decimals());
        if column == Column::Time {
            let most = self.text.len();
            let fewest = most - (column.decimals() - TIME_DECIMALS_KEPT);
            let kept = self.text.trim_end_matches('0').len().max(fewest);
            self.text.truncate(kept);
        }
        if self.text.starts_with('-')
            && !self.text.bytes().any(|digit| (b'1'..=b'9').contains(&digit))
        {
            self.text.remove(0);
        }
        Ok(())
    }
}

fn unwritten(file: &Arc<str>, source: io::Error) -> RideError {
    RideError::Write { file: file.clone(), source }
}

#[cfg(test)]
pub(crate) mod tests;
