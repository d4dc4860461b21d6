//! Reads a folder of reference traces: rides whose true state of charge is known.
//!
//! A trace is a pair of files, `NAME.csv` and `NAME.json`; its cell has three more. What else lies in
//! the folder is passed over. Given to `accuracy`, `search` and the tests.
//! Source: the folder's own README, which names the parameter sets and the model.

mod error;

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use homestretch_sim::ride::{Column, RideReader, RideRow};

pub use error::ReferenceError;

use crate::build::{ASSUMED_TEMPERATURE, Build};
use crate::facts::{CellFacts, RideFacts};
use crate::resistance::ResistanceTable;
use crate::resting::RestingCurve;

/// Files of cells, which also come in pairs of names.
const CELL_PREFIXES: [&str; 3] = ["cell_", "ocv_", "resistance_"];

/// A trace with its facts.
#[derive(Clone, Debug)]
pub struct Reference {
    /// The name of its files.
    pub name: String,
    /// Of the ride and the vehicle.
    pub facts: RideFacts,
    /// Of the cell.
    pub cell: CellFacts,
    /// Where the cell's resting curve stands.
    pub resting_file: PathBuf,
    /// Where the cell's resistances stand.
    pub resistance_file: PathBuf,
    /// What its builder writes of how far the curve may be off, if anything.
    pub curve_doubt_V: Option<f64>,
    /// What its builder knows.
    pub build: Arc<Build>,
    /// Exact, with the truth beside.
    pub rows: Vec<RideRow>,
}

impl Reference {
    /// All traces of `folder`, in the order of their names.
    ///
    /// # Errors
    /// [`ReferenceError`] of the first file that is not what it should be, or
    /// [`ReferenceError::NoTraces`].
    pub fn all(folder: &Path) -> Result<Vec<Self>, ReferenceError> {
        let names = names(folder)?;
        if names.is_empty() {
            return Err(ReferenceError::NoTraces { folder: folder.to_owned() });
        }
        names.iter().map(|name| Self::read(folder, name)).collect()
    }

    /// The trace `name` of `folder`.
    ///
    /// # Errors
    /// [`ReferenceError`] of the first file that is not what it should be.
    pub fn read(folder: &Path, name: &str) -> Result<Self, ReferenceError> {
        let facts = RideFacts::read(&folder.join(format!("{name}.json")))?;
        let file =
            |kind: &str, suffix: &str| folder.join(format!("{kind}_{}.{suffix}", facts.cell));
        let cell = CellFacts::read(&file("cell", "json"))?;
        let (resting_file, resistance_file) = (file("ocv", "csv"), file("resistance", "csv"));
        let build = Build {
            series: f64::from(facts.series),
            parallel: f64::from(facts.parallel),
            cell_capacity_Ah: facts.new_cell_capacity_Ah,
            resting: RestingCurve::read(&resting_file)?,
            resistance: ResistanceTable::read(&resistance_file)?,
            assumed_temperature_degC: ASSUMED_TEMPERATURE,
        };
        Ok(Self {
            name: name.to_owned(),
            rows: rows(&folder.join(format!("{name}.csv")))?,
            cell,
            curve_doubt_V: None,
            resting_file,
            resistance_file,
            build: Arc::new(build),
            facts,
        })
    }
}

/// Names that have a `.csv` and a `.json`, rising.
fn names(folder: &Path) -> Result<Vec<String>, ReferenceError> {
    let fault = |source| ReferenceError::Read { file: folder.to_owned(), source };
    let (mut rides, mut facts) = (BTreeSet::new(), BTreeSet::new());
    for entry in std::fs::read_dir(folder).map_err(fault)? {
        let path = entry.map_err(fault)?.path();
        let part = |part: Option<&std::ffi::OsStr>| part?.to_str().map(str::to_owned);
        let (Some(stem), Some(extension)) = (part(path.file_stem()), part(path.extension())) else {
            continue;
        };
        if CELL_PREFIXES.iter().any(|prefix| stem.starts_with(prefix)) {
            continue;
        }
        match extension.as_str() {
            "csv" => rides.insert(stem),
            "json" => facts.insert(stem),
            _ => continue,
        };
    }
    Ok(rides.intersection(&facts).cloned().collect())
}

fn rows(file: &Path) -> Result<Vec<RideRow>, ReferenceError> {
    let mut reader = RideReader::open(file)?;
    reader.require(&[Column::PackVoltage, Column::PackCurrent, Column::TrueSoc])?;
    let mut rows = Vec::new();
    while let Some(row) = reader.next() {
        let row = row?;
        if row.true_soc.is_none() {
            return Err(ReferenceError::NoTruth { file: file.to_owned(), line: reader.line() });
        }
        rows.push(row);
    }
    Ok(rows)
}

#[cfg(test)]
mod tests;
