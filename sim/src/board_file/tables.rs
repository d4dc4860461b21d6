//! The tables of a cell as CSV files: resting voltage and resistance.
//!
//! Used by `reader`; the columns are those of docs/files.md. The library checks the values.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use homestretch::cell::{ResistanceMap, RestingCurve};
use homestretch::units::{Celsius, Ohms, Ratio, Volts};

/// Why a table cannot be used.
#[derive(Debug, thiserror::Error)]
#[error("{}{}: {what}", file.display(), line.map(|line| format!(":{line}")).unwrap_or_default())]
pub struct TableError {
    file: PathBuf,
    line: Option<u64>,
    what: String,
}

/// Tables have some hundred lines; this is a thousand times as much.
const LARGEST_BYTES: u64 = 16 << 20;

/// Rows of numbers under their names, read whole: such a table has a hundred lines.
struct Numbers {
    file: PathBuf,
    names: Vec<String>,
    rows: Vec<(u64, Vec<f64>)>,
}

impl Numbers {
    fn read(path: &Path, used: impl Fn(&str) -> bool) -> Result<Self, TableError> {
        let fail = |line, what| TableError { file: path.to_path_buf(), line, what };
        // A board file from somebody else may name anything: a device would never end.
        let there = std::fs::metadata(path);
        let there = there.map_err(|error| fail(None, format!("cannot be read: {error}")))?;
        if !there.is_file() || there.len() > LARGEST_BYTES {
            let what = format!("is no table: a file of at most {LARGEST_BYTES} bytes is wanted");
            return Err(fail(None, what));
        }
        let mut csv = csv::ReaderBuilder::new()
            .trim(csv::Trim::All)
            .from_path(path)
            .map_err(|error| fail(None, format!("cannot be read: {error}")))?;
        let header = csv.headers().map_err(|error| fail(Some(1), error.to_string()))?.clone();
        let columns: Vec<usize> =
            (0..header.len()).filter(|&at| header.get(at).is_some_and(&used)).collect();
        let names = columns.iter().filter_map(|&at| header.get(at).map(str::to_owned)).collect();
        let mut rows: Vec<(u64, Vec<f64>)> = Vec::new();
        for record in csv.records() {
            let record = record.map_err(|error| {
                fail(
                    error.position().map(csv::Position::line),
                    error.to_string().replace('\n', " "),
                )
            })?;
            let line = record.position().map_or(0, csv::Position::line);
            let number = |&at: &usize| {
                let text = record.get(at).unwrap_or("");
                let name = header.get(at).unwrap_or("");
                let value = text.parse::<f64>().ok().filter(|value| value.is_finite());
                value.ok_or_else(|| {
                    fail(Some(line), format!("{name} is `{text}`; a number is wanted"))
                })
            };
            let row = columns.iter().map(number).collect::<Result<Vec<_>, _>>()?;
            // The same row twice says nothing new; two different ones for one charge are a fault.
            if rows.last().is_none_or(|(_, before)| *before != row) {
                rows.push((line, row));
            }
        }
        Ok(Self { file: path.to_path_buf(), names, rows })
    }

    fn column(&self, name: &str) -> Result<Vec<f64>, TableError> {
        let at = self.names.iter().position(|known| known == name);
        let at = at.ok_or_else(|| self.fail(None, format!("has no column `{name}`")))?;
        Ok(self.rows.iter().filter_map(|(_, row)| row.get(at).copied()).collect())
    }

    fn fail(&self, line: Option<u64>, what: String) -> TableError {
        TableError { file: self.file.clone(), line, what }
    }

    /// Each number of a column as a quantity, or the line that holds one the quantity cannot.
    fn quantities<Q>(
        &self,
        name: &str,
        to: impl Fn(f64) -> Option<Q>,
    ) -> Result<Vec<Q>, TableError> {
        let values = self.column(name)?;
        let lines = self.rows.iter().map(|(line, _)| *line);
        let convert = |(value, line): (f64, u64)| {
            to(value).ok_or_else(|| {
                self.fail(Some(line), format!("{name} is {value}, far beyond what can be"))
            })
        };
        values.into_iter().zip(lines).map(convert).collect()
    }
}

/// The temperature that a column of resting voltages is named for: `ocv_25degC_V`, `ocv_-10degC_V`.
fn temperature_of(name: &str) -> Option<f64> {
    let degrees = name.strip_prefix("ocv_")?.strip_suffix("degC_V")?;
    degrees.parse().ok().filter(|degrees: &f64| degrees.is_finite())
}

/// A resting-voltage table: `soc` from 0 to 1 rising, and a column `ocv_<temperature>degC_V` for
/// one to four temperatures. Other columns are not looked at.
///
/// # Errors
/// What is wrong with the file, with line and value.
pub fn read_resting_curve(path: &Path) -> Result<RestingCurve, TableError> {
    let table = Numbers::read(path, |name| name == "soc" || temperature_of(name).is_some())?;
    let soc = table.quantities("soc", Ratio::from_f64)?;
    let mut columns = Vec::new();
    for name in &table.names {
        if let Some(degrees) = temperature_of(name).and_then(Celsius::from_f64) {
            columns.push((degrees, table.quantities(name, Volts::from_f64)?));
        }
    }
    if columns.is_empty() {
        return Err(table.fail(
            Some(1),
            "has no column named for a temperature, such as `ocv_25degC_V`".to_owned(),
        ));
    }
    columns.sort_by_key(|(degrees, _)| *degrees);
    let columns: Vec<_> =
        columns.iter().map(|(degrees, volts)| (*degrees, volts.as_slice())).collect();
    RestingCurve::new(&soc, &columns).map_err(|fault| {
        let line = fault.point().and_then(|point| table.rows.get(point)).map(|(line, _)| *line);
        table.fail(line, fault.to_string())
    })
}

/// A resistance table: `soc`, `temperature_degC`, `r_dc_10s_1C_ohm` and, where known,
/// `r_dc_1s_1C_ohm`, a row for each pair of charge and temperature, in any order.
///
/// # Errors
/// What is wrong with the file, with line and value.
pub fn read_resistance(path: &Path) -> Result<ResistanceMap, TableError> {
    const TEN: &str = "r_dc_10s_1C_ohm";
    const ONE: &str = "r_dc_1s_1C_ohm";
    let table = Numbers::read(path, |name| ["soc", "temperature_degC", TEN, ONE].contains(&name))?;
    let soc = table.quantities("soc", Ratio::from_f64)?;
    let degrees = table.quantities("temperature_degC", Celsius::from_f64)?;
    let ten = table.quantities(TEN, Ohms::from_f64)?;
    let has_one = table.names.iter().any(|name| name == ONE);
    let one = if has_one { table.quantities(ONE, Ohms::from_f64)? } else { Vec::new() };
    let mut cells = BTreeMap::new();
    for (index, key) in degrees.iter().zip(&soc).enumerate() {
        let line = table.rows.get(index).map(|(line, _)| *line);
        if cells.insert((*key.0, *key.1), index).is_some() {
            let what =
                format!("charge {} at {} degC is given twice", key.1.to_f64(), key.0.to_f64());
            return Err(table.fail(line, what));
        }
    }
    let unique = |mut all: Vec<_>| {
        all.sort_unstable();
        all.dedup();
        all
    };
    let temperatures = unique(degrees.iter().map(|degrees| degrees.to_bits()).collect());
    let temperatures: Vec<_> = temperatures.into_iter().map(Celsius::from_bits).collect();
    let charges = unique(soc.iter().map(|soc| soc.to_bits()).collect());
    let charges: Vec<_> = charges.into_iter().map(Ratio::from_bits).collect();
    // A map in this order has all charges of the first temperature first.
    let ordered = |values: &[Ohms]| {
        cells.values().filter_map(|&index| values.get(index).copied()).collect::<Vec<_>>()
    };
    let (ten_seconds, one_second) = (ordered(&ten), ordered(&one));
    let known = has_one.then_some(one_second.as_slice());
    ResistanceMap::new(&charges, &temperatures, &ten_seconds, known).map_err(|fault| {
        let row = fault.resistance().and_then(|point| cells.values().nth(point));
        let line = row.and_then(|&row| table.rows.get(row)).map(|(line, _)| *line);
        table.fail(line, fault.to_string())
    })
}
