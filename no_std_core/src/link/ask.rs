//! The payload of a command: what the hand asks, in eight bytes.
//!
//! ```text
//! byte  0       2           3      4
//!       share   brake left  flags  answers
//!       i16     u8          u8     u32
//! ```
//!
//! Used by `hand` and `board`; `docs/frames.md` states steps and ranges.

use super::frame::COMMAND_PAYLOAD_BYTES;
use super::refusal::Refused;
use crate::receiver::{Command, Sender};
use crate::units::Ratio;

/// A share of one, in steps of 2^-14.
const SHARE_STEPS: i16 = 1 << 14;
const SHARE_SHIFT: u32 = Ratio::FRACTION_BITS - 14;
/// All of the brake, in steps of 2^-7.
const BRAKE_STEPS: u8 = 1 << 7;
const BRAKE_SHIFT: u32 = Ratio::FRACTION_BITS - 7;

const BACKWARD: u8 = 1;
const NEUTRAL: u8 = 2;

/// What a hand asks, and which of the board's frames it has heard by then.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Ask {
    share: i16,
    brake_left: u8,
    backward: bool,
    neutral: bool,
    /// The counter of the newest frame heard from the board.
    pub(super) answers: u32,
}

impl Ask {
    /// What `command` asks, rounded towards nothing: on air no drive and no brake becomes more.
    pub(super) fn of(command: &Command, answers: u32) -> Self {
        let share = command.share.held_within(-Ratio::ONE, Ratio::ONE).to_bits();
        // Towards nothing for either sign; at most 2^14 either way.
        let steps = (share.unsigned_abs() >> SHARE_SHIFT).min(SHARE_STEPS.unsigned_abs().into());
        let steps = i16::try_from(steps).unwrap_or(SHARE_STEPS);
        let left = command.brake_left.held_within(Ratio::ZERO, Ratio::ONE).to_bits();
        Self {
            share: if share < 0 { steps.wrapping_neg() } else { steps },
            brake_left: u8::try_from(left >> BRAKE_SHIFT).unwrap_or(BRAKE_STEPS),
            backward: command.backward,
            neutral: command.neutral,
            answers,
        }
    }

    /// The command that it is, of `sender`.
    pub(super) fn command(&self, sender: Sender) -> Command {
        Command {
            sender,
            share: Ratio::from_bits(i32::from(self.share) << SHARE_SHIFT),
            backward: self.backward,
            neutral: self.neutral,
            brake_left: Ratio::from_bits(i32::from(self.brake_left) << BRAKE_SHIFT),
        }
    }

    pub(super) fn bytes(&self) -> [u8; COMMAND_PAYLOAD_BYTES] {
        let [s0, s1] = self.share.to_le_bytes();
        let flags =
            if self.backward { BACKWARD } else { 0 } | if self.neutral { NEUTRAL } else { 0 };
        let [a0, a1, a2, a3] = self.answers.to_le_bytes();
        [s0, s1, self.brake_left, flags, a0, a1, a2, a3]
    }

    /// What these bytes say.
    ///
    /// # Errors
    /// A share beyond one, or a flag that version 1 does not have.
    pub(super) fn read(bytes: &[u8; COMMAND_PAYLOAD_BYTES]) -> Result<Self, Refused> {
        let &[s0, s1, brake_left, flags, a0, a1, a2, a3] = bytes;
        let share = i16::from_le_bytes([s0, s1]);
        let known = flags & !(BACKWARD | NEUTRAL) == 0;
        if !(-SHARE_STEPS..=SHARE_STEPS).contains(&share) || brake_left > BRAKE_STEPS || !known {
            return Err(Refused::Nonsense);
        }
        Ok(Self {
            share,
            brake_left,
            backward: flags & BACKWARD != 0,
            neutral: flags & NEUTRAL != 0,
            answers: u32::from_le_bytes([a0, a1, a2, a3]),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const HAND: Sender = Sender { hand: 1, start: 9 };

    fn command(share: i32, brake_left: i32, backward: bool, neutral: bool) -> Command {
        let (share, brake_left) = (Ratio::from_bits(share), Ratio::from_bits(brake_left));
        Command { sender: HAND, share, backward, neutral, brake_left }
    }

    fn through(command: &Command) -> Command {
        let bytes = Ask::of(command, 77).bytes();
        let ask = Ask::read(&bytes).unwrap();
        assert_eq!(ask.answers, 77);
        ask.command(HAND)
    }

    #[test]
    fn the_ends_of_each_range_come_through_as_they_are() {
        for share in [-Ratio::ONE, Ratio::ZERO, Ratio::ONE] {
            for brake_left in [Ratio::ZERO, Ratio::ONE] {
                let asked = command(share.to_bits(), brake_left.to_bits(), true, false);
                assert_eq!(through(&asked), asked);
            }
        }
    }

    #[test]
    fn what_no_hand_can_ask_is_refused() {
        let fine = Ask::of(&command(0, 0, false, true), 1).bytes();
        assert!(Ask::read(&fine).is_ok());
        for (at, byte) in [(1, 0x41), (1, 0xBF), (2, 129), (3, 4), (3, 0x80)] {
            let mut bytes = fine;
            bytes[at] = byte;
            assert_eq!(Ask::read(&bytes), Err(Refused::Nonsense), "byte {at}: {byte}");
        }
    }

    proptest! {
        #[test]
        fn law_on_air_nothing_becomes_more_nor_less_by_a_step(
            share in -(1_i32 << 24)..=1 << 24, left in 0_i32..=1 << 24,
            backward: bool, neutral: bool,
        ) {
            let asked = command(share, left, backward, neutral);
            let heard = through(&asked);
            let lost = share.abs() - heard.share.to_bits().abs();
            prop_assert!((0..1 << 10).contains(&lost) && share.signum() * heard.share.to_bits().signum() >= 0);
            let lost = left - heard.brake_left.to_bits();
            prop_assert!((0..1 << 17).contains(&lost));
            prop_assert_eq!((heard.backward, heard.neutral), (backward, neutral));
        }

        #[test]
        fn law_a_command_out_of_range_is_held_to_it(share: i32, left: i32) {
            let heard = through(&command(share, left, false, false));
            prop_assert!(heard.share.magnitude() <= Ratio::ONE);
            prop_assert!((Ratio::ZERO..=Ratio::ONE).contains(&heard.brake_left));
        }

        #[test]
        fn law_bytes_that_are_read_are_those_that_are_written(bytes: [u8; 8]) {
            if let Ok(ask) = Ask::read(&bytes) {
                prop_assert_eq!(ask.bytes(), bytes);
            }
        }
    }
}
