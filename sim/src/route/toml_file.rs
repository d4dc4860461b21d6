//! A route as TOML: its own keys on top, then `[[segment]]` after `[[segment]]`, and `[[stop]]`.
//!
//! Takes the file apart into a `draft`, and refuses what nobody would understand.

use std::path::Path;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::draft::{Draft, Entry, SEGMENT_KEYS, STOP_KEYS, TOP_KEYS, Value};
use super::error::Place;
use super::fault::{FileFault, RouteFileError};
use super::prepared::Route;
use super::track::stem;

impl Route {
    /// The route in a TOML text; `file` is its name in messages and, where the text gives none,
    /// without its ending that of the route.
    ///
    /// # Errors
    /// Every fault of the text, each with its line.
    pub fn read_toml(text: &str, file: &Path) -> Result<Self, RouteFileError> {
        let (root, errors) = DeTable::parse_recoverable(text);
        let lines = Lines::of(text);
        if !errors.is_empty() {
            let fault = |error: &toml::de::Error| {
                let line = error.span().map_or(1, |span| lines.at(span.start));
                FileFault::at(line, error.message().replace('\n', " "))
            };
            return Err(RouteFileError::new(file, errors.iter().map(fault).collect()));
        }
        let mut taking = Taking { lines, faults: Vec::new() };
        let mut draft = Draft { name: stem(file), ..Draft::default() };
        let root = root.get_ref();
        for (key, value) in root {
            match key.get_ref().as_ref() {
                "segment" => {
                    draft.segments = taking.list("segment", value, Place::Segment, &SEGMENT_KEYS);
                }
                "stop" => draft.stops = taking.list("stop", value, Place::Stop, &STOP_KEYS),
                _ => {}
            }
        }
        let own =
            root.iter().filter(|(key, _)| !matches!(key.get_ref().as_ref(), "segment" | "stop"));
        draft.top = taking.entry(own, Place::Whole, 0, &TOP_KEYS);
        draft.into_route(file, taking.faults)
    }
}

type Pair<'d, 't> = (&'d Spanned<toml::de::DeString<'t>>, &'d Spanned<DeValue<'t>>);

/// Takes a document apart.
struct Taking {
    lines: Lines,
    faults: Vec<FileFault>,
}

impl Taking {
    /// The parts of a list of tables.
    fn list(
        &mut self,
        name: &str,
        value: &Spanned<DeValue<'_>>,
        place: fn(usize) -> Place,
        known: &[&'static str],
    ) -> Vec<Entry> {
        let wrong = format!("`{name}` has to be a list of sections: [[{name}]]");
        let Some(list) = value.get_ref().as_array() else {
            self.faults.push(FileFault::at(self.line(value), wrong));
            return Vec::new();
        };
        let mut entries = Vec::new();
        for (item, number) in list.iter().zip(1..) {
            let line = self.line(item);
            match item.get_ref().as_table() {
                Some(table) => entries.push(self.entry(table.iter(), place(number), line, known)),
                None => self.faults.push(FileFault::at(line, wrong.clone())),
            }
        }
        entries
    }

    /// The values of a table; what is not known is told.
    fn entry<'d, 'v: 'd>(
        &mut self,
        pairs: impl Iterator<Item = Pair<'d, 'v>>,
        place: Place,
        line: usize,
        known: &[&'static str],
    ) -> Entry {
        let mut entry = Entry::at(line);
        for (key, value) in pairs {
            let name = key.get_ref().as_ref();
            let line = self.line(key);
            match known.iter().find(|known| **known == name) {
                Some(known) => entry.put(known, value_of(value.get_ref()), line),
                None => {
                    let lists = if place == Place::Whole { ", [[segment]], [[stop]]" } else { "" };
                    let known = known.join(", ");
                    let what = format!("{place}: `{name}` is not known; {known}{lists} are");
                    self.faults.push(FileFault::at(line, what));
                }
            }
        }
        entry
    }

    fn line<T>(&self, spanned: &Spanned<T>) -> usize {
        self.lines.at(spanned.span().start)
    }
}

/// Where the lines of a text end, so that a place in it is found without counting from the top.
struct Lines(Vec<usize>);

impl Lines {
    fn of(text: &str) -> Self {
        let ends = text.bytes().enumerate().filter(|(_, byte)| *byte == b'\n').map(|(at, _)| at);
        Self(ends.collect())
    }

    /// The line, from 1, of the byte at `at`.
    fn at(&self, at: usize) -> usize {
        self.0.partition_point(|&end| end < at) + 1
    }
}

fn value_of(value: &DeValue<'_>) -> Value {
    let other = |what: &str| Value::Other(what.to_owned());
    match value {
        DeValue::Integer(whole) => {
            i64::from_str_radix(&whole.as_str().replace('_', ""), whole.radix())
                .ok()
                // By way of its digits: an integer of 64 bits is not always a float.
                .and_then(|whole| whole.to_string().parse().ok())
                .map_or_else(|| other("too great a number"), Value::Number)
        }
        DeValue::Float(number) => number
            .as_str()
            .replace('_', "")
            .parse()
            .map_or_else(|_| other("no number"), Value::Number),
        DeValue::String(text) => Value::Text(text.to_string()),
        DeValue::Boolean(flag) => Value::Other(flag.to_string()),
        DeValue::Datetime(_) => other("a date"),
        DeValue::Array(_) => other("a list"),
        DeValue::Table(_) => other("a section"),
    }
}
