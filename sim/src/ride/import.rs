//! Takes over a ride from a log of another shape, by a mapping.
//!
//! Reads through `table`, converts by `mapping`, checks as `reader` does, and hands rows of ours
//! to `writer` or to whoever asks. Streams. A time that repeats may be dropped; one that runs
//! backwards never is: it is a recorder that restarted, and two rides are not one.

use std::io::{Read, Write};

use super::column::Column;
use super::column_source::ColumnSource;
use super::error::RideError;
use super::excerpt::excerpt;
use super::mapping::Mapping;
use super::number::{Point, flag, number};
use super::order::Order;
use super::reader::within;
use super::row::RideRow;
use super::table::Table;
use super::writer::RideWriter;

/// What an import did.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Imported {
    /// Rows taken over.
    pub rows: u64,
    /// Rows left out because their time repeated the one before.
    pub dropped: u64,
}

/// How much was taken over, after the whole log in `source` was written to `target`.
///
/// `file` is the log's name in messages. `target` is best made with [`Mapping::columns`].
///
/// ```
/// use homestretch_sim::ride::{Mapping, RideWriter, import};
///
/// let map = r#"
/// [columns.time_s]
/// from = "clock"
/// unit = "ms"
/// [columns.pack_current_A]
/// from = "I"
/// sign = -1
/// "#;
/// let mapping = Mapping::from_toml(map, "map.toml")?;
/// let mut ours = RideWriter::new(Vec::new(), "ours", &mapping.columns(), &[])?;
/// import("I,clock\n-2.5,200\n".as_bytes(), "theirs", &mapping, &mut ours)?;
/// assert_eq!(ours.into_inner()?, b"time_s,pack_current_A\n0.200,2.5000\n");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # Errors
/// Those of [`ImportedRows`] and of [`RideWriter::write`]. The target is not finished here.
pub fn import<R: Read, W: Write>(
    source: R,
    file: &str,
    mapping: &Mapping,
    target: &mut RideWriter<W>,
) -> Result<Imported, RideError> {
    let mut rows = ImportedRows::new(source, file, mapping)?;
    let mut taken = 0;
    for row in &mut rows {
        target.write(&row?)?;
        taken += 1;
    }
    Ok(Imported { rows: taken, dropped: rows.dropped })
}

/// The rows of another log as ours, one at a time; the first error ends it.
#[derive(Debug)]
pub struct ImportedRows<R: Read> {
    table: Table<R>,
    plan: Vec<(Column, usize, ColumnSource)>,
    link: Option<(usize, String)>,
    point: Point,
    starts_at_zero: bool,
    drops_repeated: bool,
    first_time: Option<f64>,
    order: Order,
    dropped: u64,
    over: bool,
}

impl<R: Read> ImportedRows<R> {
    /// The rows in `source`, whose header is read and has all that `mapping` asks for.
    ///
    /// # Errors
    /// [`RideError::Empty`], [`RideError::NoHeader`], [`RideError::MissingColumns`],
    /// [`RideError::RepeatedColumn`], and those of reading and splitting.
    pub fn new(source: R, file: &str, mapping: &Mapping) -> Result<Self, RideError> {
        let table = Table::new(source, file, mapping.delimiter())?;
        let mut plan = Vec::new();
        let mut link = None;
        let mut missing = Vec::new();
        for (column, from) in mapping.sources() {
            match table.find(from.from.trim())? {
                Some(at) if column == Column::LinkOk => link = Some((at, from.from.clone())),
                Some(at) => plan.push((column, at, from.clone())),
                None => missing.push(excerpt(&from.from)),
            }
        }
        if !missing.is_empty() {
            if plan.is_empty() && link.is_none() {
                table.refuse_numbers_as_header()?;
            }
            return Err(RideError::MissingColumns {
                file: table.file().clone(),
                missing,
                found: table.names(),
            });
        }
        Ok(Self {
            table,
            plan,
            link,
            point: mapping.point(),
            starts_at_zero: mapping.time_starts_at_zero(),
            drops_repeated: mapping.drop_repeated_times(),
            first_time: None,
            order: Order::default(),
            dropped: 0,
            over: false,
        })
    }

    /// How many rows were left out so far because their time repeated the one before.
    #[must_use]
    pub const fn dropped(&self) -> u64 {
        self.dropped
    }

    fn row(&mut self) -> Result<Option<RideRow>, RideError> {
        while self.table.advance()? {
            let row = self.convert()?;
            let time_s = row.measured.time_s;
            if self.drops_repeated && self.order.repeats(time_s) {
                self.dropped += 1;
                continue;
            }
            let table = &self.table;
            self.order.take(time_s, || table.place())?;
            return Ok(Some(row));
        }
        Ok(None)
    }

    fn convert(&mut self) -> Result<RideRow, RideError> {
        let table = &self.table;
        let mut row = RideRow::at(0.0);
        if let Some((at, name)) = &self.link {
            row.measured.link_ok = flag(table.field(*at), name, || table.place())?;
        }
        for (column, at, source) in &self.plan {
            if column.comes_by_link() && !row.measured.link_ok {
                continue;
            }
            let text = table.field(*at);
            let read = number(text, self.point, &source.from, || table.place())?;
            let theirs = match read {
                Some(theirs) if *column == Column::Time && self.starts_at_zero => {
                    // Before any scale: whole counts since an epoch are exact, their
                    // products are not.
                    theirs - *self.first_time.get_or_insert(theirs)
                }
                Some(theirs) => theirs,
                None if *column == Column::Time => {
                    return Err(RideError::NoTime {
                        place: table.place(),
                        name: excerpt(&source.from),
                    });
                }
                None => continue,
            };
            let converted = source.convert(theirs);
            if !within(*column, converted) {
                return Err(RideError::ConvertedOutOfRange {
                    place: table.place(),
                    name: excerpt(&source.from),
                    value: excerpt(text),
                    converted,
                    column: *column,
                });
            }
            row.put(*column, converted);
        }
        Ok(row)
    }
}

impl<R: Read> Iterator for ImportedRows<R> {
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
