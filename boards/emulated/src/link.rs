//! Two ends with a key of their own, for programs that only want to see them talk.

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

/// The hand's end, in its fifth start.
#[must_use]
pub fn hand_link() -> Option<HandLink> {
    Some(HandLink::new(&pair()?, next_session(&mut InRam(4)).ok()?))
}

/// The board's end, in its eighth start.
#[must_use]
pub fn board_link() -> Option<BoardLink> {
    Some(BoardLink::new(&pair()?, next_session(&mut InRam(7)).ok()?))
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
