//! The handheld's memory as a file: the same record that a firmware keeps in its flash.
//!
//! Read before a replay where it exists, written after it; used by `cli`.

use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

use homestretch::store::{Life, RecordFault};

use crate::atomic_file::AtomicFile;

/// Why a memory file cannot be used.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum MemoryError {
    /// It could not be read.
    #[error("cannot read the memory file `{}`: {source}", path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// It is no record of what a handheld learned. It is left as it is.
    #[error("the memory file `{}` is not used and left as it is: {fault}", path.display())]
    Record {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        fault: RecordFault,
    },
    /// It could not be written; what was there before is still there.
    #[error("cannot write the memory file `{}`: {source}", path.display())]
    Write {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
}

/// What the file remembers; nothing where there is no such file yet.
///
/// # Errors
/// [`MemoryError::Read`] and [`MemoryError::Record`].
pub fn read(path: &Path) -> Result<Option<Life>, MemoryError> {
    let bytes = match std::fs::read(path) {
        Ok(bytes) => bytes,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
        Err(source) => return Err(MemoryError::Read { path: path.to_path_buf(), source }),
    };
    let life = Life::from_bytes(&bytes);
    life.map(Some).map_err(|fault| MemoryError::Record { path: path.to_path_buf(), fault })
}

/// A memory file that will be written once the ride is over; opened before it, so that a bad path
/// is found at once.
#[derive(Debug)]
pub struct MemoryTarget {
    path: PathBuf,
    file: AtomicFile,
}

impl MemoryTarget {
    /// Opens it for writing; what stands there stays until [`Self::write`].
    ///
    /// # Errors
    /// [`MemoryError::Write`].
    pub fn create(path: &Path) -> Result<Self, MemoryError> {
        let path = path.to_path_buf();
        match AtomicFile::create(&path) {
            Ok(file) => Ok(Self { path, file }),
            Err(source) => Err(MemoryError::Write { path, source }),
        }
    }

    /// Writes what is to be remembered, whole or not at all.
    ///
    /// # Errors
    /// [`MemoryError::Write`].
    pub fn write(self, life: &Life) -> Result<(), MemoryError> {
        let Self { path, mut file } = self;
        let written = file.write_all(&life.to_bytes()).and_then(|()| file.finish());
        written.map_err(|source| MemoryError::Write { path, source })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_that_is_not_there_yet_remembers_nothing() {
        let folder = tempfile::tempdir().unwrap();
        assert_eq!(read(&folder.path().join("none")).unwrap(), None);
    }

    #[test]
    fn a_damaged_file_is_named_and_left_alone() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("memory");
        std::fs::write(&path, b"HS").unwrap();
        let error = read(&path).unwrap_err().to_string();
        assert!(error.contains("memory") && error.contains("2 bytes"), "{error}");
        assert_eq!(std::fs::read(&path).unwrap(), b"HS");
    }
}
