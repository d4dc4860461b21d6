//! What the handheld knew, as a CSV file: a row per row of the ride.
//!
//! Written by `cli`; the columns are those of docs/files.md, "Estimates".

use std::io::{self, Write};

use super::EstimateRow;

/// Writes estimates row by row.
#[derive(Debug)]
pub struct EstimatesWriter<W: Write> {
    to: W,
}

impl<W: Write> EstimatesWriter<W> {
    /// A writer that has written the header.
    ///
    /// # Errors
    /// Those of the sink.
    pub fn new(mut to: W) -> io::Result<Self> {
        writeln!(
            to,
            "time_s,soc,soc_low,soc_high,range_km,range_low_km,capacity_Ah,resistance_scale"
        )?;
        Ok(Self { to })
    }

    /// Writes one row.
    ///
    /// # Errors
    /// Those of the sink.
    pub fn write(&mut self, row: &EstimateRow) -> io::Result<()> {
        let EstimateRow {
            time_s,
            soc,
            soc_low,
            soc_high,
            range_km,
            range_low_km,
            capacity_Ah,
            resistance_scale,
        } = row;
        writeln!(
            self.to,
            "{time_s},{soc:.6},{soc_low:.6},{soc_high:.6},{range_km:.4},{range_low_km:.4},{capacity_Ah:.5},{resistance_scale:.4}"
        )
    }

    /// The sink, everything written.
    #[must_use]
    pub fn into_inner(self) -> W {
        self.to
    }
}
