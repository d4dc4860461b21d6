//! The candidate: what becomes of it when a page asks for a change, whoever else changes it too.
//!
//! No files, no clock and no network here; `bench` keeps what comes of it, `routes` tells it. A change names
//! the revision that it was made on: one that another page has gone on from is not taken, so that nobody's
//! work is lost unseen. Changes of one gesture, a drag for instance, are one step to undo.

use crate::tuning::{Change, Draft, Fault, History};

/// One wish of a page.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Wish {
    /// A change of the draft.
    Change(Change),
    /// All as it is on the board.
    AsOnBoard,
}

/// Wishes of a page, made together.
#[derive(Clone, Debug)]
pub(super) struct Asked<'a> {
    /// What the page saw when it made them.
    pub(super) revision: u64,
    /// Which page.
    pub(super) page: &'a str,
    /// Changes with the same word are one step to undo.
    pub(super) gesture: Option<&'a str>,
    /// In their order.
    pub(super) wishes: &'a [Wish],
}

/// What became of wishes.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Outcome {
    /// They hold; whether that changed anything.
    Accepted(bool),
    /// They cannot be; all is as it was.
    Refused(Vec<Fault>),
    /// Another page has changed it since; all is as that one left it.
    Behind,
}

/// A gesture that goes on.
#[derive(Clone, Debug)]
struct Gesture {
    page: String,
    word: String,
    /// How it was when it began.
    before: History,
}

/// The draft that is tuned, beside the one that is on the board.
#[derive(Clone, Debug)]
pub(super) struct Candidate {
    on_board: Draft,
    history: History,
    revision: u64,
    gesture: Option<Gesture>,
}

impl Candidate {
    /// A candidate that begins with `draft`. `revision` is one that no page has seen.
    pub(super) fn new(on_board: Draft, draft: Draft, revision: u64) -> Self {
        Self { on_board, history: History::new(draft), revision, gesture: None }
    }

    pub(super) const fn revision(&self) -> u64 {
        self.revision
    }

    pub(super) const fn on_board(&self) -> &Draft {
        &self.on_board
    }

    pub(super) const fn draft(&self) -> &Draft {
        self.history.draft()
    }

    pub(super) const fn history(&self) -> &History {
        &self.history
    }

    /// Does what is asked, or says why not.
    pub(super) fn change(&mut self, asked: &Asked<'_>) -> Outcome {
        if asked.revision != self.revision {
            return Outcome::Behind;
        }
        match self.wished(asked.wishes) {
            Err(faults) => Outcome::Refused(faults),
            Ok(draft) => Outcome::Accepted(self.go_on(draft, asked)),
        }
    }

    /// The draft that is wished for. What comes before a wish for all that is on the board is in vain.
    fn wished(&self, wishes: &[Wish]) -> Result<Draft, Vec<Fault>> {
        let (mut draft, mut changes) = (self.draft(), Vec::new());
        for wish in wishes {
            match wish {
                Wish::AsOnBoard => {
                    draft = &self.on_board;
                    changes.clear();
                }
                Wish::Change(change) => changes.push(change.clone()),
            }
        }
        if changes.is_empty() { Ok(draft.clone()) } else { draft.after(&changes) }
    }

    fn go_on(&mut self, draft: Draft, asked: &Asked<'_>) -> bool {
        let changed = draft.text() != self.draft().text();
        let goes_on = self
            .gesture
            .take()
            .filter(|gesture| Some(gesture.word.as_str()) == asked.gesture)
            .filter(|gesture| gesture.page == asked.page);
        self.gesture = goes_on.or_else(|| {
            let word = asked.gesture?.to_owned();
            Some(Gesture { page: asked.page.to_owned(), word, before: self.history.clone() })
        });
        if let Some(gesture) = &self.gesture {
            self.history = gesture.before.clone();
        }
        self.history.go_on(draft);
        self.count(changed)
    }

    /// Takes a whole draft, that of an imported file; whether it is another one.
    pub(super) fn take(&mut self, draft: Draft) -> bool {
        self.gesture = None;
        let changed = draft.text() != self.draft().text();
        self.history.go_on(draft);
        self.count(changed)
    }

    /// Goes a step back; whether there was one.
    pub(super) fn undo(&mut self) -> bool {
        self.gesture = None;
        let gone = self.history.undo();
        self.count(gone)
    }

    /// Takes a step back back; whether there was one.
    pub(super) fn redo(&mut self) -> bool {
        self.gesture = None;
        let gone = self.history.redo();
        self.count(gone)
    }

    /// Something else is on the board. What was tuned stays, on the pack and the vehicle that are there now;
    /// all pages have to look again.
    ///
    /// # Errors
    /// Why what was tuned does not fit it; all is as it was then.
    pub(super) fn is_on_board(&mut self, draft: Draft) -> Result<(), Vec<Fault>> {
        self.history = self.history.onto(&draft)?;
        self.on_board = draft;
        self.gesture = None;
        self.count(true);
        Ok(())
    }

    fn count(&mut self, changed: bool) -> bool {
        self.revision += u64::from(changed);
        changed
    }
}

#[cfg(test)]
mod tests;
