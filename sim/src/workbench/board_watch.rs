//! Whether the board file on disk still says what was read.
//!
//! Looked at once a second by `bench`; its content counts, not its time, so that a file that was only
//! touched is no change.

use std::io;
use std::path::Path;

use super::kept::in_words;
use crate::tuning::Draft;

/// How the file stands against what was read of it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) enum BoardFileState {
    /// As it was.
    #[default]
    Same,
    /// Another one, which can be used.
    Changed(String),
    /// There is none.
    Gone,
    /// It is there and cannot be used: why.
    Useless(String),
}

impl BoardFileState {
    /// What the page is told.
    pub(super) fn in_words(&self) -> String {
        match self {
            Self::Same => "as it was".to_owned(),
            Self::Changed(_) => "changed on disk".to_owned(),
            Self::Gone => "gone".to_owned(),
            Self::Useless(why) => format!("cannot be read: {why}"),
        }
    }
}

/// How the file at `path` stands against `read`; `before` is what was found last, whose text need not be
/// looked at again.
pub(super) fn look(path: &Path, read: &str, before: &BoardFileState) -> BoardFileState {
    let bytes = match std::fs::read(path) {
        Ok(bytes) => bytes,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return BoardFileState::Gone,
        Err(error) => return BoardFileState::Useless(error.to_string()),
    };
    if bytes == read.as_bytes() {
        return BoardFileState::Same;
    }
    let Ok(text) = String::from_utf8(bytes) else {
        return BoardFileState::Useless("it is no UTF-8 text".to_owned());
    };
    if matches!(before, BoardFileState::Changed(known) if *known == text) {
        return before.clone();
    }
    match Draft::new(path, text.clone()) {
        Ok(_) => BoardFileState::Changed(text),
        Err(faults) => BoardFileState::Useless(in_words(&faults)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LANTERN: &str = include_str!("../../../examples/boards/lantern.toml");

    #[test]
    fn a_file_is_the_same_another_one_useless_or_gone() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("lantern.toml");
        let look = |before: &BoardFileState| look(&path, LANTERN, before);
        let same = BoardFileState::Same;
        assert_eq!(look(&same), BoardFileState::Gone);
        std::fs::write(&path, LANTERN).unwrap();
        assert_eq!(look(&BoardFileState::Gone), same);
        let other = LANTERN.replace("top_speed_m_s = 8.5", "top_speed_m_s = 7.5");
        std::fs::write(&path, &other).unwrap();
        let changed = BoardFileState::Changed(other);
        assert_eq!(look(&same), changed);
        assert_eq!(look(&changed), changed);
        std::fs::write(&path, LANTERN.replace("top_speed_m_s = 8.5", "top_speed_m_s = 850"))
            .unwrap();
        let useless = look(&changed).in_words();
        assert!(useless.starts_with("cannot be read: ") && useless.contains("850"), "{useless}");
    }
}
