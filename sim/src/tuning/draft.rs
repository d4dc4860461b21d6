//! A legal text of a board file, and what can be changed in it.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use homestretch::throttle::Half;

use super::fault::Fault;
use super::keys::{TUNABLE, tunable};
use super::rewrite;
use super::typed::{read_number, unknown, within};
use crate::board_file::BoardFile;

/// A change of a draft.
#[derive(Clone, Debug, PartialEq)]
pub enum Change {
    /// A key gets a number.
    Number {
        /// Section and key.
        key: String,
        /// Within the key's range.
        value: f64,
    },
    /// A key gets what a person typed.
    Typed {
        /// Section and key.
        key: String,
        /// As typed.
        text: String,
    },
    /// A key goes back to its default: the file says no more of it.
    Usual {
        /// Section and key.
        key: String,
    },
    /// A curve goes through handles, pairs of thumb and m/s².
    Handles {
        /// Which curve.
        half: Half,
        /// One to eight, the last at 1.
        handles: Vec<(f64, f64)>,
    },
    /// A curve goes back to the usual shape, with the end that it has.
    UsualShape {
        /// Which curve.
        half: Half,
    },
}

/// A legal text of a board file, and the board that it makes.
#[derive(Clone, Debug)]
pub struct Draft {
    path: PathBuf,
    text: Arc<str>,
    file: Arc<BoardFile>,
}

/// Where a curve's handles stand, and where its end does.
const fn places(half: Half) -> ((&'static str, &'static str), (&'static str, &'static str)) {
    match half {
        Half::Drive => (("throttle", "drive_curve"), ("throttle", "full_drive_m_s2")),
        Half::Brake => (("throttle", "brake_curve"), ("throttle", "full_brake_m_s2")),
    }
}

impl Draft {
    /// The draft of `text`, as if it stood in the file `path`, beside which its tables are looked for.
    ///
    /// # Errors
    /// Every fault of the text.
    pub fn new(path: impl AsRef<Path>, text: impl Into<String>) -> Result<Self, Vec<Fault>> {
        let (path, text) = (path.as_ref().to_path_buf(), text.into());
        let file = BoardFile::parse(&text, &path)
            .map_err(|error| error.faults.into_iter().map(Fault::from).collect::<Vec<_>>())?;
        Ok(Self { path, text: text.into(), file: Arc::new(file) })
    }

    /// The text.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The board that it makes.
    #[must_use]
    pub fn file(&self) -> &BoardFile {
        &self.file
    }

    /// The file beside which its tables lie.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The draft after all of `changes`, in their order; only the last text has to be legal.
    ///
    /// # Errors
    /// The faults of the changes that cannot be made, or of the text that they would make.
    pub fn after(&self, changes: &[Change]) -> Result<Self, Vec<Fault>> {
        Self::new(&self.path, text_after(&self.text, changes)?)
    }

    /// What was tuned in this draft on another `board`: the numbers and curves that this one states, and the
    /// defaults where it states none. Pack, vehicle, motors, thumb and paces are those of `board`.
    ///
    /// # Errors
    /// The faults of what would come of it.
    pub fn onto(&self, board: &Self) -> Result<Self, Vec<Fault>> {
        let mut changes = Vec::new();
        for half in [Half::Drive, Half::Brake] {
            let list = places(half).0;
            let (handles, there) =
                (rewrite::pairs(self.text(), list), rewrite::pairs(board.text(), list));
            match handles {
                // What is the same stays as it is written.
                Some(handles) if there.as_ref() == Some(&handles) => {}
                Some(handles) => changes.push(Change::Handles { half, handles }),
                None => changes.push(Change::UsualShape { half }),
            }
        }
        // After the curves: going back to the usual shape states an end that this draft may not.
        let stated = rewrite::states(self.text());
        changes.extend(TUNABLE.iter().filter_map(|tunable| {
            let key = tunable.key.to_owned();
            let value = rewrite::number(self.text(), tunable.parts());
            let Some(value) = value.filter(|_| stated(tunable.parts())) else {
                return Some(Change::Usual { key });
            };
            let there = rewrite::number(board.text(), tunable.parts());
            let same = there.is_some_and(|there| (there - value).abs() <= f64::EPSILON);
            (!same).then_some(Change::Number { key, value })
        }));
        board.after(&changes)
    }

    /// The draft with a number of a key.
    ///
    /// # Errors
    /// As [`Self::after`].
    pub fn with_number(&self, key: &str, value: f64) -> Result<Self, Vec<Fault>> {
        self.after(&[Change::Number { key: key.to_owned(), value }])
    }

    /// The draft with a key back at its default.
    ///
    /// # Errors
    /// As [`Self::after`].
    pub fn with_usual(&self, key: &str) -> Result<Self, Vec<Fault>> {
        self.after(&[Change::Usual { key: key.to_owned() }])
    }

    /// The draft with a curve through handles.
    ///
    /// # Errors
    /// As [`Self::after`].
    pub fn with_handles(&self, half: Half, handles: &[(f64, f64)]) -> Result<Self, Vec<Fault>> {
        self.after(&[Change::Handles { half, handles: handles.to_vec() }])
    }

    /// The draft with a curve of the usual shape.
    ///
    /// # Errors
    /// As [`Self::after`].
    pub fn with_usual_shape(&self, half: Half) -> Result<Self, Vec<Fault>> {
        self.after(&[Change::UsualShape { half }])
    }
}

/// `text` after all of `changes`, in their order, whether or not it is legal.
///
/// # Errors
/// The faults of the changes that cannot be made.
pub fn text_after(text: &str, changes: &[Change]) -> Result<String, Vec<Fault>> {
    let (mut text, mut faults) = (text.to_owned(), Vec::new());
    for change in changes {
        match rewritten(&text, change) {
            Ok(changed) => text = changed,
            Err(fault) => faults.push(fault),
        }
    }
    if faults.is_empty() { Ok(text) } else { Err(faults) }
}

/// `text` after one change.
fn rewritten(text: &str, change: &Change) -> Result<String, Fault> {
    match change {
        Change::Number { key, value } => set(text, key, *value),
        Change::Typed { key, text: typed } => set(text, key, read_number(key, typed)?),
        Change::Usual { key } => {
            let known = tunable(key).ok_or_else(|| unknown(key))?;
            rewrite::without(text, known.parts())
        }
        Change::Handles { half, handles } => {
            let (list, end) = places(*half);
            let finite = |(thumb, end): &(f64, f64)| thumb.is_finite() && end.is_finite();
            if !handles.iter().all(finite) {
                let what = format!("throttle.{}: every handle has to be two numbers", list.1);
                return Err(Fault::of(&format!("throttle.{}", list.1), what));
            }
            rewrite::with_pairs(&rewrite::without(text, end)?, list, handles)
        }
        Change::UsualShape { half } => {
            let (list, end) = places(*half);
            let Some(handles) = rewrite::pairs(text, list) else { return Ok(text.to_owned()) };
            let text = rewrite::without(text, list)?;
            match handles.last() {
                Some(&(_, greatest)) => rewrite::with_number(&text, end, greatest),
                None => Ok(text),
            }
        }
    }
}

/// `text` with a number of a key; the end of a curve takes the place of its handles.
fn set(text: &str, key: &str, value: f64) -> Result<String, Fault> {
    let known = tunable(key).ok_or_else(|| unknown(key))?;
    let value = within(known, value)?;
    let of_curve = [Half::Drive, Half::Brake].map(places).into_iter();
    let handles = of_curve.filter(|(_, end)| *end == known.parts()).map(|(list, _)| list).next();
    match handles {
        Some(list) => rewrite::with_number(&rewrite::without(text, list)?, known.parts(), value),
        None => rewrite::with_number(text, known.parts(), value),
    }
}
