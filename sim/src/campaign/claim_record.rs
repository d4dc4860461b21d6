//! What the handheld said of the way left, and what was left indeed, as CSV: a row per claim.
//!
//! Used by `cli`; the columns are those of docs/files.md, "Claims of range".

use std::io::{self, Write};

use super::Outcome;

const COLUMNS: [&str; 13] = [
    "ride",
    "at_km",
    "at_s",
    "left_km",
    "range_km",
    "range_low_km",
    "energy_left_Wh",
    "energy_expected_Wh",
    "consumption_left_Wh_km",
    "consumption_expected_Wh_km",
    "true_soc",
    "soc",
    "elevation_m",
];

const J_PER_WH: f64 = 3600.0;

/// Writes claims row by row.
#[derive(Debug)]
pub struct ClaimWriter<W: Write> {
    rows: csv::Writer<W>,
}

impl<W: Write> ClaimWriter<W> {
    /// A writer that has written the header.
    ///
    /// # Errors
    /// Those of the sink.
    pub fn new(to: W) -> io::Result<Self> {
        let mut rows = csv::Writer::from_writer(to);
        rows.write_record(COLUMNS)?;
        Ok(Self { rows })
    }

    /// Writes the claims of one ride; none where its range was not measured.
    ///
    /// # Errors
    /// Those of the sink.
    pub fn write(&mut self, ride: &Outcome) -> io::Result<()> {
        let Some((empty_at_m, _)) = ride.range else { return Ok(()) };
        for claim in &ride.claims {
            let left_km = ((empty_at_m - claim.at_m) / 1000.0).max(0.0);
            let left_Wh = (ride.energy_to_empty_J - claim.drawn_J) / J_PER_WH;
            let number = |value: f64, decimals: usize| format!("{value:.decimals$}");
            self.rows.write_record([
                ride.index.to_string(),
                number(claim.at_m / 1000.0, 4),
                number(claim.at_s, 2),
                number(left_km, 4),
                number(claim.likely_m / 1000.0, 4),
                number(claim.low_m / 1000.0, 4),
                number(left_Wh, 3),
                number(claim.energy_J / J_PER_WH, 3),
                if left_km > 0.0 { number(left_Wh / left_km, 3) } else { String::new() },
                number(claim.per_metre_J / J_PER_WH * 1000.0, 3),
                number(claim.true_soc, 6),
                number(claim.soc, 6),
                number(claim.elevation_m, 2),
            ])?;
        }
        Ok(())
    }

    /// The sink, everything written.
    ///
    /// # Errors
    /// Those of the sink.
    pub fn into_inner(self) -> io::Result<W> {
        self.rows.into_inner().map_err(|error| error.into_error())
    }
}
