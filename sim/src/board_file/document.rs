//! A TOML document that remembers which of its keys were asked for, and where each stands.
//!
//! Used by `reader`. What nobody asked for is a misspelling and is reported with the names that
//! would have been understood.

use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::fault::{FileFault, Refused};

/// The document, its faults so far, and the keys that are understood.
pub(super) struct Document<'t> {
    text: &'t str,
    root: DeTable<'t>,
    faults: RefCell<Vec<FileFault>>,
    /// By section, the keys asked for; the top of the file is the section "".
    asked: RefCell<BTreeMap<&'static str, BTreeSet<&'static str>>>,
}

/// A value and the line it stands in.
pub(super) struct Found<'d, 't> {
    pub(super) value: &'d DeValue<'t>,
    pub(super) line: usize,
}

/// What a value is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    Number,
    Other,
}

impl<'t> Document<'t> {
    /// The document in `text`.
    ///
    /// # Errors
    /// Every fault of its syntax.
    pub(super) fn parse(text: &'t str) -> Result<Self, Vec<FileFault>> {
        let (root, errors) = DeTable::parse_recoverable(text);
        if errors.is_empty() {
            let (faults, asked) = (RefCell::default(), RefCell::default());
            return Ok(Self { text, root: root.into_inner(), faults, asked });
        }
        let fault = |error: &toml::de::Error| {
            let line = error.span().map_or(1, |span| line_of(text, span.start));
            FileFault::at(line, error.message().replace('\n', " "))
        };
        let mut faults: Vec<_> = errors.iter().map(fault).collect();
        faults.sort_by_key(|fault| fault.line);
        Err(faults)
    }

    /// The value of a key, where it is given. From now on the key is understood.
    pub(super) fn find(&self, section: &'static str, key: &'static str) -> Option<Found<'_, 't>> {
        self.asked.borrow_mut().entry(section).or_default().insert(key);
        let table = if section.is_empty() {
            &self.root
        } else {
            self.root.get(section)?.get_ref().as_table()?
        };
        let value = table.get(key)?;
        Some(Found { value: value.get_ref(), line: self.line(value) })
    }

    /// A number, where one is given.
    pub(super) fn number(&self, section: &'static str, key: &'static str) -> Option<(f64, usize)> {
        let Found { value, line } = self.find(section, key)?;
        let number = number(value);
        if number.is_none() {
            self.blame(
                line,
                format!("{} is {}; a number is wanted", dotted(section, key), shown(value)),
            );
        }
        number.map(|number: f64| (number, line))
    }

    /// A text, where one is given.
    pub(super) fn text(&self, section: &'static str, key: &'static str) -> Option<(String, usize)> {
        let Found { value, line } = self.find(section, key)?;
        let text = value.as_str().map(|text| (text.to_owned(), line));
        if text.is_none() {
            self.blame(
                line,
                format!("{} is {}; a text in quotes is wanted", dotted(section, key), shown(value)),
            );
        }
        text
    }

    /// Whether a key is given, and whether a number.
    pub(super) fn kind(&self, section: &'static str, key: &'static str) -> Option<Kind> {
        let found = self.find(section, key)?;
        Some(if found.value.is_integer() || found.value.is_float() {
            Kind::Number
        } else {
            Kind::Other
        })
    }

    /// Whether a key is given at all.
    pub(super) fn has(&self, section: &'static str, key: &'static str) -> bool {
        self.find(section, key).is_some()
    }

    /// Yes or no, where one is given.
    pub(super) fn flag(&self, section: &'static str, key: &'static str) -> Option<bool> {
        let Found { value, line } = self.find(section, key)?;
        let flag = value.as_bool();
        if flag.is_none() {
            self.blame(
                line,
                format!("{} is {}; true or false is wanted", dotted(section, key), shown(value)),
            );
        }
        flag
    }

    /// Pairs of numbers, where a list of them is given: `[[0.5, 0.4], [1, 1.6]]`.
    pub(super) fn pairs(
        &self,
        section: &'static str,
        key: &'static str,
    ) -> Option<(Vec<(f64, f64)>, usize)> {
        let Found { value, line } = self.find(section, key)?;
        let pair = |item: &Spanned<DeValue<'_>>| {
            let items = item.get_ref().as_array()?;
            let (first, second) = (items.first()?, items.get(1)?);
            let two = items.len() == 2;
            number(first.get_ref()).zip(number(second.get_ref())).filter(|_| two)
        };
        let pairs =
            value.as_array().and_then(|items| items.iter().map(pair).collect::<Option<Vec<_>>>());
        if pairs.is_none() {
            let what = "a list of pairs of numbers is wanted: [[0.5, 0.4], [1, 1.6]]";
            self.blame(line, format!("{} is {}; {what}", dotted(section, key), shown(value)));
        }
        pairs.map(|pairs| (pairs, line))
    }

    /// The tables of an array, `[[name]]`, where there are any; keys that are not `known` are noted.
    pub(super) fn tables(
        &self,
        name: &'static str,
        known: &'static [&'static str],
    ) -> Option<Vec<Item<'_, 't>>> {
        let Found { value, line } = self.find("", name)?;
        let tables: Option<Vec<_>> = value.as_array().and_then(|items| {
            let item = |item: &'_ Spanned<DeValue<'t>>| item.get_ref().as_table().is_some();
            items.iter().all(item).then(|| {
                items
                    .iter()
                    .filter_map(|item| {
                        let line = self.line(item);
                        item.get_ref().as_table().map(|table| Item {
                            document: self,
                            name,
                            table,
                            line,
                        })
                    })
                    .collect()
            })
        });
        let Some(tables) = tables else {
            self.blame(line, format!("`{name}` has to be a list of sections: [[{name}]]"));
            return None;
        };
        for item in &tables {
            for key in item.table.keys().filter(|key| !known.contains(&key.get_ref().as_ref())) {
                let what =
                    format!("`{name}.{}` is not known; {} are", key.get_ref(), known.join(", "));
                self.blame(self.line(key), what);
            }
        }
        Some(tables)
    }

    /// Notes a fault at a line.
    pub(super) fn blame(&self, line: usize, what: String) {
        self.faults.borrow_mut().push(FileFault::at(line, what));
    }

    /// Notes a number that is refused: at its line, or as what is missing where none is given.
    pub(super) fn refuse(&self, line: Option<usize>, what: String, refused: Refused) {
        self.faults.borrow_mut().push(FileFault { line, what, refused: Some(refused) });
    }

    /// A number of `range`, where one is given; one that is out of it is noted.
    pub(super) fn bounded(
        &self,
        section: &'static str,
        key: &'static str,
        (lowest, highest): (f64, f64),
    ) -> Option<f64> {
        let (value, line) = self.number(section, key)?;
        if (lowest..=highest).contains(&value) {
            return Some(value);
        }
        let key = dotted(section, key);
        let what = format!("{key} is {value}; {lowest} to {highest} is allowed");
        let allowed = Some((lowest, highest));
        self.refuse(Some(line), what, Refused { key, given: Some(value), allowed });
        None
    }

    /// Notes that something is missing.
    pub(super) fn miss(&self, what: String) {
        self.faults.borrow_mut().push(FileFault::of_file(what));
    }

    /// All faults, those of keys that nobody understands included: by line, what is missing last.
    pub(super) fn into_faults(self) -> Vec<FileFault> {
        self.blame_unknown();
        let mut faults = self.faults.into_inner();
        faults.sort_by_key(|fault| fault.line.unwrap_or(usize::MAX));
        faults
    }

    fn blame_unknown(&self) {
        let asked = self.asked.borrow();
        for (name, value) in &self.root {
            let known = asked.get("").is_some_and(|keys| keys.contains(name.get_ref().as_ref()));
            let section = asked.iter().find(|(section, _)| **section == name.get_ref().as_ref());
            match (known, section, value.get_ref().as_table()) {
                (true, _, _) => {}
                (false, Some((section, keys)), Some(table)) => {
                    self.blame_keys(section, keys, table)
                }
                (false, Some((section, _)), None) => {
                    self.blame(
                        self.line(name),
                        format!("`{section}` has to be a section: [{section}]"),
                    );
                }
                (false, None, table) => {
                    let sections: Vec<_> = asked
                        .keys()
                        .filter(|section| !section.is_empty())
                        .map(|s| format!("[{s}]"))
                        .collect();
                    let (what, allowed) = match table {
                        Some(_) => (format!("[{}]", name.get_ref()), sections.join(", ")),
                        None => (
                            name.get_ref().to_string(),
                            asked.get("").map(listed).unwrap_or_default(),
                        ),
                    };
                    self.blame(self.line(name), format!("`{what}` is not known; {allowed} are"));
                }
            }
        }
    }

    fn blame_keys(&self, section: &str, keys: &BTreeSet<&'static str>, table: &DeTable<'_>) {
        for key in table.keys().filter(|key| !keys.contains(key.get_ref().as_ref())) {
            self.blame(
                self.line(key),
                format!("`{section}.{}` is not known; {} are", key.get_ref(), listed(keys)),
            );
        }
    }

    fn line<T>(&self, spanned: &Spanned<T>) -> usize {
        line_of(self.text, spanned.span().start)
    }
}

/// One table of an array.
pub(super) struct Item<'d, 't> {
    document: &'d Document<'t>,
    name: &'static str,
    table: &'d DeTable<'t>,
    /// Where it begins.
    pub(super) line: usize,
}

impl Item<'_, '_> {
    /// A number, where one is given.
    pub(super) fn number(&self, key: &str) -> Option<f64> {
        let value = self.table.get(key)?;
        self.wanted(key, number(value.get_ref()), value, "a number")
    }

    /// A text, where one is given.
    pub(super) fn text(&self, key: &str) -> Option<String> {
        let value = self.table.get(key)?;
        let text = value.get_ref().as_str().map(str::to_owned);
        self.wanted(key, text, value, "a text in quotes")
    }

    fn wanted<T>(
        &self,
        key: &str,
        read: Option<T>,
        value: &Spanned<DeValue<'_>>,
        what: &str,
    ) -> Option<T> {
        if read.is_none() {
            let line = self.document.line(value);
            let shown = shown(value.get_ref());
            self.document.blame(line, format!("{}.{key} is {shown}; {what} is wanted", self.name));
        }
        read
    }
}

/// The number that a value is, where it is one.
fn number(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Integer(whole) => {
            i64::from_str_radix(&whole.as_str().replace('_', ""), whole.radix())
                .ok()
                .and_then(|whole| format!("{whole}").parse().ok())
        }
        DeValue::Float(number) => number.as_str().replace('_', "").parse().ok(),
        DeValue::String(_)
        | DeValue::Boolean(_)
        | DeValue::Datetime(_)
        | DeValue::Array(_)
        | DeValue::Table(_) => None,
    }
}

fn line_of(text: &str, at: usize) -> usize {
    text.bytes().take(at).filter(|&byte| byte == b'\n').count() + 1
}

fn listed(keys: &BTreeSet<&'static str>) -> String {
    keys.iter().copied().collect::<Vec<_>>().join(", ")
}

/// A key with its section, as messages name it.
pub(super) fn dotted(section: &str, key: &str) -> String {
    if section.is_empty() { key.to_owned() } else { format!("{section}.{key}") }
}

/// A value as the file has it, cut where it is long.
fn shown(value: &DeValue<'_>) -> String {
    const LONGEST: usize = 40;
    let text = match value {
        DeValue::String(text) => format!("the text \"{text}\""),
        DeValue::Integer(number) => number.as_str().to_owned(),
        DeValue::Float(number) => number.as_str().to_owned(),
        DeValue::Boolean(flag) => flag.to_string(),
        DeValue::Datetime(_) => "a date".to_owned(),
        DeValue::Array(_) => "a list".to_owned(),
        DeValue::Table(_) => "a section".to_owned(),
    };
    if text.chars().count() <= LONGEST {
        text
    } else {
        text.chars().take(LONGEST).chain("...".chars()).collect()
    }
}
