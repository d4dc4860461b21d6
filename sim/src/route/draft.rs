//! What a route file says, key by key with its lines, on its way to an outline.
//!
//! Filled by `toml_file` and `csv_file`. What a segment does not say comes from the top of the
//! file; whether values are allowed is left to [`Route::new`], whose errors get their lines here.

use std::collections::BTreeMap;
use std::path::Path;

use super::error::{Place, Quantity, RouteError};
use super::fault::{FileFault, RouteFileError, shown};
use super::outline::{Outline, Segment, Slope, Stop, Wind};
use super::prepared::Route;
use super::surface::Surface;
use super::way::Way;

/// The keys of a segment.
pub(super) const SEGMENT_KEYS: [&str; 10] = [
    "length_m",
    "grade_percent",
    "end_elevation_m",
    "surface",
    "speed_wish_m_s",
    "headwind_m_s",
    "wind_m_s",
    "wind_from_deg",
    "heading_deg",
    "stop_for_s",
];
/// The keys of a stop.
pub(super) const STOP_KEYS: [&str; 2] = ["at_m", "stop_for_s"];
/// The keys of the top, besides `segment` and `stop`.
pub(super) const TOP_KEYS: [&str; 7] =
    ["name", "start_elevation_m", "way", "surface", "speed_wish_m_s", "wind_m_s", "wind_from_deg"];

/// Where a file does not say: 25 km/h, as boards of this kind are often limited to.
const SPEED_WISH_M_S: f64 = 7.0;

/// A value of a file.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Value {
    Number(f64),
    Text(String),
    /// Neither, as a message names it.
    Other(String),
}

/// The values of one part of a file.
#[derive(Clone, Debug, Default)]
pub(super) struct Entry {
    line: usize,
    values: BTreeMap<&'static str, (Value, usize)>,
}

impl Entry {
    /// Nothing yet, of a part that begins at a line.
    pub(super) fn at(line: usize) -> Self {
        Self { line, values: BTreeMap::new() }
    }

    pub(super) fn put(&mut self, key: &'static str, value: Value, line: usize) {
        self.values.insert(key, (value, line));
    }

    fn line_of(&self, key: &str) -> usize {
        self.values.get(key).map_or(self.line, |(_, line)| *line)
    }
}

/// What a route file says.
#[derive(Debug, Default)]
pub(super) struct Draft {
    pub(super) name: String,
    pub(super) top: Entry,
    pub(super) segments: Vec<Entry>,
    pub(super) stops: Vec<Entry>,
}

impl Draft {
    /// Takes a first row of no length for the start.
    pub(super) fn start_from_first(&mut self) {
        let is_start = |entry: &Entry| {
            matches!(entry.values.get("length_m"), Some((Value::Number(length_m), _)) if length_m.abs() <= 0.0)
                && entry.values.contains_key("end_elevation_m")
        };
        if !self.segments.first().is_some_and(is_start) {
            return;
        }
        if let Some((value, line)) = self.segments.remove(0).values.remove("end_elevation_m") {
            self.top.put("start_elevation_m", value, line);
        }
    }

    /// The route, or every fault found here and before.
    pub(super) fn into_route(
        self,
        file: &Path,
        faults: Vec<FileFault>,
    ) -> Result<Route, RouteFileError> {
        let mut reading = Reading { faults };
        let (outline, stop_entries) = reading.outline(&self);
        let mut faults = reading.faults;
        let made = Route::new(&outline);
        match made {
            Ok(route) if faults.is_empty() => return Ok(route),
            Ok(_) => {}
            Err(errors) => {
                let new = errors.0.iter().filter(|error| self.is_new(error, &faults));
                let told: Vec<_> = new.map(|error| self.placed(error, &stop_entries)).collect();
                faults.extend(told);
            }
        }
        Err(RouteFileError::new(file, faults))
    }

    /// Whether an error says more than was told while the values were read.
    fn is_new(&self, error: &RouteError, told: &[FileFault]) -> bool {
        let was_number = |number: &usize| {
            let entry = self.segments.get(number.saturating_sub(1));
            let length = entry.and_then(|entry| entry.values.get("length_m"));
            matches!(length, Some((Value::Number(_), _)))
        };
        match error {
            RouteError::Empty => told.is_empty(),
            RouteError::OutOfRange {
                place: Place::Segment(number),
                quantity: Quantity::Length,
                ..
            } => was_number(number),
            RouteError::OutOfRange { .. }
            | RouteError::TooSteep { .. }
            | RouteError::HeadingMissing { .. }
            | RouteError::TooLong { .. } => true,
        }
    }

    /// A fault of the outline with its line.
    fn placed(&self, error: &RouteError, stop_entries: &[(Place, &Entry)]) -> FileFault {
        let (place, key) = error.culprit();
        let key = key.unwrap_or_default();
        let segment = |number: usize| self.segments.get(number.saturating_sub(1));
        let (entry, what) = match place {
            Place::Whole => (Some(&self.top), error.to_string()),
            Place::Segment(number) => (segment(number), error.to_string()),
            Place::Stop(number) => match stop_entries.get(number.saturating_sub(1)) {
                Some((named, entry)) => {
                    let what = error.to_string();
                    let rest = what.split_once(": ").map_or(what.as_str(), |(_, rest)| rest);
                    (Some(*entry), format!("{named}: {rest}"))
                }
                None => (None, error.to_string()),
            },
        };
        // What a segment took from the top of the file is wrong there.
        let from_top = matches!(place, Place::Segment(_))
            && entry.is_some_and(|entry| !entry.values.contains_key(key))
            && self.top.values.contains_key(key);
        let entry = if from_top { Some(&self.top) } else { entry };
        match entry.map(|entry| entry.line_of(key)) {
            Some(line) if line > 0 => FileFault::at(line, what),
            _ => FileFault::of_file(what),
        }
    }
}

/// Turns entries into an outline, and notes what is of the wrong kind or missing.
struct Reading {
    faults: Vec<FileFault>,
}

impl Reading {
    /// The outline and, by the number of its stop, where that stop stands in the file.
    fn outline<'d>(&mut self, draft: &'d Draft) -> (Outline, Vec<(Place, &'d Entry)>) {
        let top = &draft.top;
        let mut outline = Outline {
            name: self.text(top, "name").unwrap_or_else(|| draft.name.clone()),
            start_elevation_m: self.number(Place::Whole, top, "start_elevation_m").unwrap_or(0.0),
            way: self
                .word(Place::Whole, top, "way", &Way::ALL.map(Way::name))
                .as_deref()
                .and_then(Way::from_name)
                .unwrap_or_default(),
            ..Outline::default()
        };
        let usual = Usual {
            surface: self.surface(Place::Whole, top).unwrap_or_default(),
            speed_wish_m_s: self
                .number(Place::Whole, top, "speed_wish_m_s")
                .unwrap_or(SPEED_WISH_M_S),
            wind: self.wind(Place::Whole, top),
        };
        let mut stop_entries = Vec::new();
        let mut end_m = 0.0;
        for (entry, number) in draft.segments.iter().zip(1..) {
            let place = Place::Segment(number);
            let segment = self.segment(place, entry, &usual);
            end_m += segment.length_m;
            outline.segments.push(segment);
            if let Some(wait_s) = self.number(place, entry, "stop_for_s") {
                outline.stops.push(Stop { at_m: end_m, wait_s });
                stop_entries.push((place, entry));
            }
        }
        for (entry, number) in draft.stops.iter().zip(1..) {
            let place = Place::Stop(number);
            let at_m = self.wanted(place, entry, "at_m");
            let wait_s = self.wanted(place, entry, "stop_for_s");
            if let (Some(at_m), Some(wait_s)) = (at_m, wait_s) {
                outline.stops.push(Stop { at_m, wait_s });
                stop_entries.push((place, entry));
            }
        }
        (outline, stop_entries)
    }

    fn segment(&mut self, place: Place, entry: &Entry, usual: &Usual) -> Segment {
        let grade = self.number(place, entry, "grade_percent");
        let slope = match (grade, self.number(place, entry, "end_elevation_m")) {
            (None, Some(end_m)) => Slope::EndElevation(end_m),
            (grade, end) => {
                if end.is_some() {
                    self.clash(place, entry, "grade_percent", "end_elevation_m");
                }
                Slope::GradePercent(grade.unwrap_or(0.0))
            }
        };
        let headwind = self.number(place, entry, "headwind_m_s");
        let wind = match (headwind, self.wind(place, entry)) {
            (Some(_), Some(_)) => {
                self.clash(place, entry, "headwind_m_s", "wind_m_s");
                None
            }
            (Some(headwind_m_s), None) => Some(Wind::Headwind(headwind_m_s)),
            (None, wind) => wind.or(usual.wind),
        };
        Segment {
            // What is told to be missing, or no number, is not judged as a length once more.
            length_m: self.wanted(place, entry, "length_m").unwrap_or(f64::NAN),
            slope,
            surface: self.surface(place, entry).unwrap_or(usual.surface),
            speed_wish_m_s: self
                .number(place, entry, "speed_wish_m_s")
                .unwrap_or(usual.speed_wish_m_s),
            wind: wind.unwrap_or(Wind::Headwind(0.0)),
            heading_deg: self.number(place, entry, "heading_deg"),
        }
    }

    /// A wind with its direction; one without the other is told.
    fn wind(&mut self, place: Place, entry: &Entry) -> Option<Wind> {
        let [speed, from] = [Quantity::WindSpeed.key(), Quantity::WindFrom.key()];
        match (self.number(place, entry, speed), self.number(place, entry, from)) {
            (Some(wind_m_s), Some(from_deg)) => return Some(Wind::From { wind_m_s, from_deg }),
            (Some(_), None) => self.lone(place, entry, speed, from),
            (None, Some(_)) => self.lone(place, entry, from, speed),
            (None, None) => {}
        }
        None
    }

    fn lone(&mut self, place: Place, entry: &Entry, given: &str, missing: &str) {
        if !entry.values.contains_key(missing) {
            let what = format!("{place}: {given} needs {missing}");
            self.faults.push(FileFault::at(entry.line_of(given), what));
        }
    }

    fn clash(&mut self, place: Place, entry: &Entry, one: &str, other: &str) {
        let line = entry.line_of(one).max(entry.line_of(other));
        self.faults.push(FileFault::at(line, format!("{place}: {one} and {other}; one is wanted")));
    }

    fn wanted(&mut self, place: Place, entry: &Entry, key: &'static str) -> Option<f64> {
        if !entry.values.contains_key(key) {
            self.faults.push(FileFault::at(entry.line, format!("{place}: {key} is missing")));
        }
        self.number(place, entry, key)
    }

    fn number(&mut self, place: Place, entry: &Entry, key: &'static str) -> Option<f64> {
        let (value, line) = entry.values.get(key)?;
        let given = match value {
            Value::Number(number) => return Some(*number),
            Value::Text(text) => format!("the text \"{}\"", shown(text)),
            Value::Other(other) => other.clone(),
        };
        let what = format!("{place}: {key} is {given}; a number is wanted");
        self.faults.push(FileFault::at(*line, what));
        None
    }

    fn text(&mut self, entry: &Entry, key: &'static str) -> Option<String> {
        let (value, line) = entry.values.get(key)?;
        if let Value::Text(text) = value {
            return Some(text.clone());
        }
        let what = format!("route: {key} is no text; a text in quotes is wanted");
        self.faults.push(FileFault::at(*line, what));
        None
    }

    fn surface(&mut self, place: Place, entry: &Entry) -> Option<Surface> {
        let names = Surface::ALL.map(Surface::name);
        self.word(place, entry, "surface", &names).as_deref().and_then(Surface::from_name)
    }

    /// One of a few words.
    fn word(
        &mut self,
        place: Place,
        entry: &Entry,
        key: &'static str,
        words: &[&str],
    ) -> Option<String> {
        let (value, line) = entry.values.get(key)?;
        let given = match value {
            Value::Text(text) if words.contains(&text.as_str()) => return Some(text.clone()),
            Value::Text(text) => format!("`{}`", shown(text)),
            Value::Number(number) => number.to_string(),
            Value::Other(other) => other.clone(),
        };
        let what = format!("{place}: {key} is {given}; one of {} is wanted", words.join(", "));
        self.faults.push(FileFault::at(*line, what));
        None
    }
}

/// What the top of a file says for segments that do not.
struct Usual {
    surface: Surface,
    speed_wish_m_s: f64,
    wind: Option<Wind>,
}
