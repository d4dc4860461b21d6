//! Another handheld of the same key, in somebody else's pocket: it has heard the board and sends.
//!
//! Used by `world` on rides whose faults have one.

use homestretch::handheld::Output;
use homestretch::link::HandLink;
use homestretch::throttle::Demand;
use homestretch::time::Instant;
use homestretch::units::Ratio;

use super::seal::{Seal, Sessions};
use crate::faults::AnotherHand;
use crate::plant::radio::Frame;

/// Its number under the key.
pub(super) const NUMBER: u8 = 1;

/// It was started so often before: more often than the hand that rides.
const STARTS_BEFORE: u32 = 900;

/// A handheld of which only the radio matters.
#[derive(Clone, Debug)]
pub(super) struct SecondHand {
    link: HandLink<Seal>,
}

impl SecondHand {
    /// Just switched on.
    pub(super) fn new(seal: Seal) -> Option<Self> {
        let session = Sessions::after(STARTS_BEFORE).next()?;
        Some(Self { link: HandLink::with_cipher(seal, NUMBER, session) })
    }

    /// It hears what the board sends, and believes what is for it.
    pub(super) fn hear(&mut self, now: Instant, frame: &Frame) {
        // What is refused is counted by the link.
        let _ = self.link.open(now, frame.bytes());
    }

    /// What it sends: a thumb that asks for so much, with the riding hand's state around it.
    pub(super) fn send(&mut self, asks: AnotherHand, like: &Output) -> Option<Frame> {
        let share = Ratio::from_f64(asks.share).unwrap_or(Ratio::ZERO);
        let demand = Demand {
            share,
            backward: false,
            neutral: false,
            brake_left: Ratio::ONE,
            ..like.demand
        };
        self.link.seal(&demand).map(|frame| Frame::of(&frame))
    }
}
