//! A cell's resistance over charge and temperature, after 1 s and after 10 s of a pulse.
//!
//! Read from the table that a builder has too; asked by `ekf`.

use std::path::Path;

use crate::axis::Axis;
use crate::number_table::NumberTable;
use crate::reference::ReferenceError;

/// What a cell opposes to a pulse.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Resistance {
    /// Over the first second.
    pub after_1s_ohm: f64,
    /// Over the first ten seconds.
    pub after_10s_ohm: f64,
}

/// A grid of resistances; held beyond its edges.
#[derive(Clone, Debug)]
pub struct ResistanceTable {
    soc: Axis,
    temperature_degC: Axis,
    /// By temperature, then by charge.
    grid: Vec<Vec<Resistance>>,
}

impl ResistanceTable {
    /// The grid in `file`: `soc`, `temperature_degC`, `r_dc_10s_1C_ohm`, `r_dc_1s_1C_ohm`, a row
    /// for each charge at each temperature.
    ///
    /// # Errors
    /// Those of [`NumberTable::read`]; [`ReferenceError::NoColumn`];
    /// [`ReferenceError::Table`] if the grid has a hole or a resistance isn't positive.
    pub fn read(file: &Path) -> Result<Self, ReferenceError> {
        let table = NumberTable::read(file)?;
        let (charges, temperatures) = (table.column("soc")?, table.column("temperature_degC")?);
        let slow = table.column("r_dc_10s_1C_ohm")?;
        let fast = table.column("r_dc_1s_1C_ohm")?;
        if slow.iter().chain(fast).any(|&ohm| ohm <= 0.0) {
            return Err(table.refused("a resistance is not positive"));
        }
        let hole = || table.refused("there is not a row for each charge at each temperature");
        let soc = distinct(charges).ok_or_else(hole)?;
        let temperature_degC = distinct(temperatures).ok_or_else(hole)?;
        let at = |soc: f64, temperature_degC: f64| {
            let row = charges.iter().zip(temperatures).position(|(&a, &b)| {
                a.total_cmp(&soc).is_eq() && b.total_cmp(&temperature_degC).is_eq()
            })?;
            Some(Resistance { after_1s_ohm: *fast.get(row)?, after_10s_ohm: *slow.get(row)? })
        };
        let line = |&temperature: &f64| {
            let line = soc.points().iter().map(|&soc| at(soc, temperature));
            line.collect::<Option<Vec<_>>>()
        };
        let grid = temperature_degC.points().iter().map(line);
        let grid = grid.collect::<Option<Vec<_>>>().ok_or_else(hole)?;
        Ok(Self { soc, temperature_degC, grid })
    }

    /// The resistance of one cell.
    #[must_use]
    pub fn at(&self, soc: f64, temperature_degC: f64) -> Resistance {
        let along = self.soc.place(soc);
        let across = self.temperature_degC.place(temperature_degC);
        let read = |quantity: fn(&Resistance) -> f64| {
            across.between(|line| along.between(|point| quantity(&self.grid[line][point])))
        };
        Resistance {
            after_1s_ohm: read(|r| r.after_1s_ohm),
            after_10s_ohm: read(|r| r.after_10s_ohm),
        }
    }
}

fn distinct(values: &[f64]) -> Option<Axis> {
    let mut values = values.to_vec();
    values.sort_by(f64::total_cmp);
    values.dedup_by(|a, b| a.total_cmp(b).is_eq());
    Axis::new(values)
}

#[cfg(test)]
mod tests {
    use super::*;

    const HEADER: &str = "soc,temperature_degC,r_dc_10s_1C_ohm,r_dc_1s_1C_ohm\n";

    fn read(rows: &str) -> Result<ResistanceTable, ReferenceError> {
        let file = tempfile::NamedTempFile::new().unwrap();
        std::fs::write(file.path(), format!("{HEADER}{rows}")).unwrap();
        ResistanceTable::read(file.path())
    }

    #[test]
    fn between_four_points_the_resistance_is_a_mean_of_theirs() {
        let table = read("0.1,0,8,4\n0.9,0,4,2\n0.1,20,4,2\n0.9,20,2,1\n").unwrap();
        let middle = table.at(0.5, 10.0);
        assert!((middle.after_10s_ohm - 4.5).abs() < 1e-12);
        assert!((middle.after_1s_ohm - 2.25).abs() < 1e-12);
        assert_eq!(table.at(0.0, -30.0), table.at(0.1, 0.0));
    }

    #[test]
    fn a_grid_with_a_hole_is_refused() {
        let message = read("0.1,0,8,4\n0.9,0,4,2\n0.1,20,4,2\n").unwrap_err();
        assert!(message.to_string().contains("each temperature"));
        assert!(read("").is_err());
        assert!(read("0.1,0,8,0\n").is_err());
    }
}
