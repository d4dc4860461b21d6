//! The board's end of the link: opens commands, seals telemetry.
//!
//! ```text
//! bytes -> length, version, kind -> pair -> start -> window -> tag -> sense -> order of time -> command
//! ```
//!
//! What passes all of that goes to [`crate::receiver::Receiver`]. Fed by the radio's driver with whatever
//! it hears; keeps no clock.

use super::ask::Ask;
use super::cipher::{Ascon, Cipher};
use super::frame::{
    COMMAND_PAYLOAD_BYTES, HANDS, Header, Kind, Parts, TelemetryFrame, assembled, mark,
};
use super::pair::{Keyed, Pair};
use super::peer::{News, Peer};
use super::refusal::{Counts, Refused};
use super::report::{Report, Told, Turn};
use super::session::Session;
use super::supervision::{COMMANDS, Quality, Supervision};
use crate::receiver::{Command, HAND_KEPT_FOR, Sender};
use crate::time::{Duration, Instant};

/// Once the hand has been silent for so long, every other frame is a call: it may have started anew,
/// and then understands nothing else. No source.
pub const CALLS_AFTER: Duration = Duration::from_millis(200);

/// A command has to answer one of the frames of the last five to ten seconds, so that nobody can hold
/// commands back and play them later. No source: past ten seconds without telemetry a hand asks for no
/// drive anyway (the throttle's usual settings).
pub const ANSWERED_WITHIN: Duration = Duration::from_secs(5);

/// The hand that the board listens to and talks to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
struct Riding {
    hand: u8,
    at: Instant,
}

/// The oldest counter that may still be answered.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
struct Answerable {
    /// When the newer of the two was sent.
    at: Option<Instant>,
    newer: u32,
    oldest: u32,
}

impl Answerable {
    /// The same once a frame with `counter` is sent.
    fn after(self, now: Instant, counter: u32) -> Self {
        match self.at.map(|at| now.since(at)) {
            Some(Some(since)) if since < ANSWERED_WITHIN => self,
            Some(Some(_)) => Self { at: Some(now), newer: counter, oldest: self.newer },
            // The first one, or a clock that has stepped back: nothing before it is answered.
            Some(None) | None => Self { at: Some(now), newer: counter, oldest: counter },
        }
    }
}

/// The board's end.
///
/// A clone that seals as well would use nonces twice: cloning is for simulators that go on in two ways.
#[derive(Clone, Debug)]
pub struct BoardLink<C = Ascon> {
    keyed: Option<Keyed<C>>,
    /// The counter of the next frame; nothing once all are used up.
    next: Option<u32>,
    hands: [Peer; 4],
    riding: Option<Riding>,
    answerable: Answerable,
    supervision: Supervision,
    counts: Counts,
}

const _: () = assert!(HANDS == 4, "one peer for each hand");

impl BoardLink {
    /// A board that was paired, in a session of its own.
    #[must_use]
    pub fn new(pair: &Pair, session: Session) -> Self {
        Self::keyed(Some(Keyed::of(pair, session)))
    }

    /// A board as it comes from the bench: without a key it hears nobody and says nothing.
    #[must_use]
    pub fn unpaired() -> Self {
        Self::keyed(None)
    }
}

impl<C: Cipher> BoardLink<C> {
    /// The same with a cipher of the caller's.
    #[must_use]
    pub fn with_cipher(cipher: C, session: Session) -> Self {
        Self::keyed(Some(Keyed::new(cipher, 0, session)))
    }

    fn keyed(keyed: Option<Keyed<C>>) -> Self {
        Self {
            keyed,
            next: Some(0),
            hands: [Peer::default(); 4],
            riding: None,
            answerable: Answerable::default(),
            supervision: Supervision::new(&COMMANDS),
            counts: Counts::default(),
        }
    }

    /// The command in the bytes that the radio heard, if it is to be obeyed.
    ///
    /// # Errors
    /// [`Refused`], which is counted as well: nothing in these bytes is to be used.
    #[inline(never)]
    pub fn open(&mut self, now: Instant, bytes: &[u8]) -> Result<Command, Refused> {
        let opened = self.opened(now, bytes);
        if let Err(refused) = opened {
            self.counts.add(refused);
        }
        opened
    }

    fn opened(&mut self, now: Instant, bytes: &[u8]) -> Result<Command, Refused> {
        let keyed = self.keyed.as_ref().ok_or(Refused::Unpaired)?;
        let Parts { header, payload, tag } = Parts::<COMMAND_PAYLOAD_BYTES>::of(bytes)?;
        if header.kind != Kind::Command {
            return Err(Refused::Kind { given: header.kind.code() });
        }
        if header.pair != keyed.mark {
            return Err(Refused::AnotherPair);
        }
        if header.peer != mark(keyed.session) {
            return Err(Refused::EarlierStart);
        }
        let peer = self.hands.get_mut(usize::from(header.hand)).ok_or(Refused::Nonsense)?;
        let news = peer.expects(&header)?;
        let mut text = *payload;
        if !keyed.cipher.open(&header.nonce(keyed.session), &mut text, tag) {
            return Err(Refused::Forged);
        }
        *peer = peer.after(&header);
        self.listen(now, header.hand, news);
        if news == News::Late {
            return Err(Refused::Late);
        }
        let ask = Ask::read(&text)?;
        if self.next.is_some_and(|next| ask.answers >= next) {
            return Err(Refused::Nonsense);
        }
        if ask.answers < self.answerable.oldest {
            return Err(Refused::Stale);
        }
        Ok(ask.command(Sender { hand: header.hand.into(), start: header.session }))
    }

    /// Remembers whom the board has heard.
    fn listen(&mut self, now: Instant, hand: u8, news: News) {
        let skipped = match news {
            News::Newer { skipped } => Some(skipped),
            News::Start => None,
            News::Late => {
                if self.riding.is_some_and(|riding| riding.hand == hand) {
                    self.supervision.was_late(now);
                }
                return;
            }
        };
        let rides = match self.riding {
            Some(riding) if riding.hand == hand => true,
            Some(riding) => now.since(riding.at).is_none_or(|silence| silence > HAND_KEPT_FOR),
            None => true,
        };
        if !rides {
            return;
        }
        if self.riding.is_none_or(|riding| riding.hand != hand) {
            self.supervision = Supervision::new(&COMMANDS);
        }
        self.riding = Some(Riding { hand, at: now });
        self.supervision.took(now, skipped);
    }

    /// Telemetry for the hand that rides, or a call where it is not heard; nothing from a board without
    /// a key, or once 2^32 frames were sent in this session (13 years of them).
    #[inline(never)]
    pub fn seal(&mut self, now: Instant, report: &Report) -> Option<TelemetryFrame> {
        let keyed = self.keyed.as_ref()?;
        let counter = self.next?;
        self.next = counter.checked_add(1);
        self.answerable = self.answerable.after(now, counter);
        let silence = self.riding.map(|riding| now.since(riding.at));
        let heard = matches!(silence, Some(Some(silence)) if silence <= CALLS_AFTER);
        let calls = !heard && counter & 1 == 0;
        let talks_to = self.riding.filter(|_| !calls);
        let (kind, hand, peer) = match talks_to {
            Some(riding) => {
                let peer = self.hands.get(usize::from(riding.hand)).copied().unwrap_or_default();
                (Kind::Telemetry, riding.hand, peer)
            }
            None => (Kind::Call, 0, Peer::default()),
        };
        let turn = Turn::of(counter).says(&report.telemetry, || self.supervision.tally(now));
        let [answers, ..] = (peer.newest() >> 3).to_le_bytes();
        let payload = Told::of(report, turn, answers).bytes();
        let header = Header {
            kind,
            hand,
            pair: keyed.mark,
            peer: mark(peer.session()),
            session: keyed.session,
            counter,
        };
        let nonce = header.nonce(peer.session());
        Some(assembled(&header, payload, |text| keyed.cipher.seal(&nonce, text)))
    }

    /// Sets the counter of the next frame.
    #[cfg(test)]
    pub(super) fn next_is(&mut self, counter: u32) {
        self.next = Some(counter);
    }

    /// How good the link from the hand is.
    #[must_use]
    pub fn quality(&self, now: Instant) -> Quality {
        self.supervision.quality(now)
    }

    /// What was refused, and how often.
    #[must_use]
    pub const fn refused(&self) -> &Counts {
        &self.counts
    }
}

/// Of all that changes from frame to frame; never of the key.
impl<C> core::hash::Hash for BoardLink<C> {
    fn hash<H: core::hash::Hasher>(&self, state: &mut H) {
        self.keyed.hash(state);
        self.next.hash(state);
        self.hands.hash(state);
        self.riding.hash(state);
        self.answerable.hash(state);
        self.supervision.hash(state);
        self.counts.hash(state);
    }
}
