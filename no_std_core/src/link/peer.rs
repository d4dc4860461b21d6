//! What an end knows of the other one: the newest of its starts, and which of its frames were heard.
//!
//! Kept by `hand` (the board) and `board` (each hand). Asked before a frame is opened; moved only by
//! one that has proved authentic.

use super::frame::Header;
use super::refusal::Refused;
use super::window::{Place, Window};

/// An end that was heard, or not yet.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub(super) struct Peer {
    /// Of its newest start; 0 before anything was heard.
    session: u32,
    window: Window,
}

/// What an authentic frame is to what was heard before.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum News {
    /// The first of a start that was not known.
    Start,
    /// Newer than all before; so many were passed over.
    Newer {
        /// How many.
        skipped: u32,
    },
    /// A newer one was heard first.
    Late,
}

impl Peer {
    /// What a frame with this header would be, if it were authentic.
    ///
    /// # Errors
    /// From an earlier start, or heard already, or too old to tell.
    pub(super) fn expects(&self, header: &Header) -> Result<News, Refused> {
        // No start has the number 0.
        if header.session < self.session.max(1) {
            return Err(Refused::EarlierStart);
        }
        if header.session > self.session {
            return Ok(News::Start);
        }
        match self.window.place(header.counter) {
            Place::Newer { skipped } => Ok(News::Newer { skipped }),
            Place::Late => Ok(News::Late),
            Place::Repeated => Err(Refused::Repeated),
            Place::TooOld => Err(Refused::TooOld),
        }
    }

    /// The same once an authentic frame with this header was heard.
    #[must_use]
    pub(super) fn after(self, header: &Header) -> Self {
        let before = if header.session == self.session { self.window } else { Window::default() };
        Self { session: header.session, window: before.after(header.counter) }
    }

    /// The session of its newest start; 0 before anything was heard.
    pub(super) const fn session(&self) -> u32 {
        self.session
    }

    /// The newest of its counters; 0 before anything was heard.
    pub(super) const fn newest(&self) -> u32 {
        match self.window.newest() {
            Some(counter) => counter,
            None => 0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::frame::Kind;
    use super::*;

    fn header(session: u32, counter: u32) -> Header {
        Header { kind: Kind::Command, hand: 0, pair: 0, peer: 0, odd_lap: false, session, counter }
    }

    #[test]
    fn a_later_start_begins_anew_and_an_earlier_one_is_over() {
        let peer = Peer::default();
        assert_eq!(peer.expects(&header(0, 3)), Err(Refused::EarlierStart));
        assert_eq!(peer.expects(&header(5, 3)), Ok(News::Start));
        let peer = peer.after(&header(5, 3));
        assert_eq!(peer.expects(&header(5, 3)), Err(Refused::Repeated));
        assert_eq!(peer.expects(&header(4, 9)), Err(Refused::EarlierStart));
        assert_eq!(peer.expects(&header(5, 2)), Ok(News::Late));
        let peer = peer.after(&header(5, 90));
        assert_eq!(peer.expects(&header(5, 3)), Err(Refused::TooOld));
        let peer = peer.after(&header(6, 0));
        assert_eq!((peer.session(), peer.newest()), (6, 0));
        assert_eq!(peer.expects(&header(5, 91)), Err(Refused::EarlierStart));
    }
}
