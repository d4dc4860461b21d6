//! The way through the air, frame by frame: turned bits, repeats, delays, and strangers who send.
//!
//! Used by `world`, which puts in what the two ends send and takes out what they hear. What the radio
//! loses is decided before (`plant::radio`, `radio`): a stranger hears that as well.

use std::collections::VecDeque;

use rand::Rng as _;
use rand_chacha::ChaCha8Rng;

use super::Faults;
use super::script::Kind;
use crate::plant::radio::Frame;
use crate::random::{Purpose, stream, uniform};

/// So many of the newest frames are kept by a stranger: a minute and a half of both ways.
const RECORDED: usize = 5000;

/// One of so many of a stranger's frames is sent to the end that it is not for.
const ASTRAY: u32 = 10;

/// Who hears a frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    /// The handheld.
    Hand,
    /// The board.
    Board,
}

/// A frame under way.
#[derive(Clone, Copy, Debug)]
struct UnderWay {
    at_us: u64,
    to: End,
    frame: Frame,
}

/// All that is under way, and what strangers have heard.
#[derive(Clone, Debug)]
pub struct Air {
    under_way: Vec<UnderWay>,
    /// Of both ways; empty on rides without strangers.
    recorded: VecDeque<(End, Frame)>,
    listens: bool,
    numbers: ChaCha8Rng,
}

/// Whether a fault is one of frames on their way.
pub(super) const fn is_on_air(kind: &Kind) -> bool {
    matches!(
        kind,
        Kind::RadioDamages { .. }
            | Kind::RadioRepeats { .. }
            | Kind::RadioReorders { .. }
            | Kind::Recorder { .. }
            | Kind::Forger { .. }
    )
}

impl Air {
    /// Still air, with the strangers of `faults`.
    #[must_use]
    pub fn new(faults: &Faults, seed: u64) -> Self {
        let listens = faults
            .faults
            .iter()
            .any(|fault| matches!(fault.kind, Kind::Recorder { .. } | Kind::Forger { .. }));
        Self {
            under_way: Vec::new(),
            recorded: VecDeque::new(),
            listens,
            numbers: stream(seed, Purpose::Air),
        }
    }

    /// Sends a frame at `now_us`; whether the radio lets it through.
    pub fn send(&mut self, faults: &Faults, now_us: u64, (to, frame): (End, Frame), through: bool) {
        if self.listens {
            if self.recorded.len() >= RECORDED {
                self.recorded.pop_front();
            }
            self.recorded.push_back((to, frame));
        }
        if !through {
            return;
        }
        let mut sent = UnderWay { at_us: now_us, to, frame };
        if faults.any() {
            for kind in faults.on_air(seconds(now_us)) {
                self.meet(&kind, &mut sent);
            }
        }
        self.under_way.push(sent);
    }

    /// What a fault does to a frame that is being sent.
    fn meet(&mut self, kind: &Kind, sent: &mut UnderWay) {
        let numbers = &mut self.numbers;
        match *kind {
            Kind::RadioDamages { share } if uniform(numbers) < share => {
                // Few bits or many; never the same one back again.
                let (first, turned) = (numbers.next_u32(), 1 + numbers.next_u32() % 16);
                for bit in 0..turned {
                    sent.frame = sent.frame.with_bit_turned(first.wrapping_add(bit * 7));
                }
            }
            Kind::RadioRepeats { share } if uniform(numbers) < share => {
                for _ in 0..=numbers.next_u32() % 3 {
                    let later_us = 10_000 * u64::from(numbers.next_u32() % 300);
                    self.under_way.push(UnderWay { at_us: sent.at_us + later_us, ..*sent });
                }
            }
            Kind::RadioReorders { share } if uniform(numbers) < share => {
                sent.at_us += 10_000 * u64::from(1 + numbers.next_u32() % 10);
            }
            _ => {}
        }
    }

    /// What `end` hears by `now_us`, a hundredth of a second after it last listened.
    pub fn heard(&mut self, faults: &Faults, now_us: u64, end: End, frames: &mut Vec<Frame>) {
        frames.clear();
        if self.under_way.is_empty() && !self.listens {
            return;
        }
        self.under_way.retain(|under_way| {
            let here = under_way.to == end && under_way.at_us <= now_us;
            if here {
                frames.push(under_way.frame);
            }
            !here
        });
        if self.listens {
            for kind in faults.on_air(seconds(now_us)) {
                self.strangers(&kind, end, frames);
            }
        }
    }

    /// What strangers send to `end`.
    fn strangers(&mut self, kind: &Kind, end: End, frames: &mut Vec<Frame>) {
        let (rate_Hz, forges) = match *kind {
            Kind::Recorder { rate_Hz } => (rate_Hz, false),
            Kind::Forger { rate_Hz } => (rate_Hz, true),
            _ => return,
        };
        let numbers = &mut self.numbers;
        let mut left = rate_Hz * 0.01;
        while left > 0.0 {
            let sends = uniform(numbers) < left;
            left -= 1.0;
            let count = u32::try_from(self.recorded.len()).unwrap_or(u32::MAX);
            if !sends || count == 0 {
                continue;
            }
            // Mostly what was sent just now, and which the other end may not have heard.
            let newest = numbers.next_u32().is_multiple_of(2);
            let back = numbers.next_u32() % if newest { count.min(100) } else { count };
            let at = usize::try_from(count - 1 - back).unwrap_or(0);
            let astray = numbers.next_u32().is_multiple_of(ASTRAY);
            let recorded = self.recorded.get(at).filter(|(to, _)| (*to == end) != astray);
            let Some(&(_, frame)) = recorded else { continue };
            frames.push(if forges { forged(frame, numbers) } else { frame });
        }
    }
}

/// A frame that looks like the recorded one and is newer: its counter is raised, the rest is guessed.
fn forged(recorded: Frame, numbers: &mut ChaCha8Rng) -> Frame {
    let mut bytes = recorded.bytes().to_vec();
    if let Some(counter) = bytes.get_mut(5..9) {
        let mut four = [0; 4];
        four.copy_from_slice(counter);
        let raised = u32::from_le_bytes(four).wrapping_add(numbers.next_u32() % 1000);
        counter.copy_from_slice(&raised.to_le_bytes());
    }
    for byte in bytes.iter_mut().skip(9) {
        *byte = numbers.next_u32().to_le_bytes()[0];
    }
    Frame::of(&bytes)
}

#[allow(clippy::cast_precision_loss, reason = "a ride has far fewer than 2^53 microseconds")]
fn seconds(micros: u64) -> f64 {
    micros as f64 / 1e6
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::faults::Script;

    fn faults(text: &str) -> Faults {
        Faults::new(&Script::parse(text).unwrap(), 1)
    }

    /// Sends `count` frames to the board, one each hundredth of a second; what it hears, and when.
    fn heard(faults: &Faults, count: u8) -> Vec<(u64, Frame)> {
        let mut air = Air::new(faults, 7);
        let (mut all, mut frames) = (Vec::new(), Vec::new());
        for number in 0..400_u64 {
            let now_us = number * 10_000;
            if let Some(byte) = u8::try_from(number).ok().filter(|byte| *byte < count) {
                air.send(faults, now_us, (End::Board, Frame::of(&[byte; 25])), true);
            }
            air.heard(faults, now_us, End::Board, &mut frames);
            all.extend(frames.iter().map(|frame| (number, *frame)));
            air.heard(faults, now_us, End::Hand, &mut frames);
            assert!(frames.is_empty() || faults.any());
        }
        all
    }

    #[test]
    fn still_air_carries_each_frame_once_and_at_once() {
        let all = heard(&faults(""), 100);
        assert_eq!(all.len(), 100);
        assert!(all.iter().all(|(at, frame)| u64::from(frame.bytes()[0]) == *at));
    }

    #[test]
    fn each_fault_does_what_it_says() {
        let act = |kind: &str| heard(&faults(&format!("[[fault]]\nfrom_s = 0\n{kind}\n")), 100);
        let damaged = act("kind = \"radio-damages\"\nshare = 1");
        let whole = |frame: &Frame| frame.bytes().iter().all(|byte| *byte == frame.bytes()[0]);
        assert_eq!(damaged.len(), 100);
        assert!(damaged.iter().all(|(_, frame)| !whole(frame)));
        let repeated = act("kind = \"radio-repeats\"\nshare = 1");
        assert!(repeated.len() > 220 && repeated.iter().all(|(_, frame)| whole(frame)));
        let reordered = act("kind = \"radio-reorders\"\nshare = 0.5");
        let late = reordered.iter().filter(|(at, frame)| u64::from(frame.bytes()[0]) < *at).count();
        assert!(reordered.len() == 100 && (30..70).contains(&late), "{late}");
        let played = act("kind = \"recorder\"\nrate_Hz = 100");
        assert!(played.len() > 200 && played.iter().all(|(_, frame)| whole(frame)));
        let forged = act("kind = \"forger\"\nrate_Hz = 100");
        assert!(forged.iter().filter(|(_, frame)| !whole(frame)).count() > 100);
    }
}
