//! A CSV file of numbers by column name.
//!
//! Read for `resting`, `resistance` and `tester`; rides have a reader of their own.

use std::path::{Path, PathBuf};

use crate::reference::ReferenceError;

/// Columns of finite numbers, all of one length.
#[derive(Clone, Debug)]
pub struct NumberTable {
    file: PathBuf,
    names: Vec<String>,
    columns: Vec<Vec<f64>>,
}

impl NumberTable {
    /// The table in `file`.
    ///
    /// # Errors
    /// [`ReferenceError::Csv`] if it can't be read or split into equally long rows,
    /// [`ReferenceError::NotANumber`] for the first field that is none.
    pub fn read(file: &Path) -> Result<Self, ReferenceError> {
        let fault = |source| ReferenceError::Csv { file: file.to_owned(), source };
        let mut reader = csv::Reader::from_path(file).map_err(fault)?;
        let header = reader.headers().map_err(fault)?;
        let names: Vec<String> = header.iter().map(|name| name.trim().to_owned()).collect();
        let mut columns = vec![Vec::new(); names.len()];
        for record in reader.records() {
            let record = record.map_err(fault)?;
            for ((text, name), column) in record.iter().zip(&names).zip(&mut columns) {
                match text.trim().parse::<f64>() {
                    Ok(number) if number.is_finite() => column.push(number),
                    _ => {
                        return Err(ReferenceError::NotANumber {
                            file: file.to_owned(),
                            line: record.position().map_or(0, csv::Position::line),
                            column: name.clone(),
                            value: text.to_owned(),
                        });
                    }
                }
            }
        }
        Ok(Self { file: file.to_owned(), names, columns })
    }

    /// Where it was read.
    #[must_use]
    pub fn file(&self) -> &Path {
        &self.file
    }

    /// The names of the columns, in order.
    #[must_use]
    pub fn names(&self) -> &[String] {
        &self.names
    }

    /// A column, if the table has it.
    #[must_use]
    pub fn find(&self, name: &str) -> Option<&[f64]> {
        let at = self.names.iter().position(|known| known == name)?;
        self.columns.get(at).map(Vec::as_slice)
    }

    /// A column that the table has to have.
    ///
    /// # Errors
    /// [`ReferenceError::NoColumn`].
    pub fn column(&self, name: &str) -> Result<&[f64], ReferenceError> {
        self.find(name).ok_or_else(|| ReferenceError::NoColumn {
            file: self.file.clone(),
            column: name.to_owned(),
        })
    }

    /// Whether `row`, counted from 0, says in every column what the row before says.
    #[must_use]
    pub fn repeats_row_before(&self, row: usize) -> bool {
        row.checked_sub(1).is_some_and(|before| {
            let same = |column: &Vec<f64>| column.get(before) == column.get(row);
            self.columns.iter().all(same)
        })
    }

    /// The error of this table being wrong by `fault`.
    #[must_use]
    pub fn refused(&self, fault: &'static str) -> ReferenceError {
        ReferenceError::Table { file: self.file.clone(), fault }
    }
}
