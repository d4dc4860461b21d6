//! The hand's end of the link: seals commands, opens telemetry.
//!
//! ```text
//! bytes -> length, version, kind -> pair, hand -> start -> window -> tag -> sense -> age -> telemetry
//! ```
//!
//! Silent until it has heard the board. What it opens goes to [`crate::handheld::Handheld`]; what it
//! seals is the demand that comes from there. Fed by the radio's driver; keeps no clock.

use super::around::Around;
use super::ask::Ask;
use super::cipher::{Ascon, Cipher};
use super::frame::{
    CommandFrame, Header, Kind, Parts, TELEMETRY_PAYLOAD_BYTES, assembled, lap, mark,
};
use super::pair::{Keyed, Pair};
use super::peer::{News, Peer};
use super::refusal::{Counts, Refused};
use super::report::{self, HeardByBoard, Told, Turn};
use super::session::Session;
use super::steps;
use super::supervision::{Quality, Supervision, TELEMETRY};
use crate::receiver::{Command, Lock, Sender};
use crate::telemetry::Telemetry;
use crate::throttle::Demand;
use crate::time::{Duration, Instant};

/// Telemetry has to answer one of the last so many commands: ten seconds at fifty a second, as the board
/// does it. Whoever holds it back for longer is not believed.
const ANSWERED_WITHIN: u32 = 500;

/// What takes turns in the telemetry is told anew within so many frames, or counts as not told.
const TURN_KEPT_FOR: u32 = 64;

/// A hand that the board has not talked to since it was switched on answers the third call only: one
/// that was riding answers the first, so that a spare one in a bag never takes a board that starts anew
/// from under its rider.
const ANSWERS_CALL: u8 = 3;

/// What the board told.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Heard {
    /// What was measured. Nothing while some of what takes turns has not been told, or not for 64 frames,
    /// nor where it was measured 459 ms before the frame or longer.
    pub telemetry: Option<Telemetry>,
    /// How long before the frame it was measured, rounded down to 2^16 µs; nothing where that is
    /// 459 ms or more.
    pub age: Option<Duration>,
    /// Whether the board obeys the hand's drive.
    pub lock: Lock,
    /// Whether the board's end takes something from what is commanded.
    pub held_back: bool,
    /// Whether the motor controller tells of a fault.
    pub controller_fault: bool,
    /// How the board hears this hand; nothing before it has been told.
    pub heard_by_board: Option<HeardByBoard>,
    /// How many commands were sent since the one that this answers, up to seven more than there were.
    pub commands_since: u16,
}

/// What takes turns in the telemetry, as it was last told.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
struct Turns {
    /// Each with the counter of the frame that told it.
    bytes: [Option<(u8, u32)>; 4],
}

impl Turns {
    fn told(&mut self, turn: Turn, byte: u8, counter: u32) {
        let [cells, motor, controller, link] = &mut self.bytes;
        let place = match turn {
            Turn::Cells => cells,
            Turn::Motor => motor,
            Turn::Controller => controller,
            Turn::Link => link,
        };
        *place = Some((byte, counter));
    }

    /// What is known by the frame with this counter.
    fn known(&self, counter: u32) -> [Option<u8>; 4] {
        self.bytes.map(|told| {
            let (byte, at) = told?;
            (counter.wrapping_sub(at) <= TURN_KEPT_FOR).then_some(byte)
        })
    }
}

/// The hand's end.
///
/// A clone that seals as well would use nonces twice: cloning is for simulators that go on in two ways.
#[derive(Clone, Debug)]
pub struct HandLink<C = Ascon> {
    keyed: Option<Keyed<C>>,
    /// The counter of the next command; nothing once all are used up.
    next: Option<u32>,
    board: Peer,
    /// Calls heard of the board's present start, up to a few, and whether it has talked to this hand.
    calls: u8,
    rides: bool,
    turns: Turns,
    charge: Around<24>,
    distance: Around<16>,
    supervision: Supervision,
    counts: Counts,
}

impl HandLink {
    /// A hand that was paired, in a session of its own.
    #[must_use]
    pub fn new(pair: &Pair, session: Session) -> Self {
        Self::keyed(Some(Keyed::of(pair, session)))
    }

    /// A hand as it comes from the bench: without a key it hears nobody and says nothing.
    #[must_use]
    pub fn unpaired() -> Self {
        Self::keyed(None)
    }
}

impl<C: Cipher> HandLink<C> {
    /// The same with a cipher of the caller's, as hand 0 to 3.
    #[must_use]
    pub fn with_cipher(cipher: C, hand: u8, session: Session) -> Self {
        Self::keyed(Some(Keyed::new(cipher, hand, session)))
    }

    fn keyed(keyed: Option<Keyed<C>>) -> Self {
        Self {
            keyed,
            next: Some(0),
            board: Peer::default(),
            calls: 0,
            rides: false,
            turns: Turns::default(),
            charge: Around::default(),
            distance: Around::default(),
            supervision: Supervision::new(&TELEMETRY),
            counts: Counts::default(),
        }
    }

    /// The command that `demand` is, to be sent at once and never again; nothing before the board was
    /// heard, from a hand without a key, or once 2^32 commands were sent in this session (2.7 years of
    /// them).
    #[inline(never)]
    pub fn seal(&mut self, demand: &Demand) -> Option<CommandFrame> {
        let keyed = self.keyed.as_ref()?;
        let board = self.board.session();
        if board == 0 || !(self.rides || self.calls >= ANSWERS_CALL) {
            return None;
        }
        let counter = self.next?;
        self.next = counter.checked_add(1);
        let sender = Sender { hand: keyed.hand.into(), start: keyed.session };
        let payload = Ask::of(&Command::of(demand, sender), self.board.newest()).bytes();
        let header = Header {
            kind: Kind::Command,
            hand: keyed.hand,
            pair: keyed.mark,
            peer: mark(board),
            odd_lap: false,
            session: keyed.session,
            counter,
        };
        let nonce = header.nonce(board, 0);
        Some(assembled(&header, payload, |text| keyed.cipher.seal(&nonce, text)))
    }

    /// What the board tells in the bytes that the radio heard; nothing where it only calls.
    ///
    /// # Errors
    /// [`Refused`], which is counted as well: nothing in these bytes is to be used.
    #[inline(never)]
    pub fn open(&mut self, now: Instant, bytes: &[u8]) -> Result<Option<Heard>, Refused> {
        let opened = self.opened(now, bytes);
        if let Err(refused) = opened {
            self.counts.add(refused);
        }
        opened
    }

    fn opened(&mut self, now: Instant, bytes: &[u8]) -> Result<Option<Heard>, Refused> {
        let keyed = self.keyed.as_ref().ok_or(Refused::Unpaired)?;
        let Parts { header, payload, tag } = Parts::<TELEMETRY_PAYLOAD_BYTES>::of(bytes)?;
        let sent = self.next.unwrap_or(u32::MAX).saturating_sub(1);
        let (own, answered_lap) = match header.kind {
            Kind::Command => return Err(Refused::Kind { given: header.kind.code() }),
            // The present lap, or the one before: what answers an older one does not fit its tag.
            Kind::Telemetry => {
                let odd = lap(sent) & 1 == 1;
                (keyed.session, lap(sent).wrapping_sub(u32::from(odd != header.odd_lap)))
            }
            Kind::Call => (0, 0),
        };
        if header.pair != keyed.mark {
            return Err(Refused::AnotherPair);
        }
        if header.kind == Kind::Telemetry && header.hand != keyed.hand {
            return Err(Refused::AnotherHand { given: header.hand });
        }
        if header.peer != mark(own) {
            return Err(Refused::EarlierStart);
        }
        let news = self.board.expects(&header)?;
        let mut text = *payload;
        if !keyed.cipher.open(&header.nonce(own, answered_lap), &mut text, tag) {
            return Err(Refused::Forged);
        }
        self.board = self.board.after(&header);
        if news == News::Start {
            self.calls = 0;
            self.turns = Turns::default();
            (self.charge, self.distance) = (Around::default(), Around::default());
        }
        match header.kind {
            // Whoever plays an old call to a hand that has just started is found out by the next one;
            // it is no sign that the board is there, and nothing else that it says is used.
            Kind::Call | Kind::Command => {
                self.calls = self.calls.saturating_add(1);
                if news == News::Late { Err(Refused::Late) } else { Ok(None) }
            }
            Kind::Telemetry => {
                let told = Told::read(&text)?;
                let answered = answered_lap.wrapping_shl(11) | u32::from(told.answers) << 3;
                let since = sent.saturating_sub(answered);
                if since > ANSWERED_WITHIN {
                    return Err(Refused::Stale);
                }
                match news {
                    News::Late => {
                        self.supervision.was_late(now);
                        return Err(Refused::Late);
                    }
                    News::Start => self.supervision.took(now, None),
                    News::Newer { skipped } => self.supervision.took(now, Some(skipped)),
                }
                self.rides = true;
                Ok(Some(self.heard(&header, &told, since)))
            }
        }
    }

    fn heard(&mut self, header: &Header, told: &Told, since: u32) -> Heard {
        self.turns.told(Turn::of(header.counter), told.turn, header.counter);
        let charge_drawn = self.charge.heard(told.charge).map(steps::charge::of);
        let distance = self.distance.heard(told.distance.map(u32::from)).map(steps::distance::of);
        let age = told.age();
        let [cells, motor, controller, link] = self.turns.known(header.counter);
        let telemetry = match (age, cells, motor, controller) {
            (Some(_), Some(cells), Some(motor), Some(controller)) => Some(Telemetry {
                pack_voltage: steps::pack_voltage::of(told.voltage),
                pack_current: steps::pack_current::of(told.current),
                charge_drawn,
                cell_voltage_min: told.cell.map(steps::cell_voltage::of),
                cell_temperature: report::cells_of(cells),
                motor_temperature: report::hot_of(motor),
                controller_temperature: report::hot_of(controller),
                speed: told.speed.map(steps::speed::of),
                distance,
                elevation: None,
            }),
            _ => None,
        };
        Heard {
            telemetry,
            age,
            lock: told.lock,
            held_back: told.held_back,
            controller_fault: told.controller_fault,
            heard_by_board: link.map(report::heard_by_board),
            commands_since: u16::try_from(since).unwrap_or(u16::MAX),
        }
    }

    /// Sets the counter of the next frame.
    #[cfg(test)]
    pub(super) fn next_is(&mut self, counter: u32) {
        self.next = Some(counter);
    }

    /// How good the link from the board is.
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
impl<C> core::hash::Hash for HandLink<C> {
    fn hash<H: core::hash::Hasher>(&self, state: &mut H) {
        self.keyed.hash(state);
        self.next.hash(state);
        self.board.hash(state);
        (self.calls, self.rides).hash(state);
        self.turns.hash(state);
        self.charge.hash(state);
        self.distance.hash(state);
        self.supervision.hash(state);
        self.counts.hash(state);
    }
}
