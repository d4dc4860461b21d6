//! A file that appears whole or not at all.
//!
//! Used by `ride::RideWriter` and by whatever else leaves a result on disk: a program that is
//! stopped half-way must not leave a log behind that looks like a shorter ride.
//! Source: common practice, no source (write beside, flush to disk, rename).

use std::fs::{self, File, OpenOptions};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};

/// How many leftover names of killed runs are stepped over before giving up.
const NAMES_TRIED: u32 = 100;

/// Tells apart the files that one program writes at the same time.
static SERIAL: AtomicU32 = AtomicU32::new(0);

/// A buffered file under a temporary name beside its target, which takes the target's
/// name in [`AtomicFile::finish`] and vanishes where that is never called.
///
/// A target that exists and is no regular file (a pipe, a terminal, the null device) can't be
/// replaced and is written straight through. Errors don't name the file: the caller knows it.
#[derive(Debug)]
pub struct AtomicFile {
    content: BufWriter<File>,
    way: Way,
}

/// Where the bytes go until the file is finished.
#[derive(Debug)]
enum Way {
    /// Into a file of its own, removed on drop.
    Beside { temporary: PathBuf, target: PathBuf },
    /// Into the target, which is a device.
    Through,
    /// The file has its name; nothing is left to remove.
    Done,
}

impl AtomicFile {
    /// An empty file that will replace `target`, in a folder that must exist.
    ///
    /// # Errors
    /// Those of the file system: no such folder, no right to write there, the target is a
    /// folder.
    pub fn create(target: impl AsRef<Path>) -> io::Result<Self> {
        let target = target.as_ref();
        match fs::metadata(target) {
            Ok(found) if found.is_dir() => {
                Err(io::Error::new(io::ErrorKind::IsADirectory, "it is a folder"))
            }
            Ok(found) if !found.is_file() => Ok(Self {
                content: BufWriter::new(OpenOptions::new().write(true).open(target)?),
                way: Way::Through,
            }),
            // A link keeps pointing where it did: what it points at is replaced.
            Ok(_) => Self::beside(fs::canonicalize(target)?),
            Err(_) => Self::beside(target.to_path_buf()),
        }
    }

    fn beside(target: PathBuf) -> io::Result<Self> {
        let Some(name) = target.file_name() else {
            return Err(io::Error::new(io::ErrorKind::InvalidInput, "it names no file"));
        };
        for _ in 0..NAMES_TRIED {
            let serial = SERIAL.fetch_add(1, Ordering::Relaxed);
            let mut hidden = std::ffi::OsString::from(".");
            hidden.push(name);
            hidden.push(format!(".{}-{serial}.part", std::process::id()));
            let temporary = target.with_file_name(hidden);
            match OpenOptions::new().write(true).create_new(true).open(&temporary) {
                Ok(file) => {
                    return Ok(Self {
                        content: BufWriter::new(file),
                        way: Way::Beside { temporary, target },
                    });
                }
                Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {}
                Err(error) => return Err(error),
            }
        }
        Err(io::Error::new(io::ErrorKind::AlreadyExists, "too many unfinished files lie beside it"))
    }

    /// Nothing: the content now stands on disk under the target's name.
    ///
    /// # Errors
    /// Those of the file system, a full disk above all; the target is then as it was.
    pub fn finish(mut self) -> io::Result<()> {
        self.content.flush()?;
        if let Way::Beside { temporary, target } = &self.way {
            // Before the rename: or a power cut could leave the new name on an empty file.
            self.content.get_ref().sync_all()?;
            if let Ok(old) = fs::metadata(target) {
                fs::set_permissions(temporary, old.permissions())?;
            }
            fs::rename(temporary, target)?;
        }
        self.way = Way::Done;
        Ok(())
    }
}

impl Write for AtomicFile {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.content.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.content.flush()
    }
}

impl Drop for AtomicFile {
    fn drop(&mut self) {
        if let Way::Beside { temporary, .. } = &self.way {
            // Nobody is left to tell: a leftover is hidden, and never taken for a result.
            let _ = fs::remove_file(temporary);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names_in(folder: &Path) -> Vec<String> {
        let mut names: Vec<String> = fs::read_dir(folder)
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    }

    #[test]
    fn a_finished_file_has_its_content_and_no_neighbour() {
        let folder = tempfile::tempdir().unwrap();
        let target = folder.path().join("out.csv");
        let mut file = AtomicFile::create(&target).unwrap();
        file.write_all(b"time_s\n").unwrap();
        assert!(!target.exists());
        file.finish().unwrap();
        assert_eq!(fs::read(&target).unwrap(), b"time_s\n");
        assert_eq!(names_in(folder.path()), ["out.csv"]);
    }

    #[test]
    fn a_dropped_file_leaves_the_old_one_and_nothing_else() {
        let folder = tempfile::tempdir().unwrap();
        let target = folder.path().join("out.csv");
        fs::write(&target, "old").unwrap();
        let mut file = AtomicFile::create(&target).unwrap();
        file.write_all(b"half a ri").unwrap();
        drop(file);
        assert_eq!(fs::read(&target).unwrap(), b"old");
        assert_eq!(names_in(folder.path()), ["out.csv"]);
    }

    #[test]
    fn two_files_for_one_target_do_not_mix() {
        let folder = tempfile::tempdir().unwrap();
        let target = folder.path().join("out.csv");
        let mut first = AtomicFile::create(&target).unwrap();
        let mut second = AtomicFile::create(&target).unwrap();
        first.write_all(b"first").unwrap();
        second.write_all(b"second").unwrap();
        first.finish().unwrap();
        second.finish().unwrap();
        assert_eq!(fs::read(&target).unwrap(), b"second");
        assert_eq!(names_in(folder.path()), ["out.csv"]);
    }

    #[test]
    fn a_missing_folder_is_found_before_anything_is_written() {
        let folder = tempfile::tempdir().unwrap();
        let error = AtomicFile::create(folder.path().join("no/out.csv")).unwrap_err();
        assert_eq!(error.kind(), io::ErrorKind::NotFound);
    }

    #[test]
    fn a_folder_is_refused_as_a_target() {
        let folder = tempfile::tempdir().unwrap();
        let error = AtomicFile::create(folder.path()).unwrap_err();
        assert_eq!(error.kind(), io::ErrorKind::IsADirectory);
    }

    #[cfg(unix)]
    #[test]
    fn the_null_device_is_written_through_and_not_replaced() {
        let mut file = AtomicFile::create("/dev/null").unwrap();
        file.write_all(b"gone").unwrap();
        file.finish().unwrap();
        assert!(!fs::metadata("/dev/null").unwrap().is_file());
    }

    #[cfg(unix)]
    #[test]
    fn a_link_stays_a_link() {
        let folder = tempfile::tempdir().unwrap();
        let real = folder.path().join("real.csv");
        let link = folder.path().join("link.csv");
        fs::write(&real, "old").unwrap();
        std::os::unix::fs::symlink(&real, &link).unwrap();
        let mut file = AtomicFile::create(&link).unwrap();
        file.write_all(b"new").unwrap();
        file.finish().unwrap();
        assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
        assert_eq!(fs::read(&real).unwrap(), b"new");
    }
}
