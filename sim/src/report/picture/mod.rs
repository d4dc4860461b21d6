//! One ride as a picture that a builder would show a friend: charge, pack, speed, thumb and range
//! over a shared time axis, as SVG and as PNG.
//!
//! Fed row by row by `replay` and `world`, written by `cli`. The rows pass through `thinning`, so
//! that a ride of any length needs the same memory. The SVG is drawn once, by `page`; the PNG is
//! that very SVG painted by `raster`, with lettering carried in the program: no font of the machine
//! is looked for.
//! Source: common practice, no source.

mod axis;
mod canvas;
mod cloud;
mod homeward;
mod lettering;
mod lines;
mod page;
mod palette;
mod panel;
mod raster;
mod series;
mod thinning;
mod trace;
mod way_home;

#[cfg(test)]
mod tests;

use std::io::{self, Write as _};
use std::path::PathBuf;

pub use cloud::Cloud;
pub use lines::{Curve, CurvePanel, curves};
pub use way_home::HomePicture;

use series::Series;
use thinning::Bins;

use crate::atomic_file::AtomicFile;

/// One row of a ride, as it is to be seen.
///
/// A value that is not finite counts as missing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sample {
    /// Seconds, rising; only differences matter.
    pub time_s: f64,
    /// Charge as the handheld believed it, 0 to 1.
    pub soc: f64,
    /// Lower end of the interval in which charge lies nine times in ten, 0 to 1.
    pub soc_low: f64,
    /// Upper end of that interval, 0 to 1.
    pub soc_high: f64,
    /// Charge as it really was, 0 to 1, where that is known.
    pub true_soc: Option<f64>,
    /// Voltage of the whole pack.
    pub pack_voltage_V: Option<f64>,
    /// Current of the whole pack, discharge positive.
    pub pack_current_A: Option<f64>,
    /// Speed over ground, forward positive.
    pub speed_m_s: Option<f64>,
    /// Distance that the charge is likely to last.
    pub range_km: f64,
    /// Distance that it lasts nine times in ten.
    pub range_low_km: f64,
    /// What the thumb was allowed to do, drive positive, brake negative.
    pub allowed_m_s2: f64,
    /// What the thumb asked for by the board's curves, where a thumb was recorded.
    pub asked_m_s2: Option<f64>,
    /// Whether telemetry came through.
    pub link_ok: bool,
}

/// The words over the picture.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Heading {
    /// Name of the board.
    pub board: String,
    /// Name of the ride's file.
    pub ride: String,
    /// What came of the ride, in one line: "93 % to 66 % charge, 10.5 km".
    pub result: String,
}

/// Why there is no picture.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum PictureError {
    /// No row held a value that can be drawn.
    #[error("the ride `{ride}` holds nothing to draw ({rows} rows)")]
    Empty {
        /// Name of the ride's file, as in the heading.
        ride: String,
        /// How many rows were given.
        rows: u64,
    },
    /// The picture could not be drawn.
    #[error("the picture could not be drawn: {reason}")]
    Drawing {
        /// What the drawing library said.
        reason: String,
    },
    /// The file's name ends with something else than `.svg` or `.png`.
    #[error("`{}` is neither .svg nor .png: name the picture with one of the two endings", path.display())]
    UnknownFormat {
        /// The file that was asked for.
        path: PathBuf,
    },
    /// The file could not be written; what was there before is still there.
    #[error("cannot write the picture `{}`", path.display())]
    Write {
        /// The file that was asked for.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
}

/// Gathers a ride, row by row, in a few megabytes however long it is.
#[derive(Debug)]
pub struct PictureBuilder {
    rows: u64,
    bins: Bins,
}

impl Default for PictureBuilder {
    fn default() -> Self {
        Self::new()
    }
}

impl PictureBuilder {
    /// A builder that has seen no row yet.
    #[must_use]
    pub fn new() -> Self {
        Self { rows: 0, bins: Bins::new() }
    }

    /// Takes one more row.
    ///
    /// A row whose time is not a finite number is left out. A row whose time lies before that of
    /// the row before it is drawn at the time of the row before it.
    pub fn push(&mut self, sample: &Sample) {
        self.rows = self.rows.saturating_add(1);
        self.bins.push(sample.time_s, &Series::values(sample), !sample.link_ok);
    }

    /// The picture of all rows taken, under a heading.
    ///
    /// # Errors
    /// [`PictureError::Empty`] if no row held a value that can be drawn, [`PictureError::Drawing`]
    /// if the drawing library refuses.
    pub fn finish(self, heading: &Heading) -> Result<Picture, PictureError> {
        match page::draw(heading, &self.bins)? {
            Some(svg) => Ok(Picture { svg }),
            None => Err(PictureError::Empty { ride: heading.ride.clone(), rows: self.rows }),
        }
    }
}

/// A drawn ride, 1200 by 1100 pixels. The same rows give the same bytes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Picture {
    svg: String,
}

impl Picture {
    /// The picture as SVG text.
    #[must_use]
    pub fn svg(&self) -> &str {
        &self.svg
    }

    /// The picture as the bytes of a PNG file.
    ///
    /// # Errors
    /// [`PictureError::Drawing`] if the SVG cannot be painted.
    pub fn png(&self) -> Result<Vec<u8>, PictureError> {
        raster::png(&self.svg)
    }

    /// Writes the picture into a file that was opened for it: as PNG where the file's name ends
    /// with `.png`, as SVG where it ends with `.svg`.
    ///
    /// # Errors
    /// [`PictureError::Drawing`] if the SVG cannot be painted, [`PictureError::Write`] if the file
    /// cannot be written.
    pub fn write(&self, target: Target) -> Result<(), PictureError> {
        let bytes = match target.format {
            Format::Svg => self.svg.clone().into_bytes(),
            Format::Png => self.png()?,
        };
        let Target { path, mut file, .. } = target;
        let written = file.write_all(&bytes).and_then(|()| file.finish());
        written.map_err(|source| PictureError::Write { path, source })
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Format {
    Svg,
    Png,
}

/// A file for a picture, opened before the long run so that a bad path is found at once.
#[derive(Debug)]
pub struct Target {
    path: PathBuf,
    format: Format,
    file: AtomicFile,
}

impl Target {
    /// A file that will hold a picture once one is written into it.
    ///
    /// # Errors
    /// [`PictureError::UnknownFormat`] for an ending other than `.svg` and `.png`,
    /// [`PictureError::Write`] if the file cannot be made.
    pub fn create(path: PathBuf) -> Result<Self, PictureError> {
        let ending = path.extension().map(|ending| ending.to_ascii_lowercase());
        let format = match ending.as_deref().and_then(|ending| ending.to_str()) {
            Some("svg") => Format::Svg,
            Some("png") => Format::Png,
            _ => return Err(PictureError::UnknownFormat { path }),
        };
        match AtomicFile::create(&path) {
            Ok(file) => Ok(Self { path, format, file }),
            Err(source) => Err(PictureError::Write { path, source }),
        }
    }
}
