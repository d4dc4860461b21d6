//! What load takes off a cell's voltage: the fits that the library's constants of evidence under load
//! stand on.
//!
//! Exact rows, in windows of sixteen seconds. The drop is what the resting curve promises at the
//! surface's charge, less the mean voltage; it is fitted as a quick part (mean current times the table's
//! one-second resistance) and a slow one (current of the last minute times what the resistance grows by up
//! to ten seconds). The surface's charge is the true one less what the current of late moves in a lead.
//! Written down by `cli::drop`.

use homestretch_sim::ride::RideRow;
use serde::Serialize;

use crate::build::Build;
use crate::reference::Reference;

/// Seconds, as in the library.
const WINDOW: f64 = 16.0;
const OF_LATE: f64 = 67.0;
const LAG: f64 = 134.0;

/// The lead that the library takes, in seconds.
pub const LEAD: f64 = 288.0;

/// Leads that are tried, in seconds.
const LEADS: std::ops::RangeInclusive<u32> = 0..=100;
const LEAD_STEP: f64 = 12.0;

/// A window that swings by less, as a root mean square over the capacity, in 1/h, shows no steepness.
const LEAST_SWING: f64 = 0.1;

/// Means over a window, of a cell.
#[derive(Clone, Copy, Debug)]
struct Window {
    soc: f64,
    temperature_degC: f64,
    voltage_V: f64,
    /// Mean current times the one-second resistance.
    quick_V: f64,
    /// Current of the last minute times what the resistance grows by.
    slow_V: f64,
    /// Share of the charge that the current of late moves in a second.
    lag_per_s: f64,
    /// How voltage falls with current over the one-second resistance, and the current's variance.
    swing: Option<(f64, f64)>,
}

/// A fit of the drop with a given lead.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Fit {
    /// The lead, given.
    pub lead_s: f64,
    /// Drop that follows the current at once, over the table's one-second resistance.
    pub quick: f64,
    /// Drop of the last minute's current, over what the table's resistance grows by.
    pub slow: f64,
    /// What is left, root mean square.
    pub left_mV: f64,
}

/// What a trace shows.
#[derive(Clone, Debug, Serialize)]
pub struct Drop {
    /// Its name.
    pub name: String,
    /// Windows in it.
    pub windows: usize,
    /// How steeply voltage falls with current within a window, over the table's one-second resistance;
    /// windows that swing more count for more. None, where nothing swings.
    pub swing: Option<f64>,
    /// The fit with the library's lead.
    pub fit: Fit,
    /// The fit with the lead that leaves least.
    pub best: Fit,
}

/// What each trace shows; those with fewer than eight windows are left out.
#[must_use]
pub fn drops(references: &[Reference]) -> Vec<Drop> {
    references.iter().filter_map(drop).collect()
}

fn drop(reference: &Reference) -> Option<Drop> {
    let build = &reference.build;
    let windows = windows(&reference.rows, build);
    let swings = windows.iter().filter_map(|window| window.swing);
    let (sum, weight) =
        swings.fold((0.0, 0.0), |(sum, all), (swing, weight)| (sum + swing * weight, all + weight));
    let leads = LEADS.map(|step| f64::from(step) * LEAD_STEP);
    let fits: Vec<Fit> = leads.filter_map(|lead_s| fit(&windows, build, lead_s)).collect();
    let best = fits.iter().min_by(|one, other| one.left_mV.total_cmp(&other.left_mV))?;
    (windows.len() >= 8).then_some(Drop {
        name: reference.name.clone(),
        windows: windows.len(),
        swing: (weight > 0.0).then(|| sum / weight),
        fit: fit(&windows, build, LEAD)?,
        best: *best,
    })
}

/// The current that forgets with `over_s`, after `current` has flowed for `time_s`.
fn lagged(before: f64, current: f64, time_s: f64, over_s: f64) -> f64 {
    before + (current - before) * (1.0 - (-time_s / over_s).exp())
}

fn windows(rows: &[RideRow], build: &Build) -> Vec<Window> {
    let (mut windows, mut from) = (Vec::new(), 0);
    let (mut of_late_A, mut lag_A) = (0.0, 0.0);
    while let Some(first) = rows.get(from) {
        let until_s = first.measured.time_s + WINDOW;
        let length = rows[from..].iter().take_while(|row| row.measured.time_s < until_s).count();
        let Some(span) = rows.get(from..=from + length) else { break };
        from += length;
        let current_A = mean_current_A(span, build);
        let time_s = span[length].measured.time_s - first.measured.time_s;
        let (late_before, lag_before) = (of_late_A, lag_A);
        of_late_A = lagged(of_late_A, current_A, time_s, OF_LATE);
        lag_A = lagged(lag_A, current_A, time_s, LAG);
        if length < 8 || time_s > 2.0 * WINDOW {
            continue;
        }
        let mean = |of: fn(&RideRow) -> f64| {
            #[expect(clippy::cast_precision_loss, reason = "a window has a few hundred rows")]
            let count = length as f64;
            span[..length].iter().map(of).sum::<f64>() / count
        };
        let temperature_degC = mean(|row| row.measured.cell_temperature_degC.unwrap_or(25.0));
        let soc = mean(|row| row.true_soc.unwrap_or(f64::NAN));
        let table = build.resistance.at(soc, temperature_degC);
        let late_A = f64::midpoint(late_before, of_late_A);
        windows.push(Window {
            soc,
            temperature_degC,
            voltage_V: mean(|row| row.measured.pack_voltage_V.unwrap_or(f64::NAN)) / build.series,
            quick_V: current_A * table.after_1s_ohm,
            slow_V: late_A * (table.after_10s_ohm - table.after_1s_ohm),
            lag_per_s: build.share_drawn(f64::midpoint(lag_before, lag_A), 1.0),
            swing: swing(&span[..length], build)
                .map(|(ohm, weight)| (ohm / table.after_1s_ohm, weight)),
        });
    }
    windows
}

fn mean_current_A(span: &[RideRow], build: &Build) -> f64 {
    let current = |row: &RideRow| build.cell_current_A(row.measured.pack_current_A.unwrap_or(0.0));
    let (mut charge_As, mut all_s) = (0.0, 0.0);
    for pair in span.windows(2) {
        let time_s = pair[1].measured.time_s - pair[0].measured.time_s;
        charge_As += f64::midpoint(current(&pair[0]), current(&pair[1])) * time_s;
        all_s += time_s;
    }
    charge_As / all_s
}

/// How voltage falls with current by least squares, and the current's variance; none where it hardly
/// moves.
fn swing(span: &[RideRow], build: &Build) -> Option<(f64, f64)> {
    #[expect(clippy::cast_precision_loss, reason = "a window has a few hundred rows")]
    let count = span.len() as f64;
    let points = span.iter().map(|row| {
        let measured = &row.measured;
        let volts = build.cell_voltage_V(measured.pack_voltage_V.unwrap_or(f64::NAN));
        (build.cell_current_A(measured.pack_current_A.unwrap_or(f64::NAN)), volts)
    });
    let [amperes, volts, both, squares] =
        points.fold([0.0; 4], |[a, v, av, aa], (x, y)| [a + x, v + y, av + x * y, aa + x * x]);
    let variance = squares / count - (amperes / count).powi(2);
    let least = (LEAST_SWING * build.cell_capacity_Ah).powi(2);
    (variance >= least)
        .then(|| ((amperes / count * volts / count - both / count) / variance, variance))
}

/// Least squares of the drop over its two parts.
fn fit(windows: &[Window], build: &Build, lead_s: f64) -> Option<Fit> {
    let drop_V = |window: &Window| {
        let surface = (window.soc - window.lag_per_s * lead_s).clamp(0.0, 1.0);
        build.resting.voltage_V(surface, window.temperature_degC) - window.voltage_V
    };
    let [qq, qs, ss, qd, sd] = windows.iter().fold([0.0; 5], |[qq, qs, ss, qd, sd], window| {
        let (quick, slow, drop) = (window.quick_V, window.slow_V, drop_V(window));
        [
            qq + quick * quick,
            qs + quick * slow,
            ss + slow * slow,
            qd + quick * drop,
            sd + slow * drop,
        ]
    });
    let determinant = qq * ss - qs * qs;
    if determinant <= 0.0 {
        return None;
    }
    let (quick, slow) = ((qd * ss - sd * qs) / determinant, (sd * qq - qd * qs) / determinant);
    let left = |window: &Window| drop_V(window) - quick * window.quick_V - slow * window.slow_V;
    let squares: f64 = windows.iter().map(|window| left(window).powi(2)).sum();
    #[expect(clippy::cast_precision_loss, reason = "a trace has some hundred windows")]
    let count = windows.len() as f64;
    Some(Fit { lead_s, quick, slow, left_mV: 1000.0 * (squares / count).sqrt() })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::path::Path;

    /// A ride whose voltages are exactly those of the model that is fitted.
    fn modelled(quick: f64, slow: f64, lead_s: f64) -> Reference {
        let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("data");
        let mut reference = Reference::read(&data, "hot-noon").unwrap();
        let build = reference.build.clone();
        let (mut late_A, mut lag_A) = (0.0, 0.0);
        let mut before = reference.rows[0].measured.clone();
        for row in &mut reference.rows {
            let time_s = row.measured.time_s - before.time_s;
            let current_A = build.cell_current_A(row.measured.pack_current_A.unwrap());
            late_A = lagged(late_A, current_A, time_s, OF_LATE);
            lag_A = lagged(lag_A, current_A, time_s, LAG);
            let (soc, degC) = (row.true_soc.unwrap(), row.measured.cell_temperature_degC.unwrap());
            let table = build.resistance.at(soc, degC);
            let surface = soc - build.share_drawn(lag_A, 1.0) * lead_s;
            let grown = table.after_10s_ohm - table.after_1s_ohm;
            let drop = quick * current_A * table.after_1s_ohm + slow * late_A * grown;
            let volts = build.resting.voltage_V(surface, degC) - drop;
            row.measured.pack_voltage_V = Some(volts * build.series);
            before = row.measured.clone();
        }
        reference
    }

    #[test]
    fn a_drop_that_is_as_modelled_is_found() {
        let [drop] = drops(&[modelled(1.2, 2.0, LEAD)]).try_into().unwrap();
        assert!((drop.fit.quick - 1.2).abs() < 0.06, "{drop:?}");
        assert!((drop.fit.slow - 2.0).abs() < 0.6, "{drop:?}");
        assert!(drop.fit.left_mV < 1.5 && (drop.best.lead_s - LEAD).abs() < 60.0, "{drop:?}");
        assert!((drop.swing.unwrap() - 1.2).abs() < 0.1, "{drop:?}");
    }
}
