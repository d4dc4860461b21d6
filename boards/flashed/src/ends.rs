//! Two ends of a link with a key of their own, for programs that want to hear them talk.

use core::convert::Infallible;

use homestretch::link::{BoardLink, HandLink, Key, Pair, SessionStore, next_session};
use homestretch::throttle::{Arming, Demand, Reasons};
use homestretch::units::{MetresPerSecondSquared, Ratio};

/// A key that everybody can read here: of no use but for this.
const KEY: [u8; 16] = *b"an invented key!";

/// A memory that lives as long as the program: enough where a program is one start.
#[derive(Debug)]
struct InRam(u32);

impl SessionStore for InRam {
    type Error = Infallible;

    fn largest(&mut self) -> Result<u32, Self::Error> {
        Ok(self.0)
    }

    fn keep(&mut self, number: u32) -> Result<(), Self::Error> {
        self.0 = number;
        Ok(())
    }
}

fn pair() -> Option<Pair> {
    Pair::new(Key::new(KEY).ok()?, 0).ok()
}

/// The hand's end, in the start of this number; nothing where there is no such start.
#[must_use]
pub fn hand_link(start: u32) -> Option<HandLink> {
    Some(HandLink::new(&pair()?, next_session(&mut InRam(start.checked_sub(1)?)).ok()?))
}

/// The board's end, in the start of this number.
#[must_use]
pub fn board_link(start: u32) -> Option<BoardLink> {
    Some(BoardLink::new(&pair()?, next_session(&mut InRam(start.checked_sub(1)?)).ok()?))
}

/// The hand's end with a key out of its flash, if there is one.
#[must_use]
pub fn paired_hand_link(pair: Option<&Pair>, start: u32) -> HandLink {
    match (pair, next_session(&mut InRam(start))) {
        (Some(pair), Ok(session)) => HandLink::new(pair, session),
        _ => HandLink::unpaired(),
    }
}

/// The board's end with a key out of its flash, if there is one.
#[must_use]
pub fn paired_board_link(pair: Option<&Pair>, start: u32) -> BoardLink {
    match (pair, next_session(&mut InRam(start))) {
        (Some(pair), Ok(session)) => BoardLink::new(pair, session),
        _ => BoardLink::unpaired(),
    }
}

/// What a thumb asks that is read as `count`, without a throttle in between.
#[must_use]
pub fn demand(count: u16) -> Demand {
    Demand {
        share: Ratio::from_bits(i32::from(count) << 10),
        backward: false,
        asked: Ratio::ZERO,
        paced: Ratio::ONE,
        acceleration: MetresPerSecondSquared::ZERO,
        reasons: Reasons::NONE,
        armed: Arming::default(),
        neutral: count == 0,
        brake_left: Ratio::ONE,
    }
}
