//! Where the vehicle rides, and how fast: routes by distance, and speed schedules by time.
//!
//! A [`Route`] is built once, from segments written by hand ([`Outline`], TOML, CSV) or from a
//! recorded track (GPX), and then looked up at every step of the plant. A [`Schedule`] is a table
//! of speed against time, of one's own or a published one. Nothing here moves by itself: the rider
//! and the plant ask where they are.
//!
//! In the order of the data: `toml_file`, `csv_file` and `track` read; `draft` makes an outline of
//! what was read; [`Route`] checks and prepares it; `even_index` finds a place in constant time.

mod csv_file;
mod draft;
mod error;
mod even_index;
mod fault;
mod geodesy;
mod monotone;
mod outline;
mod prepared;
mod profile;
mod schedule;
mod schedule_file;
mod surface;
mod toml_file;
mod track;
mod way;

use std::path::Path;

pub use error::{Place, Quantity, RouteError, RouteErrors, ScheduleError};
pub use fault::{FileFault, RouteFileError};
pub use outline::{Outline, Segment, Slope, Stop, Wind};
pub use prepared::{Here, Route};
pub use schedule::{Point, Schedule};
pub use surface::Surface;
pub use track::{TrackSettings, WithoutElevation};
pub use way::Way;

impl Route {
    /// The route in a file, by the file's ending: `.toml`, `.csv`, or `.gpx` with the usual
    /// [`TrackSettings`].
    ///
    /// # Errors
    /// Every fault of the file, with its line where one is known.
    pub fn open(path: impl AsRef<Path>) -> Result<Self, RouteFileError> {
        let path = path.as_ref();
        let ending = path.extension().and_then(|ending| ending.to_str()).unwrap_or_default();
        match ending.to_ascii_lowercase().as_str() {
            "toml" => Self::read_toml(&text_of(path)?, path),
            "csv" => Self::read_csv(&text_of(path)?, path),
            "gpx" => Self::read_gpx(&text_of(path)?, path, &TrackSettings::default()),
            other => {
                let what = format!("a route ends in .toml, .csv or .gpx, not in `.{other}`");
                Err(RouteFileError::one(path, FileFault::of_file(what)))
            }
        }
    }
}

/// The text of a file; a mark of its byte order, as some editors write it, is not part of it.
fn text_of(path: &Path) -> Result<String, RouteFileError> {
    let refused = |what: String| RouteFileError::one(path, FileFault::of_file(what));
    let bytes = std::fs::read(path).map_err(|error| refused(format!("cannot be read: {error}")))?;
    let text = String::from_utf8(bytes).map_err(|_| refused("is not UTF-8 text".to_owned()))?;
    Ok(text.strip_prefix('\u{feff}').map_or_else(|| text.clone(), str::to_owned))
}

#[cfg(test)]
mod tests;
