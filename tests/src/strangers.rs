//! Whether a replay, a stranger or a damaged frame is ever taken, over very many tries.
//!
//! Two ends ride together, lose frames, wait, and are switched off and on; somebody who hears all of it, what
//! is lost as well, tries whatever can be tried without the key. What may be taken is known here from what
//! was sent, as bytes: for this life of the hearer, not before one that was taken already, and drive only
//! within its time.

use homestretch::link::{BoardLink, HandLink, Key, Pair, Refused, Report, Session, next_session};
use homestretch::receiver::Lock;
use homestretch::telemetry::Telemetry;
use homestretch::throttle::{Arming, Demand, Reasons};
use homestretch::time::{Duration, Instant};
use homestretch::units::{Amperes, MetresPerSecondSquared, Ratio, Volts};
use rand::{Rng as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;
use serde::Serialize;
use std::collections::VecDeque;

use crate::restarts::Sure;

/// Tries of one pair of ends.
const STREAM: u64 = 20_000;

/// So many frames of the past are kept by whoever listens, of all starts.
const RECORDED: usize = 4000;

/// What is tried, in the order of its counts.
pub const TRIES: [&str; 9] = [
    "a frame as it was sent",
    "a frame from before a start of either end",
    "a frame with bits turned over",
    "a frame cut short or made longer",
    "a frame with another header",
    "a frame with the contents of another",
    "a frame of guessed bytes under a true header",
    "a frame of another pair under this one's mark",
    "a frame played back to whom it came from",
];

/// What came of it.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Tried {
    /// How often each was tried.
    pub tries: [u64; TRIES.len()],
    /// How often each was taken: never, it is to be hoped.
    pub taken: [u64; TRIES.len()],
    /// Frames that arrived as they were sent, once, in order,
    pub arrived: u64,
    /// and how many of them were taken: all but those for a life that the hearer has just left, and
    /// those that only a start of the other end explains.
    pub rightly: u64,
    /// Lost frames that were played while nothing newer had been heard, in their time: nobody can tell
    /// them from late ones, and they are taken as such.
    pub late: u64,
    /// Old calls that a hand took which had just started and knew no newer one: it sends what the board
    /// refuses, until it hears the board. Nothing else comes of it, and they count as not taken.
    pub misled: u64,
    /// Starts of either end.
    pub starts: u64,
    /// Why tries were refused, by the name of the reason.
    pub reasons: [u64; Refused::KINDS],
}

impl Tried {
    fn and(mut self, other: &Self) -> Self {
        let add = |all: &mut [u64], more: &[u64]| {
            all.iter_mut().zip(more).for_each(|(all, more)| *all += more);
        };
        add(&mut self.tries, &other.tries);
        add(&mut self.taken, &other.taken);
        add(&mut self.reasons, &other.reasons);
        self.arrived += other.arrived;
        self.rightly += other.rightly;
        self.starts += other.starts;
        self.misled += other.misled;
        self.late += other.late;
        self
    }

    /// All tries.
    #[must_use]
    pub fn total(&self) -> u64 {
        self.tries.iter().sum()
    }
}

fn session(memory: &mut Sure) -> Session {
    next_session(memory).expect("fewer starts than there are numbers")
}

/// Who hears a frame.
#[derive(Clone, Copy, PartialEq, Eq)]
enum To {
    Hand,
    Board,
}

#[derive(Clone)]
struct Sent {
    to: To,
    /// Both ends' starts when it was sent.
    life: (u32, u32),
    /// When, after how many commands, and whether it asks for drive.
    at: Instant,
    asked: u32,
    drives: bool,
    bytes: Vec<u8>,
}

/// Drive may be taken for so long: ten seconds, and a quarter more.
const DRIVE_FOR: Duration = Duration::from_millis(12_500);

/// Telemetry may be taken for so many commands: ten seconds, as the hand counts them, in eights.
const TOLD_FOR: u32 = 508;

/// Two ends, and all that was ever said.
struct Ends {
    numbers: ChaCha8Rng,
    pair: Pair,
    hand: HandLink,
    board: BoardLink,
    /// Their memories and how often each was started: the present life.
    hand_memory: Sure,
    board_memory: Sure,
    now: Instant,
    /// How many commands were sent.
    asked: u32,
    /// Whether this hand has heard the board's present start, or a later one than any other.
    knows: bool,
    recorded: VecDeque<Sent>,
    /// What was sent to each end, for its present life, and may still be taken.
    may: [VecDeque<Sent>; 2],
    stranger: (HandLink, BoardLink),
    tried: Tried,
}

impl Ends {
    fn new(seed: u64) -> Self {
        let mut numbers = ChaCha8Rng::seed_from_u64(seed);
        let mut pair = || {
            let mut bytes = [0; 16];
            numbers.fill_bytes(&mut bytes);
            Pair::new(Key::new(bytes).expect("sixteen random bytes are not all alike"), 0)
                .expect("hand 0 is one")
        };
        let (pair, other) = (pair(), pair());
        let (mut hand_memory, mut board_memory) = (Sure::after(6), Sure::after(9));
        let mut stranger = (
            HandLink::new(&other, session(&mut Sure::after(6))),
            BoardLink::new(&other, session(&mut Sure::after(9))),
        );
        // The stranger's own two ends talk to each other: that is how its frames come about.
        for millis in 1..4 {
            let now = Instant::from_millis(millis);
            if let Some(call) = stranger.1.seal(now, &report(0)) {
                let _ = stranger.0.open(now, &call);
            }
        }
        Self {
            hand: HandLink::new(&pair, session(&mut hand_memory)),
            board: BoardLink::new(&pair, session(&mut board_memory)),
            numbers,
            pair,
            hand_memory,
            board_memory,
            now: Instant::from_millis(1000),
            asked: 0,
            knows: false,
            recorded: VecDeque::new(),
            may: Default::default(),
            stranger,
            tried: Tried::default(),
        }
    }

    fn chance(&mut self, one_in: u32) -> bool {
        self.numbers.next_u32().is_multiple_of(one_in)
    }

    fn below(&mut self, end: usize) -> usize {
        let end = u32::try_from(end).unwrap_or(u32::MAX).max(1);
        usize::try_from(self.numbers.next_u32() % end).unwrap_or(0)
    }

    fn life(&self) -> (u32, u32) {
        (self.hand_memory.starts(), self.board_memory.starts())
    }

    /// A fiftieth of a second: a command, and now and then telemetry; some are lost.
    fn ride(&mut self) {
        let pause = if self.chance(500) { 14_000 } else { 20 };
        self.now = self.now + Duration::from_millis(pause);
        let (life, at, asked) = (self.life(), self.now, self.asked);
        if self.chance(4) {
            let report = report(i32::try_from(self.below(20)).unwrap_or(0));
            if let Some(frame) = self.board.seal(self.now, &report) {
                let bytes = frame.to_vec();
                self.say(Sent { to: To::Hand, life, at, asked, drives: false, bytes });
            }
        }
        let share = i32::try_from(self.below(201)).unwrap_or(0) - 100;
        if let Some(frame) = self.hand.seal(&demand(share)) {
            let bytes = frame.to_vec();
            self.asked = self.asked.wrapping_add(1);
            self.say(Sent { to: To::Board, life, at, asked, drives: share > 0, bytes });
        }
        if self.chance(400) {
            self.tried.starts += 1;
            self.hand = HandLink::new(&self.pair, session(&mut self.hand_memory));
            // Calls are for any hand.
            self.may[0].retain(|sent| (sent.bytes[0] >> 3) & 3 == 3);
            self.knows = false;
        }
        if self.chance(400) {
            self.tried.starts += 1;
            self.board = BoardLink::new(&self.pair, session(&mut self.board_memory));
            self.may[1].clear();
        }
    }

    /// Sends a frame: heard, or lost, and recorded in any case.
    fn say(&mut self, sent: Sent) {
        let may = &mut self.may[usize::from(sent.to == To::Board)];
        if may.len() >= RECORDED {
            may.pop_front();
        }
        may.push_back(sent.clone());
        if !self.chance(5) {
            let taken = self.hear(sent.to, &sent.bytes).is_ok();
            self.tried.arrived += 1;
            self.tried.rightly += u64::from(taken);
            self.knows |= taken && sent.to == To::Hand;
            // It may not be taken any more; nor what is older, where it was taken.
            if taken {
                let _ = self.was_to_be(sent.to, &sent.bytes);
            } else {
                self.may[usize::from(sent.to == To::Board)].pop_back();
            }
        }
        if self.recorded.len() >= RECORDED {
            self.recorded.pop_front();
        }
        self.recorded.push_back(sent);
    }

    /// Whether a frame with these bytes was still to be taken; it and all before it are over then.
    fn was_to_be(&mut self, to: To, bytes: &[u8]) -> bool {
        let may = &mut self.may[usize::from(to == To::Board)];
        let Some(place) = may.iter().position(|sent| sent.bytes == bytes) else { return false };
        let sent = may.drain(..=place).next_back();
        sent.is_some_and(|sent| {
            let age = self.now.since(sent.at).unwrap_or(Duration::ZERO);
            match to {
                To::Board => !sent.drives || age <= DRIVE_FOR,
                To::Hand => self.asked.wrapping_sub(sent.asked) <= TOLD_FOR,
            }
        })
    }

    /// Whether more than a call's session was taken from it.
    fn hear(&mut self, to: To, bytes: &[u8]) -> Result<bool, Refused> {
        match to {
            To::Hand => self.hand.open(self.now, bytes).map(|heard| heard.is_some()),
            To::Board => self.board.open(self.now, bytes).map(|_| true),
        }
    }

    /// One try.
    fn attempt(&mut self) {
        let count = self.recorded.len();
        if count < 2 {
            return self.ride();
        }
        // Half of the time one of the newest.
        let back = if self.chance(2) { self.below(count.min(80)) } else { self.below(count) };
        let frame = self.recorded[count - 1 - back].clone();
        // A call of the board's present start that only an earlier start of the hand has heard.
        let (hand, board) = self.life();
        let call_anew = frame.life.1 == board && frame.life.0 < hand;
        let what = self.below(TRIES.len());
        let (what, to, bytes) = self.changed(what, frame);
        self.tried.tries[what] += 1;
        let heard = self.hear(to, &bytes);
        match heard {
            // A lost frame of this life, or one for a hand that has just started.
            Ok(_) if what < 2 && self.was_to_be(to, &bytes) => self.tried.late += 1,
            Ok(false) if what < 2 && call_anew => self.tried.late += 1,
            // An old call, to a hand that knows no newer start of the board.
            Ok(false) if what == 1 && !self.knows => self.tried.misled += 1,
            Ok(_) => self.tried.taken[what] += 1,
            Err(refused) => self.tried.reasons[refused.number()] += 1,
        }
    }

    /// The frame that is tried in the place of a recorded one, and what it counts as.
    fn changed(&mut self, what: usize, frame: Sent) -> (usize, To, Vec<u8>) {
        let Sent { to, life, mut bytes, .. } = frame;
        match what {
            0 | 1 => return (usize::from(life != self.life()), to, bytes),
            2 => {
                let turned = 1 + self.below(9);
                let before = bytes.clone();
                for _ in 0..turned {
                    let bit = self.below(bytes.len() * 8);
                    bytes[bit / 8] ^= 1 << (bit % 8);
                }
                if bytes == before {
                    bytes[9] ^= 1;
                }
            }
            3 => {
                let length = self.below(40);
                let length = if length == bytes.len() { length + 1 } else { length };
                bytes.resize(length, 0);
            }
            4 => {
                let at = 2 + self.below(7);
                bytes[at] =
                    bytes[at].wrapping_add(1 + self.numbers.next_u32().to_le_bytes()[0] % 255);
            }
            5 => {
                let other = self.below(self.recorded.len());
                let other = &self.recorded[other];
                if other.bytes.len() == bytes.len() {
                    bytes[9..].copy_from_slice(&other.bytes[9..]);
                }
                // Newer than all that was heard, so that it gets as far as its tag.
                bytes[7] = bytes[7].wrapping_add(1);
            }
            6 => {
                bytes[7] = bytes[7].wrapping_add(1);
                self.numbers.fill_bytes(&mut bytes[9..]);
            }
            7 => {
                let (hand, board) = &mut self.stranger;
                let own = match to {
                    To::Hand => board.seal(self.now, &report(1)).map(|frame| frame.to_vec()),
                    To::Board => hand.seal(&demand(100)).map(|frame| frame.to_vec()),
                };
                let own = own.expect("the stranger's own two ends know each other");
                // Its own header but for kind, marks and session, so that it is not passed over.
                bytes = [&bytes[..5], &own[5..]].concat();
                bytes[7] = bytes[7].wrapping_add(1);
            }
            _ => {
                let back = if to == To::Hand { To::Board } else { To::Hand };
                return (what, back, bytes);
            }
        }
        (what, to, bytes)
    }
}

fn report(volts: i32) -> Report {
    Report {
        telemetry: Telemetry {
            pack_voltage: Volts::from_whole(30 + volts),
            pack_current: Amperes::from_whole(volts),
            ..Telemetry::default()
        },
        age: Duration::ZERO,
        lock: Lock::Open,
        held_back: false,
        controller_fault: false,
    }
}

fn demand(percent: i32) -> Demand {
    Demand {
        share: Ratio::from_percent(percent),
        backward: false,
        asked: Ratio::ZERO,
        paced: Ratio::ONE,
        acceleration: MetresPerSecondSquared::ZERO,
        reasons: Reasons::NONE,
        armed: Arming::default(),
        neutral: percent == 0,
        brake_left: Ratio::ONE,
    }
}

/// So many tries, at least.
#[must_use]
pub fn attempt(tries: u64, seed: u64) -> Tried {
    let streams = tries.div_ceil(STREAM);
    let length = STREAM.min(tries);
    (0..streams)
        .into_par_iter()
        .map(|stream| {
            let mut ends = Ends::new(seed.wrapping_mul(1_000_003).wrapping_add(stream));
            (0..200).for_each(|_| ends.ride());
            while ends.tried.total() < length {
                ends.attempt();
                if ends.chance(8) {
                    ends.ride();
                }
            }
            ends.tried
        })
        .reduce(Tried::default, |all, more| all.and(&more))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_is_taken_that_was_not_sent_and_all_that_was_is_taken() {
        let tried = attempt(100_000, 3);
        assert!(tried.total() >= 100_000);
        assert_eq!(tried.taken, [0; TRIES.len()], "{tried:?}");
        assert!(tried.tries.iter().all(|&count| count > 2000), "{tried:?}");
        // A start costs a few frames until the ends have found each other again.
        assert!(tried.arrived > 8000 && tried.starts > 20, "{tried:?}");
        assert!(tried.arrived - tried.rightly < 40 * tried.starts, "{tried:?}");
        // Each kind of refusal that is to be expected was met.
        let met = |refused: Refused| tried.reasons[refused.number()] > 100;
        for refused in [
            Refused::Length { given: 0, wanted: 0 },
            Refused::EarlierStart,
            Refused::Repeated,
            Refused::TooOld,
            Refused::Forged,
            Refused::AnotherPair,
        ] {
            assert!(met(refused), "{refused} {tried:?}");
        }
    }
}
