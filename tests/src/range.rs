//! How far what the library says of the way left is from what was really left, on traces that were
//! ridden to empty, beside what is common practice.
//!
//! Common practice: charge times nominal capacity times nominal volts, over the energy per distance so
//! far. It is given the *true* charge and exact sensors here, which no handheld has.
//! A trace counts where its vehicle was ridden until it crept; the way left is that to its end.
//! Driven by `cli`; the traces' own README says how their truth is defined.

use anyhow::Context as _;
use homestretch_sim::board_file::BoardFile;
use homestretch_sim::replay::Replay;
use homestretch_sim::ride::RideRow;
use rayon::prelude::*;
use serde::Serialize;

use crate::board_file;
use crate::reference::Reference;
use crate::spoiled::{self, Spoiling};

/// The first kilometre is for learning.
const LEARNED_AFTER_M: f64 = 1000.0;

/// What remains of the way is scored down to here: a share of less says nothing.
const SCORED_DOWN_TO_M: f64 = 100.0;

/// A trace was ridden to empty where its pack ends within this of the controller's cutoff, per cell,
/// while riding.
const CREEPS_WITHIN_V: f64 = 0.1;

/// Nominal volts of a cell, as on its wrapper: nickel-rich and other oxides 3.6 V, iron phosphate 3.2 V.
/// From memory.
const NOMINAL_V: (f64, f64) = (3.6, 3.2);

/// Sizes of errors over the way left, of many claims.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Errors {
    /// How many claims.
    pub claims: usize,
    /// Half of them are at most so far off, in percent of the way left.
    pub median_percent: f64,
    /// Nine in ten are.
    pub nine_in_ten_percent: f64,
    /// The median of the signed errors: above zero where too much was told.
    pub bias_percent: f64,
}

impl Errors {
    fn of(signed: &[f64]) -> Self {
        let at = |mut sorted: Vec<f64>, part: usize| {
            sorted.sort_by(f64::total_cmp);
            sorted.get((sorted.len().saturating_sub(1)) * part / 10).copied().unwrap_or(f64::NAN)
        };
        let sizes = || signed.iter().map(|error| error.abs() * 100.0).collect();
        Self {
            claims: signed.len(),
            median_percent: at(sizes(), 5),
            nine_in_ten_percent: at(sizes(), 9),
            bias_percent: at(signed.iter().map(|error| error * 100.0).collect(), 5),
        }
    }
}

/// A trace that was ridden to empty.
#[derive(Clone, Debug, Serialize)]
pub struct Told {
    /// Its name.
    pub name: String,
    /// Kilometres to where the vehicle crept.
    pub empty_at_km: f64,
    /// The library, seen through spoiled sensors.
    pub ours: Errors,
    /// How often the way that is met nine times in ten was, of ten.
    pub met: f64,
    /// Common practice, with the true charge.
    pub common: Errors,
}

/// The scores of all traces of `references` that were ridden to empty, over `seeds` sets of sensors.
///
/// # Errors
/// Those of writing and reading board files and of the sensors, with the trace's name.
pub fn told(references: &[Reference], seeds: &[u64]) -> anyhow::Result<Vec<Told>> {
    let folder = tempfile::tempdir().context("a folder for board files")?;
    let emptied: Vec<&Reference> = references.iter().filter(|trace| is_emptied(trace)).collect();
    emptied
        .par_iter()
        .map(|reference| {
            let path = board_file::write(reference, folder.path())?;
            let board = BoardFile::open(path)?;
            of_trace(reference, &board, seeds).with_context(|| reference.name.clone())
        })
        .collect()
}

/// Whether the vehicle was ridden until its controller held it back.
fn is_emptied(reference: &Reference) -> bool {
    if !reference.facts.segments.is_empty() {
        return false;
    }
    let cutoff_V = reference.facts.controller_cutoff_V_per_cell * f64::from(reference.facts.series);
    let near_V = cutoff_V + CREEPS_WITHIN_V * f64::from(reference.facts.series);
    let moving = |row: &&RideRow| row.measured.speed_m_s.is_some_and(|speed| speed > 0.1);
    let last_moving = reference.rows.iter().rev().filter(moving).take(300);
    last_moving.filter_map(|row| row.measured.pack_voltage_V).any(|volts| volts < near_V)
}

fn of_trace(reference: &Reference, board: &BoardFile, seeds: &[u64]) -> anyhow::Result<Told> {
    let end_m = reference.rows.iter().rev().find_map(|row| row.measured.distance_m).unwrap_or(0.0);
    let (mut ours, mut met) = (Vec::new(), 0_u32);
    for &seed in seeds {
        let rows = spoiled::rows(reference, Spoiling { seed: Some(seed), with_temperature: true })?;
        let mut replay = Replay::new(&board.board, &board.throttle, None);
        // The same row of the exact trace says where the vehicle truly was.
        for (row, exact) in rows.iter().zip(&reference.rows) {
            let output = replay.live(&row.measured);
            let told = replay.estimate(&row.measured, &output);
            let Some(left_m) = left_m(exact, end_m) else { continue };
            ours.push(told.range_km * 1000.0 / left_m - 1.0);
            met += u32::from(told.range_low_km * 1000.0 <= left_m);
        }
    }
    let claims = u32::try_from(ours.len()).unwrap_or(u32::MAX);
    Ok(Told {
        name: reference.name.clone(),
        empty_at_km: end_m / 1000.0,
        met: f64::from(met) / f64::from(claims.max(1)),
        ours: Errors::of(&ours),
        common: Errors::of(&common_practice(reference, end_m)),
    })
}

/// The way left at a row that is scored.
fn left_m(row: &RideRow, end_m: f64) -> Option<f64> {
    let at_m = row.measured.distance_m?;
    let left_m = end_m - at_m;
    (at_m >= LEARNED_AFTER_M && left_m >= SCORED_DOWN_TO_M).then_some(left_m)
}

/// The errors of common practice, on the exact rows and with their true charge.
fn common_practice(reference: &Reference, end_m: f64) -> Vec<f64> {
    let build = &reference.build;
    let phosphate = reference.facts.chemistry.contains("LFP");
    let nominal_V = if phosphate { NOMINAL_V.1 } else { NOMINAL_V.0 } * build.series;
    let full_Wh = build.cell_capacity_Ah * build.parallel * nominal_V;
    let (mut drawn_Wh, mut before_s, mut errors) = (0.0, None, Vec::new());
    for row in &reference.rows {
        let measured = &row.measured;
        let watts = measured.pack_voltage_V.zip(measured.pack_current_A);
        if let (Some((volts, amperes)), Some(before_s)) = (watts, before_s) {
            drawn_Wh += volts * amperes * (measured.time_s - before_s) / 3600.0;
        }
        before_s = Some(measured.time_s);
        let (Some(left_m), Some(soc)) = (left_m(row, end_m), row.true_soc) else { continue };
        let per_m = drawn_Wh / measured.distance_m.unwrap_or(end_m);
        errors.push(soc * full_Wh / per_m / left_m - 1.0);
    }
    errors
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn errors_are_sorted_by_size() {
        let errors = Errors::of(&[-0.2, 0.1, 0.0, 0.3, -0.4]);
        assert_eq!(errors.claims, 5);
        assert!((errors.median_percent - 20.0).abs() < 1e-9);
        assert!((errors.bias_percent - 0.0).abs() < 1e-9);
    }
}
