//! Reads a ride log row by row and refuses whatever can't be true.
//!
//! Entrance of every recorded ride; `sensors`, replay and learning take its rows. On top of
//! `table`, with the same checks as `import`.
//! Source: docs/files.md, "Ride log".

use std::fs::File;
use std::io::Read;
use std::path::Path;

use csv::StringRecord;

use super::column::Column;
use super::error::RideError;
use super::excerpt::excerpt;
use super::number::{Point, flag, number};
use super::order::Order;
use super::row::RideRow;
use super::table::Table;

/// The rows of a ride log, one at a time; the first error ends it.
///
/// On a row without link nothing that came by radio is looked at, since it may be stale.
///
/// ```
/// use homestretch_sim::ride::{Column, RideReader};
///
/// let log = "time_s,pack_voltage_V,gloves\n0.0,36.5,thick\n0.2,,thin\n";
/// let mut rows = RideReader::new(log.as_bytes(), "a log")?;
/// rows.require(&[Column::PackVoltage])?;
/// while let Some(row) = rows.next() {
///     let row = row?;
///     println!("{:?} in {:?}", row.measured.pack_voltage_V, rows.carried().next());
/// }
/// # Ok::<(), homestretch_sim::ride::RideError>(())
/// ```
#[derive(Debug)]
pub struct RideReader<R: Read> {
    table: Table<R>,
    known: Vec<(Column, usize)>,
    link: Option<usize>,
    carried: Vec<usize>,
    order: Order,
    over: bool,
}

impl RideReader<File> {
    /// The log at `path`, its header read.
    ///
    /// # Errors
    /// [`RideError::Open`], and those of [`RideReader::new`].
    pub fn open(path: impl AsRef<Path>) -> Result<Self, RideError> {
        let path = path.as_ref();
        let name = path.display().to_string();
        match File::open(path) {
            Ok(file) => Self::new(file, &name),
            Err(source) => Err(RideError::Open { file: name.into(), source }),
        }
    }
}

impl<R: Read> RideReader<R> {
    /// The log in `source`, its header read. `file` is its name in messages.
    ///
    /// # Errors
    /// [`RideError::Empty`], [`RideError::NoHeader`], [`RideError::MissingColumns`] without
    /// `time_s`, [`RideError::RepeatedColumn`], and those of reading and splitting.
    pub fn new(source: R, file: &str) -> Result<Self, RideError> {
        let table = Table::new(source, file, b',')?;
        let mut known = Vec::new();
        for column in Column::ALL {
            if let Some(at) = table.find(column.name())? {
                known.push((column, at));
            }
        }
        if known.is_empty() {
            table.refuse_numbers_as_header()?;
        }
        let carried = (0..table.header().len())
            .filter(|at| !known.iter().any(|(_, taken)| taken == at))
            .collect();
        let link = known.iter().find(|(column, _)| *column == Column::LinkOk).map(|&(_, at)| at);
        known.retain(|(column, _)| *column != Column::LinkOk);
        let reader = Self { table, known, link, carried, order: Order::default(), over: false };
        reader.require(&[Column::Time])?;
        Ok(reader)
    }

    /// Whether the log has this column.
    #[must_use]
    pub fn has(&self, column: Column) -> bool {
        if column == Column::LinkOk {
            self.link.is_some()
        } else {
            self.known.iter().any(|&(known, _)| known == column)
        }
    }

    /// The columns that the log has, in the order of [`Column::ALL`].
    #[must_use]
    pub fn columns(&self) -> Vec<Column> {
        Column::ALL.into_iter().filter(|&column| self.has(column)).collect()
    }

    /// Nothing, if the log has all of `needed`.
    ///
    /// # Errors
    /// [`RideError::MissingColumns`] with all that lack, and those that are there.
    pub fn require(&self, needed: &[Column]) -> Result<(), RideError> {
        let missing: Vec<String> =
            needed.iter().filter(|&&column| !self.has(column)).map(ToString::to_string).collect();
        if missing.is_empty() {
            return Ok(());
        }
        Err(RideError::MissingColumns {
            file: self.table.file().clone(),
            missing,
            found: self.table.names(),
        })
    }

    /// The names of the columns that are only carried along, in the file's order.
    #[must_use]
    pub fn carried_names(&self) -> Vec<String> {
        self.carried
            .iter()
            .filter_map(|&at| self.table.header().get(at))
            .map(str::to_owned)
            .collect()
    }

    /// What those columns hold in the row last read, untouched.
    pub fn carried(&self) -> impl Iterator<Item = &str> {
        self.carried.iter().filter_map(|&at| self.table.row().get(at))
    }

    /// All fields of the row last read, untouched.
    #[must_use]
    pub fn raw(&self) -> &StringRecord {
        self.table.row()
    }

    /// The line of the file on which the row last read stands. The header is line 1.
    #[must_use]
    pub fn line(&self) -> u64 {
        self.table.place().line
    }

    fn row(&mut self) -> Result<Option<RideRow>, RideError> {
        if !self.table.advance()? {
            return Ok(None);
        }
        let table = &self.table;
        let mut row = RideRow::at(0.0);
        if let Some(at) = self.link {
            row.measured.link_ok = flag(table.field(at), Column::LinkOk.name(), || table.place())?;
        }
        for &(column, at) in &self.known {
            if column.comes_by_link() && !row.measured.link_ok {
                continue;
            }
            let text = table.field(at);
            match number(text, Point::Dot, column.name(), || table.place())? {
                Some(value) if within(column, value) => row.put(column, value),
                Some(_) => {
                    return Err(RideError::OutOfRange {
                        place: table.place(),
                        column,
                        value: excerpt(text),
                    });
                }
                None if column == Column::Time => {
                    return Err(RideError::NoTime {
                        place: table.place(),
                        name: column.to_string(),
                    });
                }
                None => {}
            }
        }
        self.order.take(row.measured.time_s, || table.place())?;
        Ok(Some(row))
    }
}

/// Whether `value` can be meant in `column`.
pub(super) fn within(column: Column, value: f64) -> bool {
    let (lowest, highest) = column.range();
    (lowest..=highest).contains(&value)
}

impl<R: Read> Iterator for RideReader<R> {
    type Item = Result<RideRow, RideError>;

    fn next(&mut self) -> Option<Self::Item> {
        if self.over {
            return None;
        }
        let row = self.row().transpose();
        self.over = !matches!(row, Some(Ok(_)));
        row
    }
}

#[cfg(test)]
mod tests;
