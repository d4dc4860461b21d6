//! A schedule as CSV: `time_s`, and `speed_m_s` or `speed_km_h`.
//!
//! Every fault comes at once, with its line. Made for `schedule`.

use std::path::Path;

use super::csv_file::{Sheet, number};
use super::error::ScheduleError;
use super::fault::{FileFault, RouteFileError};
use super::schedule::{Point, Schedule, check};
use super::text_of;
use super::track::stem;

const TIME: &str = "time_s";
const METRES: &str = "speed_m_s";
const KILOMETRES: &str = "speed_km_h";

impl Schedule {
    /// The schedule in a CSV file, named as the file.
    ///
    /// # Errors
    /// Every fault of the file, each with its line.
    pub fn open(path: impl AsRef<Path>) -> Result<Self, RouteFileError> {
        let path = path.as_ref();
        Self::read_csv(&text_of(path)?, path)
    }

    /// The schedule in a CSV text; `file` is its name in messages and, without its ending, that of
    /// the schedule.
    ///
    /// # Errors
    /// Every fault of the text, each with its line.
    pub fn read_csv(text: &str, file: &Path) -> Result<Self, RouteFileError> {
        let mut faults = Vec::new();
        let Sheet { columns, rows } = Sheet::read(text, &[TIME, METRES, KILOMETRES], &mut faults);
        let has = |column| columns.contains(&column);
        if faults.is_empty() && !(has(TIME) && has(METRES) != has(KILOMETRES)) {
            let what = format!("columns {TIME} and one of {METRES}, {KILOMETRES} are wanted");
            faults.push(FileFault::at(1, what));
        }
        let mut points = Vec::with_capacity(rows.len());
        let mut before_s = None;
        for row in &rows {
            let mut point = Point { time_s: 0.0, speed_m_s: 0.0 };
            let mut whole = true;
            for (column, field) in columns.iter().zip(&row.fields) {
                match number(field) {
                    Some(value) if *column == TIME => point.time_s = value,
                    Some(value) if *column == KILOMETRES => point.speed_m_s = value / 3.6,
                    Some(value) => point.speed_m_s = value,
                    None => {
                        whole = false;
                        let what = format!("{column} is `{field}`; a number is wanted");
                        faults.push(FileFault::at(row.line, what));
                    }
                }
            }
            if !whole {
                continue;
            }
            points.push(point);
            if let Err(error) = check(point, points.len(), before_s) {
                faults.push(FileFault::at(row.line, error.to_string()));
            }
            before_s = Some(point.time_s);
        }
        if faults.is_empty() {
            match Self::new(&stem(file), points) {
                Ok(schedule) => return Ok(schedule),
                Err(error) => faults.push(of_whole(&error)),
            }
        }
        Err(RouteFileError::new(file, faults))
    }
}

fn of_whole(error: &ScheduleError) -> FileFault {
    FileFault::of_file(error.to_string())
}
