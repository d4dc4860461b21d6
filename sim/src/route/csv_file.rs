//! Tables with named columns, and a route as such a table: one segment a row.
//!
//! `Sheet` serves `schedule_file` as well. A route's columns are the keys of a TOML segment; an
//! empty field is a key left out. A first row of no length gives the start's elevation.

use std::path::Path;

use super::draft::{Draft, Entry, SEGMENT_KEYS, Value};
use super::fault::{FileFault, RouteFileError, shown};
use super::prepared::Route;
use super::track::stem;

/// A table in memory: the columns known by name, and the rows with their lines.
pub(super) struct Sheet {
    pub(super) columns: Vec<&'static str>,
    pub(super) rows: Vec<SheetRow>,
}

/// The fields of a row, as many as columns, trimmed.
pub(super) struct SheetRow {
    pub(super) line: usize,
    pub(super) fields: Vec<String>,
}

impl Sheet {
    /// What could be read of a table; rows with a wrong count of fields are told and left out, and
    /// with a wrong header all of them.
    pub(super) fn read(text: &str, known: &[&'static str], faults: &mut Vec<FileFault>) -> Self {
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .comment(Some(b'#'))
            .trim(csv::Trim::All)
            .from_reader(text.as_bytes());
        let mut sheet = Self { columns: Vec::new(), rows: Vec::new() };
        let mut header = false;
        let mut record = csv::StringRecord::new();
        let (mut line, mut counted) = (1, 0);
        loop {
            match reader.read_record(&mut record) {
                Ok(true) => {}
                Ok(false) => break,
                Err(error) => {
                    faults.push(FileFault::of_file(format!("is no table: {error}")));
                    break;
                }
            }
            // The record's own position would be that of blank lines before it.
            let end = usize::try_from(reader.position().byte()).unwrap_or(usize::MAX);
            let end = text.get(..end).unwrap_or(text).trim_end().len();
            let passed = text.as_bytes().get(counted..end).unwrap_or_default();
            line += passed.iter().filter(|&&byte| byte == b'\n').count();
            counted = end.max(counted);
            if !header {
                header = true;
                sheet.name_columns(&record, line, known, faults);
                if sheet.columns.is_empty() {
                    break;
                }
                continue;
            }
            if record.len() == sheet.columns.len() {
                let fields = record.iter().map(str::to_owned).collect();
                sheet.rows.push(SheetRow { line, fields });
            } else {
                let (found, wanted) = (record.len(), sheet.columns.len());
                let what =
                    format!("the row has {found} fields; {wanted} as in the header are wanted");
                faults.push(FileFault::at(line, what));
            }
        }
        if !header {
            faults.push(FileFault::of_file("is empty; a header is wanted".to_owned()));
        }
        sheet
    }

    fn name_columns(
        &mut self,
        record: &csv::StringRecord,
        line: usize,
        known: &[&'static str],
        faults: &mut Vec<FileFault>,
    ) {
        let before = faults.len();
        for name in record {
            match known.iter().find(|known| **known == name) {
                Some(column) if self.columns.contains(column) => {
                    faults.push(FileFault::at(line, format!("column {column} is there twice")));
                }
                Some(column) => self.columns.push(column),
                None => {
                    let (name, known) = (shown(name), known.join(", "));
                    let what = format!("column `{name}` is not known; {known} are");
                    faults.push(FileFault::at(line, what));
                }
            }
        }
        if faults.len() > before {
            self.columns.clear();
        }
    }
}

/// A number as a table has it.
pub(super) fn number(field: &str) -> Option<f64> {
    field.parse().ok()
}

impl Route {
    /// The route in a CSV text; `file` is its name in messages and, without its ending, that of
    /// the route.
    ///
    /// # Errors
    /// Every fault of the text, each with its line.
    pub fn read_csv(text: &str, file: &Path) -> Result<Self, RouteFileError> {
        let mut faults = Vec::new();
        let sheet = Sheet::read(text, &SEGMENT_KEYS, &mut faults);
        let mut draft = Draft::default();
        for row in &sheet.rows {
            let mut entry = Entry::at(row.line);
            for (key, field) in sheet.columns.iter().zip(&row.fields) {
                if field.is_empty() {
                    continue;
                }
                let value = number(field).map_or_else(|| Value::Text(field.clone()), Value::Number);
                entry.put(key, value, row.line);
            }
            draft.segments.push(entry);
        }
        draft.start_from_first();
        draft.name = stem(file);
        draft.into_route(file, faults)
    }
}
