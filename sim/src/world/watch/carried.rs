//! Whether what one end takes is what the other one has sent: in this life of both, once, in order and
//! not long ago.
//!
//! Used by `watch`, which sees both ends. Frames are compared as bytes: it knows nothing of keys,
//! counters and windows.

use std::collections::VecDeque;

use super::super::TICKS_PER_S;
use crate::plant::radio::Frame;

/// What was sent longer ago than this must not be taken: ten seconds and a little for two clocks.
const OLDEST_TICKS: u32 = 10 * TICKS_PER_S + TICKS_PER_S / 2;

/// What an end has sent and the other may still take.
#[derive(Clone, Debug, Default)]
pub(super) struct Carried {
    sent: VecDeque<(u32, Frame)>,
}

impl Carried {
    /// A frame is sent.
    pub(super) fn send(&mut self, tick: u32, frame: Frame) {
        let old = |at: u32| tick.saturating_sub(at) > OLDEST_TICKS;
        if self.sent.front().is_some_and(|(at, _)| old(*at)) {
            self.sent.pop_front();
        }
        self.sent.push_back((tick, frame));
    }

    /// A frame is taken; whether it was to be. Nothing sent before it may be taken any more.
    pub(super) fn take(&mut self, tick: u32, frame: &Frame) -> bool {
        let found = self.sent.iter().position(|(_, sent)| sent == frame);
        let Some(at) = found else { return false };
        let taken = self.sent.drain(..=at).next_back();
        taken.is_some_and(|(at, _)| tick.saturating_sub(at) <= OLDEST_TICKS)
    }

    /// One of the ends has started anew: nothing of before may be taken.
    pub(super) fn forget(&mut self) {
        self.sent.clear();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_sent_is_taken_once_in_order_and_soon() {
        let frame = |byte| Frame::of(&[byte; 25]);
        let mut carried = Carried::default();
        (0..6).for_each(|byte| carried.send(u32::from(byte), frame(byte)));
        assert!(carried.take(6, &frame(0)) && carried.take(6, &frame(3)));
        assert!(!carried.take(6, &frame(3)) && !carried.take(6, &frame(2)));
        assert!(!carried.take(6, &frame(9)));
        assert!(!carried.take(600, &frame(4)), "too late");
        carried.forget();
        assert!(!carried.take(7, &frame(5)));
    }
}
