//! Why a change was refused, in words and in numbers.
//!
//! Made from the faults of `board_file`, or where a change cannot even be written down.

use serde::Serialize;

use crate::board_file::{FileFault, Refused};

/// One reason why a change was refused.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Fault {
    /// Section and key, where it is one: `throttle.drive_on_m_s3`.
    pub key: Option<String>,
    /// In words: key, value, what is allowed.
    pub what: String,
    /// The number that was given, where it is one.
    pub given: Option<f64>,
    /// The lowest number that is allowed, where it is known.
    pub lowest: Option<f64>,
    /// The highest one, likewise.
    pub highest: Option<f64>,
}

impl Fault {
    /// A fault of a key that has no number to tell.
    pub(super) fn of(key: &str, what: String) -> Self {
        Self { key: Some(key.to_owned()), what, given: None, lowest: None, highest: None }
    }

    /// A fault of a whole file.
    pub(crate) const fn of_file(what: String) -> Self {
        Self { key: None, what, given: None, lowest: None, highest: None }
    }

    /// A number out of its range.
    pub(super) fn out_of_range(key: &str, given: f64, (lowest, highest): (f64, f64)) -> Self {
        let what = format!("{key} is {given}; {lowest} to {highest} is allowed");
        Self { given: finite(given), ..Self::of(key, what).with((lowest, highest)) }
    }

    pub(super) fn with(self, (lowest, highest): (f64, f64)) -> Self {
        Self { lowest: Some(lowest), highest: Some(highest), ..self }
    }
}

impl From<FileFault> for Fault {
    fn from(FileFault { what, refused, .. }: FileFault) -> Self {
        let Some(Refused { key, given, allowed }) = refused else {
            return Self { key: None, what, given: None, lowest: None, highest: None };
        };
        let (lowest, highest) = allowed.unzip();
        Self { key: Some(key), what, given: given.and_then(finite), lowest, highest }
    }
}

impl std::fmt::Display for Fault {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.what)
    }
}

/// JSON has no other numbers.
fn finite(number: f64) -> Option<f64> {
    number.is_finite().then_some(number)
}
