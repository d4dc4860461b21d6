//! The candidate's file beside the board file: found again at the next start, written after each change.
//!
//! Written whole or not at all, by a thread of its own, the newest first, so that a drag does not wait for a
//! disk. What cannot be used is put aside under another name; nothing is deleted, and what another program
//! has written meanwhile is not written over.

use std::io::{self, Write as _};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Condvar, Mutex, PoisonError};
use std::thread::JoinHandle;

use tokio::sync::watch;

use crate::atomic_file::AtomicFile;
use crate::tuning::{Draft, Fault};

/// So many files may lie aside.
const MOST_ASIDE: u32 = 1000;

/// Where the candidate of a board file is kept: `lantern.toml` has `lantern.candidate.toml`.
pub(super) fn candidate_path(board: &Path) -> PathBuf {
    board.with_extension("candidate.toml")
}

/// A candidate that was kept.
#[derive(Debug)]
pub(super) enum Found {
    /// There is none.
    Nothing,
    /// There is one.
    Draft {
        /// As it is to go on.
        draft: Box<Draft>,
        /// As it stands in its file.
        text: String,
    },
    /// There was one that cannot be used: where it lies now, and why.
    Aside(PathBuf, String),
}

/// What was kept for the board file `board`, put onto what that says now: pack and vehicle are always those of
/// the board, whatever they were when it was kept. What cannot be used is put aside.
///
/// # Errors
/// Those of the file system, where it cannot even be put aside.
pub(super) fn find(on_board: &Draft) -> io::Result<Found> {
    let board = on_board.path();
    let path = candidate_path(board);
    let why = match std::fs::read(&path) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Found::Nothing),
        Err(error) => error.to_string(),
        Ok(bytes) => match String::from_utf8(bytes) {
            Err(_) => "it is no UTF-8 text".to_owned(),
            Ok(text) => match Draft::new(board, &*text).and_then(|draft| draft.onto(on_board)) {
                Ok(draft) => return Ok(Found::Draft { draft: Box::new(draft), text }),
                Err(faults) => in_words(&faults),
            },
        },
    };
    let aside = free_name(&path)?;
    std::fs::rename(&path, &aside)?;
    Ok(Found::Aside(aside, why))
}

/// All faults in one line.
pub(super) fn in_words(faults: &[Fault]) -> String {
    faults.iter().map(|fault| fault.what.as_str()).collect::<Vec<_>>().join("; ")
}

fn free_name(path: &Path) -> io::Result<PathBuf> {
    let names = (1..=MOST_ASIDE).map(|number| path.with_extension(format!("aside-{number}.toml")));
    let free = |name: &PathBuf| !std::fs::exists(name).unwrap_or(true);
    let mut free = names.filter(free);
    free.next().ok_or_else(|| {
        io::Error::new(io::ErrorKind::AlreadyExists, "a thousand candidates lie aside")
    })
}

/// How the file stands.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Kept {
    /// The revision that was last tried to be written.
    pub(super) revision: u64,
    /// Why it was not.
    pub(super) not_kept: Option<String>,
}

/// What is to be written next.
#[derive(Debug, Default)]
struct Slot {
    next: Option<(u64, Arc<str>)>,
    ends: bool,
}

/// Writes the candidate's file.
#[derive(Debug)]
pub(super) struct Keeper {
    slot: Arc<(Mutex<Slot>, Condvar)>,
    kept: watch::Receiver<Kept>,
    thread: Option<JoinHandle<()>>,
}

impl Keeper {
    /// Writes to `path`, where `before` stands now.
    pub(super) fn new(path: PathBuf, before: Option<String>) -> Self {
        let slot: Arc<(Mutex<Slot>, Condvar)> = Arc::default();
        let (tell, kept) = watch::channel(Kept::default());
        let mut file = CandidateFile { path, written: before };
        let theirs = Arc::clone(&slot);
        let thread = std::thread::spawn(move || {
            while let Some((revision, text)) = next(&theirs) {
                let not_kept = file.write(&text).err();
                tell.send_replace(Kept { revision, not_kept });
            }
        });
        Self { slot, kept, thread: Some(thread) }
    }

    /// Has `text` written soon; what was to be written before it, and is older, is not.
    pub(super) fn keep(&self, revision: u64, text: &str) {
        let (slot, wakes) = &*self.slot;
        slot.lock().unwrap_or_else(PoisonError::into_inner).next = Some((revision, text.into()));
        wakes.notify_one();
    }

    /// How the file stands now and later.
    pub(super) fn kept(&self) -> watch::Receiver<Kept> {
        self.kept.clone()
    }
}

impl Drop for Keeper {
    /// Waits for what is still to be written.
    fn drop(&mut self) {
        let (slot, wakes) = &*self.slot;
        slot.lock().unwrap_or_else(PoisonError::into_inner).ends = true;
        wakes.notify_one();
        if let Some(thread) = self.thread.take() {
            // A thread that panicked has said so already.
            let _ = thread.join();
        }
    }
}

/// Waits for what is to be written next; nothing when there will be no more.
fn next((slot, wakes): &(Mutex<Slot>, Condvar)) -> Option<(u64, Arc<str>)> {
    let mut slot = slot.lock().unwrap_or_else(PoisonError::into_inner);
    loop {
        if let Some(next) = slot.next.take() {
            return Some(next);
        }
        if slot.ends {
            return None;
        }
        slot = wakes.wait(slot).unwrap_or_else(PoisonError::into_inner);
    }
}

#[derive(Debug)]
struct CandidateFile {
    path: PathBuf,
    /// What stands there as far as is known; nothing where there is no file.
    written: Option<String>,
}

impl CandidateFile {
    fn write(&mut self, text: &str) -> Result<(), String> {
        let name = self.path.display();
        match std::fs::read_to_string(&self.path) {
            Ok(there) if Some(&there) != self.written.as_ref() => {
                return Err(format!(
                    "`{name}` was changed by another program and is left as it is; rename it, and change something here to have it written again"
                ));
            }
            Ok(_) => {}
            Err(error) if error.kind() == io::ErrorKind::NotFound => {}
            Err(error) => return Err(format!("`{name}` cannot be read: {error}")),
        }
        let written = AtomicFile::create(&self.path).and_then(|mut file| {
            file.write_all(text.as_bytes())?;
            file.finish()
        });
        written.map_err(|error| format!("`{name}` cannot be written: {error}"))?;
        self.written = Some(text.to_owned());
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LANTERN: &str = include_str!("../../../examples/boards/lantern.toml");

    fn board(folder: &Path) -> Draft {
        let board = folder.join("lantern.toml");
        std::fs::write(&board, LANTERN).unwrap();
        Draft::new(board, LANTERN).unwrap()
    }

    fn wait(keeper: &Keeper, revision: u64) -> Kept {
        for _ in 0..500 {
            let kept = keeper.kept().borrow().clone();
            if kept.revision >= revision {
                return kept;
            }
            std::thread::sleep(std::time::Duration::from_millis(10));
        }
        panic!("not written within five seconds");
    }

    #[test]
    fn what_was_kept_is_found_again() {
        let folder = tempfile::tempdir().unwrap();
        let board = board(folder.path());
        assert!(matches!(find(&board).unwrap(), Found::Nothing));
        let path = candidate_path(board.path());
        assert_eq!(path, folder.path().join("lantern.candidate.toml"));
        let keeper = Keeper::new(path, None);
        let text = LANTERN.replace("top_speed_m_s = 8.5", "top_speed_m_s = 7.5");
        keeper.keep(3, LANTERN);
        keeper.keep(4, &text);
        assert_eq!(wait(&keeper, 4), Kept { revision: 4, not_kept: None });
        let Found::Draft { draft, .. } = find(&board).unwrap() else { panic!("not found") };
        assert_eq!(draft.text(), text);
    }

    #[test]
    fn a_candidate_has_the_pack_that_the_board_file_has_now() {
        let folder = tempfile::tempdir().unwrap();
        let board = board(folder.path());
        let kept = LANTERN.replace("top_speed_m_s = 8.5", "top_speed_m_s = 7.5");
        std::fs::write(candidate_path(board.path()), kept).unwrap();
        let twelve = LANTERN
            .replace("series = 11", "series = 12")
            .replace("soften_below_V = 35.0", "soften_below_V = 38.0")
            .replace("stop_below_V = 33.0", "stop_below_V = 36.0");
        let twelve = Draft::new(board.path(), twelve).unwrap();
        let Found::Draft { draft, .. } = find(&twelve).unwrap() else { panic!("not found") };
        assert_eq!(draft.file().board, twelve.file().board);
        assert!(draft.text().contains("top_speed_m_s = 7.5"));
    }

    #[test]
    fn what_is_to_be_written_at_the_end_is_written() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.candidate.toml");
        let keeper = Keeper::new(path.clone(), None);
        keeper.keep(1, "one");
        keeper.keep(2, "two");
        drop(keeper);
        assert_eq!(std::fs::read_to_string(path).unwrap(), "two");
    }

    #[test]
    fn what_cannot_be_used_lies_aside_each_under_a_name_of_its_own() {
        let folder = tempfile::tempdir().unwrap();
        let board = board(folder.path());
        let illegal = LANTERN.replace("top_speed_m_s = 8.5", "top_speed_m_s = 850");
        for (bad, number) in [(illegal.as_bytes(), 1), (b"\xff\xfe", 2)] {
            std::fs::write(candidate_path(board.path()), bad).unwrap();
            let Found::Aside(path, why) = find(&board).unwrap() else { panic!("taken") };
            let name = format!("lantern.candidate.aside-{number}.toml");
            assert_eq!(path, folder.path().join(name));
            assert!(why.contains(if number == 1 { "850" } else { "UTF-8" }), "{why}");
            assert_eq!(std::fs::read(path).unwrap(), bad);
            assert!(!candidate_path(board.path()).exists());
        }
    }

    #[test]
    fn a_folder_that_is_gone_is_told_and_once_it_is_back_all_is_written() {
        let folder = tempfile::tempdir().unwrap();
        let inner = folder.path().join("inner");
        let path = inner.join("a.candidate.toml");
        let keeper = Keeper::new(path.clone(), None);
        keeper.keep(1, "one");
        let why = wait(&keeper, 1).not_kept.unwrap();
        assert!(why.contains("a.candidate.toml") && why.contains("cannot be written"), "{why}");
        std::fs::create_dir(&inner).unwrap();
        keeper.keep(2, "two");
        assert_eq!(wait(&keeper, 2).not_kept, None);
        assert_eq!(std::fs::read_to_string(path).unwrap(), "two");
    }

    #[test]
    fn what_another_program_wrote_is_not_written_over() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.candidate.toml");
        let keeper = Keeper::new(path.clone(), None);
        keeper.keep(1, "ours");
        wait(&keeper, 1);
        std::fs::write(&path, "theirs").unwrap();
        keeper.keep(2, "ours again");
        assert!(wait(&keeper, 2).not_kept.unwrap().contains("another program"));
        assert_eq!(std::fs::read_to_string(&path).unwrap(), "theirs");
        std::fs::remove_file(&path).unwrap();
        keeper.keep(3, "ours again");
        assert_eq!(wait(&keeper, 3).not_kept, None);
    }
}
