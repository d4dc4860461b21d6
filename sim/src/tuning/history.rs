//! Drafts one after the other, and the way back and forth between them.

use std::collections::VecDeque;

use super::draft::Draft;
use super::fault::Fault;

/// So many steps back are kept. No source: more than anybody goes back by hand.
const MOST_STEPS: usize = 200;

/// The draft that holds, those before it, and those that were taken back.
#[derive(Clone, Debug)]
pub struct History {
    past: VecDeque<Draft>,
    now: Draft,
    future: Vec<Draft>,
}

impl History {
    /// A history that begins with `draft`.
    #[must_use]
    pub fn new(draft: Draft) -> Self {
        Self { past: VecDeque::new(), now: draft, future: Vec::new() }
    }

    /// The draft that holds.
    #[must_use]
    pub const fn draft(&self) -> &Draft {
        &self.now
    }

    /// Goes on with `draft`. One with the same text is no step. What was taken back is forgotten, and so
    /// is what lies too many steps back.
    pub fn go_on(&mut self, draft: Draft) {
        if draft.text() == self.now.text() {
            return;
        }
        let before = std::mem::replace(&mut self.now, draft);
        self.past.push_back(before);
        if self.past.len() > MOST_STEPS {
            self.past.pop_front();
        }
        self.future.clear();
    }

    /// The same history on another `board` ([`Draft::onto`]); steps that do not fit it are left out.
    ///
    /// # Errors
    /// Why the draft that holds does not fit it.
    pub fn onto(&self, board: &Draft) -> Result<Self, Vec<Fault>> {
        let fits = |draft: &Draft| draft.onto(board).ok();
        Ok(Self {
            now: self.now.onto(board)?,
            past: self.past.iter().filter_map(fits).collect(),
            future: self.future.iter().filter_map(fits).collect(),
        })
    }

    /// Goes a step back; whether there was one.
    pub fn undo(&mut self) -> bool {
        let Some(before) = self.past.pop_back() else { return false };
        self.future.push(std::mem::replace(&mut self.now, before));
        true
    }

    /// Takes a step back back; whether there was one.
    pub fn redo(&mut self) -> bool {
        let Some(after) = self.future.pop() else { return false };
        self.past.push_back(std::mem::replace(&mut self.now, after));
        true
    }

    /// Whether there is a step to go back.
    #[must_use]
    pub fn can_undo(&self) -> bool {
        !self.past.is_empty()
    }

    /// Whether a step back can be taken back.
    #[must_use]
    pub fn can_redo(&self) -> bool {
        !self.future.is_empty()
    }
}
