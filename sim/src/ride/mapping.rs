//! How another log's columns become ours: a small TOML file, written once per recorder.
//!
//! Read here, checked whole, then used row by row by `import`.
//!
//! ```toml
//! delimiter = ";"              # "," where missing
//! decimal_comma = true         # 12,5 means 12.5
//! time_starts_at_zero = true   # the first row's time is taken off all
//! drop_repeated_times = true   # of rows with one and the same time, the first stays
//!
//! [columns.time_s]             # our column
//! from = "clock"               # their header
//! unit = "ms"
//!
//! [columns.pack_current_A]     # ours = sign * (theirs * scale + offset)
//! from = "I"
//! scale = 0.01                 # 1 where missing
//! offset = -20.0               # 0 where missing
//! sign = -1                    # 1 where missing
//!
//! [columns.thumb]
//! from = "lever"
//! raw = { full_brake = 102, neutral = 512, full_drive = 921 }
//! ```
//!
//! Of `unit`, `scale` with `offset`, and `raw` a column has one at most. The format is our own.

use std::collections::BTreeMap;
use std::path::Path;

use serde::{Deserialize, Serialize};

use super::column::Column;
use super::column_source::ColumnSource;
use super::excerpt::excerpt;
use super::mapping_error::MappingError;
use super::number::Point;

/// A checked mapping.
#[derive(Clone, Debug, PartialEq)]
pub struct Mapping(Content);

/// A mapping's file, unchecked.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Content {
    #[serde(default = "comma")]
    delimiter: String,
    #[serde(default)]
    decimal_comma: bool,
    #[serde(default)]
    time_starts_at_zero: bool,
    #[serde(default)]
    drop_repeated_times: bool,
    columns: BTreeMap<Column, ColumnSource>,
}

fn comma() -> String {
    ",".to_owned()
}

impl Mapping {
    /// The mapping in the file at `path`.
    ///
    /// # Errors
    /// [`MappingError::Read`] and those of [`Mapping::from_toml`].
    pub fn open(path: impl AsRef<Path>) -> Result<Self, MappingError> {
        let path = path.as_ref();
        let file = path.display().to_string();
        match std::fs::read_to_string(path) {
            Ok(text) => Self::from_toml(&text, &file),
            Err(source) => Err(MappingError::Read { file, source }),
        }
    }

    /// The mapping in `text`. `file` is its name in messages.
    ///
    /// # Errors
    /// [`MappingError::Toml`] for unknown keys and wrong kinds, [`MappingError::NoTime`], and
    /// [`MappingError::Value`] for what can't be meant.
    pub fn from_toml(text: &str, file: &str) -> Result<Self, MappingError> {
        let content: Content = toml::from_str(text).map_err(|error| {
            let at = error.span().map_or(0, |span| span.start);
            let before = text.get(..at).unwrap_or_default();
            let line = before.matches('\n').count();
            MappingError::Toml {
                file: file.to_owned(),
                line: line + 1,
                text: excerpt(text.lines().nth(line).unwrap_or_default()),
                reason: error.message().replace('\n', "; "),
            }
        })?;
        content.check(file)?;
        Ok(Self(content))
    }

    /// The mapping that takes over a log of ours as it is, with these columns and time.
    #[must_use]
    pub fn identity(columns: &[Column]) -> Self {
        Self(Content {
            delimiter: comma(),
            decimal_comma: false,
            time_starts_at_zero: false,
            drop_repeated_times: false,
            columns: columns
                .iter()
                .chain(&[Column::Time])
                .map(|&column| (column, ColumnSource::renamed(column.name())))
                .collect(),
        })
    }

    /// The mapping as the text of a file.
    ///
    /// # Errors
    /// Those of the TOML writer, which a checked mapping does not cause.
    pub fn to_toml(&self) -> Result<String, toml::ser::Error> {
        toml::to_string(&self.0)
    }

    /// Our columns that come out of it, time first.
    #[must_use]
    pub fn columns(&self) -> Vec<Column> {
        self.0.columns.keys().copied().collect()
    }

    /// Each of our columns with where it comes from.
    pub fn sources(&self) -> impl Iterator<Item = (Column, &ColumnSource)> {
        self.0.columns.iter().map(|(column, source)| (*column, source))
    }

    pub(super) fn delimiter(&self) -> u8 {
        self.0.delimiter.bytes().next().unwrap_or(b',')
    }

    pub(super) const fn point(&self) -> Point {
        if self.0.decimal_comma { Point::Comma } else { Point::Dot }
    }

    pub(super) const fn time_starts_at_zero(&self) -> bool {
        self.0.time_starts_at_zero
    }

    pub(super) const fn drop_repeated_times(&self) -> bool {
        self.0.drop_repeated_times
    }
}

impl Content {
    fn check(&self, file: &str) -> Result<(), MappingError> {
        let refuse = |key: String, value: String, allowed: &str| {
            Err(MappingError::Value {
                file: file.to_owned(),
                key,
                value,
                allowed: allowed.to_owned(),
            })
        };
        if !self.columns.contains_key(&Column::Time) {
            let file = file.to_owned();
            return Err(MappingError::NoTime { file });
        }
        let parts_fields = match self.delimiter.as_bytes() {
            [one] => one.is_ascii_punctuation() && !b"\"-+.".contains(one) || b" \t".contains(one),
            _ => false,
        };
        if !parts_fields {
            let value = format!("{:?}", excerpt(&self.delimiter));
            let allowed = "one character such as \",\", \";\", \"|\" or \"\\t\"";
            return refuse("delimiter".to_owned(), value, allowed);
        }
        for (column, source) in &self.columns {
            if let Some((key, value, allowed)) = source.fault(*column) {
                return refuse(format!("columns.{column}.{key}"), value, &allowed);
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests;
