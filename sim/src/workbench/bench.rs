//! All that pages share: the candidate, what is on the board, the candidate's file, and who is to be told.
//!
//! Between `routes`, which speak with pages, and the parts that know nothing of them.

use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use serde_json::{Value, json};
use tokio::sync::{broadcast, watch};

use super::board_watch::{BoardFileState, look};
use super::candidate::{Asked, Candidate, Outcome};
use super::error::WorkbenchError;
use super::feeling::{Feeling, why_not};
use super::files::checksum;
use super::kept::{self, Found, Keeper, Kept};
use super::wire::{self, FeelAsked, in_words, usual_stand};
use crate::feel::RIDES;
use crate::report::tuned::compared;
use crate::tuning::{Draft, Fault};

/// So often the board file is looked at.
const LOOKS_EVERY: Duration = Duration::from_secs(1);

/// Words that a slow page may still have to be told.
const TOLD_BEHIND: usize = 256;

/// Something that all pages are told.
#[derive(Clone, Debug)]
pub(super) struct Told {
    pub(super) name: &'static str,
    pub(super) what: String,
}

/// The bench.
#[derive(Debug)]
pub(super) struct Bench {
    path: PathBuf,
    held: Mutex<Held>,
    keeper: Keeper,
    told: broadcast::Sender<Told>,
    stops: watch::Sender<bool>,
    /// What lies aside, and why.
    aside: Option<String>,
}

/// What changes, under one lock: a change and what is told of it belong together.
#[derive(Debug)]
struct Held {
    candidate: Candidate,
    feeling: Arc<Feeling>,
    board_file: BoardFileState,
    /// What a page asked last: what a report tells of.
    asked: Option<FeelAsked>,
}

impl Bench {
    /// Of the board file at `path`, with the candidate that was kept for it.
    pub(super) fn open(path: &Path) -> Result<Self, WorkbenchError> {
        let on_board = read(path)?;
        let feeling = Arc::new(Feeling::new(on_board.file())?);
        let place = kept::candidate_path(path);
        let found = kept::find(&on_board)
            .map_err(|source| WorkbenchError::Aside { path: place.clone(), source })?;
        let (draft, before, aside) = match found {
            Found::Nothing => (on_board.clone(), None, None),
            Found::Draft { draft, text } => (*draft, Some(text), None),
            Found::Aside(aside, why) => (on_board.clone(), None, Some(told_aside(&aside, &why))),
        };
        // No page of an earlier run has seen this number or one that follows: a change that it still has
        // to send is told from ours.
        let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
        let revision = u64::try_from(since.as_millis()).unwrap_or(1);
        let candidate = Candidate::new(on_board, draft, revision);
        let held = Held { candidate, feeling, board_file: BoardFileState::Same, asked: None };
        Ok(Self {
            path: path.to_path_buf(),
            held: Mutex::new(held),
            keeper: Keeper::new(place, before),
            told: broadcast::channel(TOLD_BEHIND).0,
            stops: watch::channel(false).0,
            aside,
        })
    }

    fn held(&self) -> MutexGuard<'_, Held> {
        // Nothing is left half done by a panic: each change is made whole, elsewhere.
        self.held.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// What lies aside since the start, and why.
    pub(super) fn aside(&self) -> Option<&str> {
        self.aside.as_deref()
    }

    /// The board file's name without its ending.
    pub(super) fn stem(&self) -> String {
        self.path.file_stem().map_or_else(String::new, |stem| stem.to_string_lossy().into_owned())
    }

    /// Where the candidate is kept.
    pub(super) fn candidate_path(&self) -> PathBuf {
        kept::candidate_path(&self.path)
    }

    /// What is told to all pages from now on.
    pub(super) fn listen(&self) -> broadcast::Receiver<Told> {
        self.told.subscribe()
    }

    /// What a page that has just begun to listen would otherwise have missed.
    pub(super) fn board_file_told(&self) -> Option<Told> {
        let state = self.held().board_file.clone();
        (state != BoardFileState::Same).then(|| board_file_told(&state))
    }

    /// Waits until the server stops.
    pub(super) fn stopped(&self) -> impl Future<Output = ()> + Send + use<> {
        let mut stops = self.stops.subscribe();
        async move {
            // It fails only when there is nobody left to stop it.
            let _ = stops.wait_for(|stops| *stops).await;
        }
    }

    /// Tells all pages that it stops, and stops.
    pub(super) fn stop(&self) {
        self.tell("stopping", &json!({}));
        self.stops.send_replace(true);
    }

    fn tell(&self, name: &'static str, what: &Value) {
        // Without a page there is nobody to be told.
        let _ = self.told.send(Told { name, what: what.to_string() });
    }

    /// All of it, as a page begins with.
    pub(super) fn board(&self) -> Value {
        let held = self.held();
        let on_board = held.candidate.on_board();
        let name = |path: &Path| {
            path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned())
        };
        let paces = on_board.file().paces.iter().zip(0_u8..);
        let paces: Vec<_> =
            paces.map(|(name, number)| json!({ "number": number, "name": name })).collect();
        let mut answer = wire::answer(&held.candidate, self.not_kept().as_deref());
        let whole = json!({
            "name": on_board.file().name,
            "file": name(&self.path),
            // Tells boards apart whose files are called the same.
            "place": self.path.canonicalize().unwrap_or_else(|_| self.path.clone()).display().to_string(),
            "candidate_file": name(&self.candidate_path()),
            "version": env!("CARGO_PKG_VERSION"),
            "keys": wire::keys(on_board),
            "rides": RIDES,
            "stands": held.feeling.stands(),
            "paces": paces,
            "on_board": wire::values(on_board),
            "set_aside": self.aside,
        });
        if let (Value::Object(answer), Value::Object(whole)) = (&mut answer, whole) {
            answer.extend(whole);
        }
        answer
    }

    /// Does what a page asks; the answer, and whether another page was first.
    pub(super) async fn change(&self, asked: &Asked<'_>) -> (bool, Value) {
        let (outcome, revision) = {
            let mut held = self.held();
            let outcome = held.candidate.change(asked);
            if outcome == Outcome::Accepted(true) {
                self.changed(&held, asked.page);
            }
            (outcome, held.candidate.revision())
        };
        match outcome {
            Outcome::Behind => {
                let mut answer = self.answer();
                answer["why"] = json!("another page changed it");
                (true, answer)
            }
            Outcome::Refused(faults) => (false, wire::judged(self.answer(), &faults)),
            Outcome::Accepted(changed) => {
                // A drag does not wait for the disk: its end, or the next step, tells.
                if changed && asked.gesture.is_none() {
                    self.wait_until_kept(revision).await;
                }
                (false, wire::judged(self.answer(), &[]))
            }
        }
    }

    /// Goes a step back, or takes one back.
    pub(super) async fn step(&self, back: bool, page: &str) -> Value {
        self.go_on(page, |candidate| if back { candidate.undo() } else { candidate.redo() }).await
    }

    /// Takes what a file makes of the candidate.
    pub(super) async fn import(
        &self,
        page: &str,
        taken: impl FnOnce(&Draft) -> Result<Draft, Vec<Fault>>,
    ) -> Value {
        let draft = taken(&self.candidate());
        match draft {
            Ok(draft) => self.go_on(page, |candidate| candidate.take(draft)).await,
            Err(faults) => wire::judged(self.answer(), &faults),
        }
    }

    async fn go_on(&self, page: &str, step: impl FnOnce(&mut Candidate) -> bool) -> Value {
        let (changed, revision) = {
            let mut held = self.held();
            let changed = step(&mut held.candidate);
            if changed {
                self.changed(&held, page);
            }
            (changed, held.candidate.revision())
        };
        if changed {
            self.wait_until_kept(revision).await;
        }
        wire::judged(self.answer(), &[])
    }

    /// The candidate is another one: it is kept, and all pages are told.
    fn changed(&self, held: &Held, page: &str) {
        let revision = held.candidate.revision();
        self.keeper.keep(revision, held.candidate.draft().text());
        self.tell("candidate", &json!({ "revision": revision, "page": page }));
    }

    async fn wait_until_kept(&self, revision: u64) {
        // It only fails when the keeper is gone, and that is at the very end.
        let _ = self.keeper.kept().wait_for(|kept| kept.revision >= revision).await;
    }

    fn not_kept(&self) -> Option<String> {
        self.keeper.kept().borrow().not_kept.clone()
    }

    fn answer(&self) -> Value {
        wire::answer(&self.held().candidate, self.not_kept().as_deref())
    }

    /// The candidate as it is now.
    pub(super) fn candidate(&self) -> Draft {
        self.held().candidate.draft().clone()
    }

    /// What is felt, and of what: the machine, what is on the board, the candidate, its revision.
    pub(super) fn tried(&self) -> (Arc<Feeling>, Draft, Draft, u64) {
        let held = self.held();
        let candidate = &held.candidate;
        let (on_board, draft) = (candidate.on_board().clone(), candidate.draft().clone());
        (Arc::clone(&held.feeling), on_board, draft, candidate.revision())
    }

    /// A page asks what is felt there.
    pub(super) fn asked_last(&self, asked: FeelAsked) {
        self.held().asked = Some(asked);
    }

    /// The present comparison as one file; without a page that has asked, on the usual stand.
    ///
    /// # Errors
    /// In words, why one of the two cannot be tried.
    pub(super) fn report(&self) -> Result<String, String> {
        let (feeling, on_board, candidate, _) = self.tried();
        let asked = self.held().asked.clone();
        let asked = asked.unwrap_or_else(|| FeelAsked { stand: usual_stand(), ride: None });
        let question = feeling.question(&asked)?;
        let felt = feeling.both((&on_board, &candidate), &question);
        let felt = felt.map_err(|error| why_not(&error))?;
        let stand = in_words(&asked);
        let [was, is] = &felt;
        let page = compared(&stand, (&on_board, &was.feel), (&candidate, &is.feel));
        let page = page.map_err(|error| error.to_string())?;
        let mark = |draft: &Draft| checksum(draft.file()).unwrap_or_else(|| "none".to_owned());
        let (of_board, of_candidate) = (mark(&on_board), mark(&candidate));
        let marks = format!("candidate {of_candidate}, on the board {of_board}");
        let before = format!("{} (on the board)", self.stem());
        let board = self.path.display().to_string();
        let command = ["homestretch", "workbench", "--board", &board].map(ToOwned::to_owned);
        Ok(page
            .words("Felt by whom, and where", stand)
            .words("Checksums of the settings", marks)
            .input(Path::new(&before), on_board.text())
            .page(command))
    }

    /// Reads the board file again, for a `page`, and tells the others; what was on the board stays where that
    /// fails, or where what was tuned does not fit the new one.
    pub(super) fn reread(&self, page: &str) -> Result<Value, WorkbenchError> {
        let on_board = read(&self.path)?;
        let feeling = Arc::new(Feeling::new(on_board.file())?);
        {
            let mut held = self.held();
            let path = self.path.clone();
            held.candidate
                .is_on_board(on_board)
                .map_err(|faults| WorkbenchError::Tuned { path, why: kept::in_words(&faults) })?;
            held.feeling = feeling;
            held.board_file = BoardFileState::Same;
            self.changed(&held, page);
            self.tell("board_file", &json!({ "what": held.board_file.in_words() }));
        }
        Ok(self.board())
    }

    /// Looks at the board file and the candidate's, again and again, and tells what is new.
    pub(super) async fn watch(self: Arc<Self>) {
        let mut kept = self.keeper.kept();
        let mut said: Option<String> = None;
        let mut looks = tokio::time::interval(LOOKS_EVERY);
        loop {
            tokio::select! {
                _ = looks.tick() => self.look_at_board_file(),
                changed = kept.changed() => {
                    if changed.is_err() {
                        return;
                    }
                    let Kept { not_kept, .. } = kept.borrow_and_update().clone();
                    if not_kept != said {
                        self.tell("kept", &json!({ "not_kept": not_kept }));
                        said = not_kept;
                    }
                }
            }
        }
    }

    fn look_at_board_file(&self) {
        let (read, before) = {
            let held = self.held();
            (held.candidate.on_board().clone(), held.board_file.clone())
        };
        let state = look(&self.path, read.text(), &before);
        let mut held = self.held();
        // Read again meanwhile: the next look tells.
        if held.candidate.on_board().text() == read.text() && held.board_file != state {
            self.tell("board_file", &json!({ "what": state.in_words() }));
            held.board_file = state;
        }
    }
}

fn board_file_told(state: &BoardFileState) -> Told {
    Told { name: "board_file", what: json!({ "what": state.in_words() }).to_string() }
}

fn told_aside(aside: &Path, why: &str) -> String {
    format!(
        "the candidate that was kept cannot be used and lies aside as `{}`: {why}",
        aside.display()
    )
}

fn read(path: &Path) -> Result<Draft, WorkbenchError> {
    let path = path.to_path_buf();
    let bytes = std::fs::read(&path)
        .map_err(|source| WorkbenchError::Read { path: path.clone(), source })?;
    let text = String::from_utf8(bytes)
        .map_err(|error| io::Error::new(io::ErrorKind::InvalidData, error))
        .map_err(|source| WorkbenchError::Read { path: path.clone(), source })?;
    Draft::new(&path, text)
        .map_err(|faults| WorkbenchError::BoardFile { path, why: kept::in_words(&faults) })
}
