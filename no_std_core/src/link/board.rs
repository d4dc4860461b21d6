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
    COMMAND_PAYLOAD_BYTES, HANDS, Header, Kind, Parts, TelemetryFrame, assembled, lap, mark,
};
use super::pair::{Keyed, Pair};
use super::peer::{News, Peer};
use super::refusal::{Counts, Refused};
use super::report::{Report, Told, Turn};
use super::session::Session;
use super::supervision::{COMMANDS, Quality, Supervision};
use crate::receiver::{Command, HAND_KEPT_FOR, Sender};
use crate::time::{Duration, Instant};
use crate::units::Ratio;

/// Once the hand has been silent for so long, every other frame is a call: it may have started anew,
/// and then understands nothing else. No source.
pub const CALLS_AFTER: Duration = Duration::from_millis(200);

/// A command that drives has to answer a frame which the board has sent no longer ago, so that nobody can
/// hold drive back and play it later; and up to a quarter more, since it is told in steps. Ten seconds,
/// since a hand that has heard nothing for so long asks for no drive anyway (the throttle's usual
/// settings). A brake is taken however old its answer is: a rider whose board is heard no more still
/// brakes.
pub const ANSWERED_WITHIN: Duration = Duration::from_secs(10);

/// A quarter of that.
const STEP: Duration = Duration::from_millis(2500);

/// The hand that the board listens to and talks to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
struct Riding {
    hand: u8,
    at: Instant,
}

/// The oldest counter that may still be answered by what drives.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
struct Answerable {
    /// When the newest of the steps below began.
    at: Instant,
    /// What the next counter was when each step began, the newest first; nothing of before the last is
    /// answered any more.
    steps: [u32; 5],
}

impl Answerable {
    /// The same at `now`, where the next frame will have the counter `next`.
    fn at(mut self, now: Instant, next: u32) -> Self {
        let Some(mut over) = now.since(self.at) else {
            // A clock that has stepped back: nobody knows how old an answer is.
            return Self { at: now, steps: [next; 5] };
        };
        for _ in 0..5 {
            if over < STEP {
                return self;
            }
            let [a, b, c, d, _] = self.steps;
            self.steps = [next, a, b, c, d];
            (self.at, over) = (self.at + STEP, over - STEP);
        }
        // Longer than all of them.
        if over < STEP { self } else { Self { at: now, ..self } }
    }

    const fn oldest(&self) -> u32 {
        let [.., oldest] = self.steps;
        oldest
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
            answerable: Answerable { at: Instant::default(), steps: [0; 5] },
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
        if !keyed.cipher.open(&header.nonce(keyed.session, 0), &mut text, tag) {
            return Err(Refused::Forged);
        }
        *peer = peer.after(&header);
        let ask = Ask::read(&text)?;
        let next = self.next.unwrap_or(u32::MAX);
        if ask.answers >= next {
            return Err(Refused::Nonsense);
        }
        self.answerable = self.answerable.at(now, next);
        let stale = ask.answers < self.answerable.oldest();
        if news == News::Late {
            if !stale && self.riding.is_some_and(|riding| riding.hand == header.hand) {
                self.supervision.was_late(now);
            }
            return Err(Refused::Late);
        }
        let command = ask.command(Sender { hand: header.hand.into(), start: header.session });
        match (stale, command.share > Ratio::ZERO || command.backward) {
            (true, true) => return Err(Refused::Stale),
            // It brakes; but it is no sign of who is there now.
            (true, false) => {}
            (false, _) => self.listen(now, header.hand, news),
        }
        Ok(command)
    }

    /// Remembers whom the board hears now.
    fn listen(&mut self, now: Instant, hand: u8, news: News) {
        let skipped = match news {
            News::Newer { skipped } => Some(skipped),
            News::Start | News::Late => None,
        };
        if let Some(riding) = self.riding.as_mut().filter(|riding| riding.hand != hand) {
            match now.since(riding.at) {
                Some(silence) if silence > HAND_KEPT_FOR => {}
                Some(_) => return,
                // A clock that has stepped back: it counts as heard now, as the receiver takes it.
                None => {
                    riding.at = now;
                    return;
                }
            }
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
        self.answerable = self.answerable.at(now, counter);
        self.next = counter.checked_add(1);
        let silence = self.riding.map(|riding| now.since(riding.at));
        let heard = matches!(silence, Some(Some(silence)) if silence <= CALLS_AFTER);
        // Every other one, and not always the same turns.
        let calls = !heard && (counter ^ (counter >> 2)) & 1 == 0;
        let talks_to = self.riding.filter(|_| !calls);
        let (kind, hand, peer) = match talks_to {
            Some(riding) => {
                let peer = self.hands.get(usize::from(riding.hand)).copied().unwrap_or_default();
                (Kind::Telemetry, riding.hand, peer)
            }
            None => (Kind::Call, 0, Peer::default()),
        };
        let turn = Turn::of(counter).says(&report.telemetry, || self.supervision.tally(now));
        let answered = peer.newest();
        let [answers, ..] = (answered >> 3).to_le_bytes();
        let payload = Told::of(report, turn, answers).bytes();
        let header = Header {
            kind,
            hand,
            pair: keyed.mark,
            peer: mark(peer.session()),
            odd_lap: lap(answered) & 1 == 1,
            session: keyed.session,
            counter,
        };
        let nonce = header.nonce(peer.session(), lap(answered));
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
