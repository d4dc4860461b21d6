//! A cell's resting voltage over its state of charge, by temperature.
//!
//! Read from the table that a builder has too; asked by `counting` and `ekf`. Straight lines
//! between the points, in charge as in temperature; held beyond the ends.

use std::path::Path;

use crate::axis::Axis;
use crate::number_table::NumberTable;
use crate::reference::ReferenceError;

/// Half of the step over which the slope is taken. The tables have a point each 1 % of charge:
/// one whole cell on each side smooths the corners and keeps the shape.
const SLOPE_STEP: f64 = 0.01;

/// Halvings until a state of charge is found: a ten-thousandth of a percent, and to spare.
const HALVINGS: u32 = 30;

/// The resting curve of a cell.
#[derive(Clone, Debug)]
pub struct RestingCurve {
    soc: Axis,
    temperature_degC: Axis,
    /// One curve per temperature.
    curves_V: Vec<Vec<f64>>,
}

impl RestingCurve {
    /// The curve in `file`: `soc` and columns such as `ocv_25degC_V`. Others aren't looked at,
    /// nor are rows that repeat the one before, as the reference tables do where their steps
    /// become finer.
    ///
    /// # Errors
    /// Those of [`NumberTable::read`]; [`ReferenceError::NoColumn`];
    /// [`ReferenceError::Table`] if charge doesn't rise or a voltage falls.
    pub fn read(file: &Path) -> Result<Self, ReferenceError> {
        let table = NumberTable::read(file)?;
        let charges = table.column("soc")?;
        let kept: Vec<usize> =
            (0..charges.len()).filter(|&row| row == 0 || !table.repeats_row_before(row)).collect();
        let keep = |column: &[f64]| kept.iter().map(|&row| column[row]).collect::<Vec<_>>();
        let soc = Axis::new(keep(charges))
            .filter(|soc| soc.points().len() > 1)
            .ok_or_else(|| table.refused("`soc` has to rise, over two points or more"))?;
        let mut curves: Vec<(f64, Vec<f64>)> = table
            .names()
            .iter()
            .filter_map(|name| Some((temperature_degC(name)?, keep(table.find(name)?))))
            .collect();
        if curves.is_empty() {
            table.column("ocv_25degC_V")?;
        }
        if (curves.iter()).any(|(_, curve)| curve.windows(2).any(|pair| pair[0] > pair[1])) {
            return Err(table.refused("a resting voltage falls while the charge rises"));
        }
        curves.sort_by(|a, b| a.0.total_cmp(&b.0));
        let (temperatures, curves_V) = curves.into_iter().unzip();
        let temperature_degC = Axis::new(temperatures)
            .ok_or_else(|| table.refused("two columns are for the same temperature"))?;
        Ok(Self { soc, temperature_degC, curves_V })
    }

    /// The voltage of a cell at rest.
    #[must_use]
    pub fn voltage_V(&self, soc: f64, temperature_degC: f64) -> f64 {
        let along = self.soc.place(soc);
        self.temperature_degC
            .place(temperature_degC)
            .between(|curve| along.between(|point| self.curves_V[curve][point]))
    }

    /// How the voltage rises with charge: volts per whole charge, 0 or more.
    #[must_use]
    pub fn slope_V(&self, soc: f64, temperature_degC: f64) -> f64 {
        let low = (soc - SLOPE_STEP).clamp(0.0, 1.0 - SLOPE_STEP);
        let high = (soc + SLOPE_STEP).clamp(SLOPE_STEP, 1.0);
        let rise_V = self.voltage_V(high, temperature_degC) - self.voltage_V(low, temperature_degC);
        rise_V / (high - low)
    }

    /// The state of charge, 0 to 1, of a cell that rests at `voltage_V`.
    #[must_use]
    pub fn soc(&self, voltage_V: f64, temperature_degC: f64) -> f64 {
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..HALVINGS {
            let middle = f64::midpoint(low, high);
            if self.voltage_V(middle, temperature_degC) < voltage_V {
                low = middle;
            } else {
                high = middle;
            }
        }
        f64::midpoint(low, high)
    }
}

/// 25 for `ocv_25degC_V`.
fn temperature_degC(name: &str) -> Option<f64> {
    let number = name.strip_prefix("ocv_")?.strip_suffix("degC_V")?;
    number.parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<RestingCurve, ReferenceError> {
        let file = tempfile::NamedTempFile::new().unwrap();
        std::fs::write(file.path(), text).unwrap();
        RestingCurve::read(file.path())
    }

    #[test]
    fn the_voltage_follows_charge_and_temperature() {
        let curve =
            read("soc,ocv_25degC_V,after_charge_25degC_V,ocv_0degC_V\n0,3,9,2\n1,4,9,3.5\n");
        let curve = curve.unwrap();
        assert!((curve.voltage_V(0.5, 25.0) - 3.5).abs() < 1e-12);
        assert!((curve.voltage_V(0.5, -9.0) - 2.75).abs() < 1e-12);
        assert!((curve.voltage_V(0.0, 12.5) - 2.5).abs() < 1e-12);
        assert!((curve.slope_V(0.3, 0.0) - 1.5).abs() < 1e-9);
    }

    #[test]
    fn charge_found_from_a_voltage_rests_at_that_voltage() {
        let curve = read("soc,ocv_25degC_V\n0,3\n0.4,3.2\n1,4\n").unwrap();
        for soc in [0.01, 0.2, 0.39, 0.7, 0.99] {
            let voltage_V = curve.voltage_V(soc, 25.0);
            assert!((curve.soc(voltage_V, 25.0) - soc).abs() < 1e-6, "{soc}");
        }
        assert!(curve.soc(1.0, 25.0) < 1e-6 && curve.soc(5.0, 25.0) > 1.0 - 1e-6);
    }

    #[test]
    fn a_row_that_stands_twice_counts_once() {
        let curve = read("soc,ocv_25degC_V\n0,3\n0.5,3.5\n0.5,3.5\n1,4\n").unwrap();
        assert!((curve.voltage_V(0.75, 25.0) - 3.75).abs() < 1e-12);
    }

    #[test]
    fn a_table_that_is_no_curve_is_refused_with_its_fault() {
        for (text, fault) in [
            ("soc\n0\n1\n", "no column `ocv_25degC_V`"),
            ("soc,ocv_25degC_V\n0,3\n0,4\n", "`soc` has to rise"),
            ("soc,ocv_25degC_V\n0,3\n0,3\n", "two points"),
            ("soc,ocv_25degC_V\n0,3\n", "two points"),
            ("soc,ocv_25degC_V\n0,3\n1,2\n", "falls"),
            ("soc,ocv_25degC_V\n0,3\n1,high\n", "line 3"),
        ] {
            let message = read(text).unwrap_err().to_string();
            assert!(message.contains(fault), "{message}");
        }
    }
}
