//! The board's end beside the handheld that lives a ride: a link, a receiver, and a radio that loses
//! frames.
//!
//! So that these, too, come to the same bits on every core. Which frames are lost, and when either end
//! starts anew, goes by the tick's number: frames alone, in bursts, some for longer than a second.

use homestretch::handheld::Output;
use homestretch::link::{BoardLink, HandLink, Heard, Refused, Report};
use homestretch::receiver::{Command, Measured, Order, Receiver};
use homestretch::telemetry::Telemetry;
use homestretch::throttle::Settings;
use homestretch::time::{Duration, Instant};
use homestretch::units::{Amperes, Coulombs, MetresPerSecond, Volts};

use crate::ends::{board_link, hand_link};

/// The hand starts anew after so many ticks, and the board after so many.
const HAND_STARTS: u32 = 20_011;
const BOARD_STARTS: u32 = 30_011;

/// What both ends said to each other in a tick.
type Said = (Option<Result<Command, Refused>>, Option<Result<Option<Heard>, Refused>>);

/// A receiver, both ends of the link, and what was heard last.
#[derive(Debug)]
pub struct BoardEnd {
    receiver: Receiver,
    hand: Option<HandLink>,
    board: Option<BoardLink>,
    said: Said,
}

impl Default for BoardEnd {
    fn default() -> Self {
        let (hand, board) = (hand_link(1), board_link(1));
        Self { receiver: Receiver::default(), hand, board, said: (None, None) }
    }
}

impl BoardEnd {
    /// What the board's end makes of the tick with this number.
    #[inline(never)]
    pub fn after(
        &mut self,
        (number, now): (u32, Instant),
        output: &Output,
        settings: &Settings,
    ) -> Order {
        if number % HAND_STARTS == 0 {
            self.hand = hand_link(2 + number / HAND_STARTS);
        }
        if number % BOARD_STARTS == 0 {
            self.board = board_link(2 + number / BOARD_STARTS);
            self.receiver = Receiver::default();
        }
        let lost = number % 23 < 2 || number % 211 < 9 || number % 4001 < 60;
        self.said = (None, None);
        let (Some(hand), Some(board)) = (&mut self.hand, &mut self.board) else {
            return self.receiver.tick(now, None, &Measured::default(), settings);
        };
        let command = hand.seal(&output.demand).filter(|_| !lost);
        let command = command.map(|frame| board.open(now, &frame));
        let heard = command.and_then(Result::ok);
        let order = self.receiver.tick(now, heard.as_ref(), &Measured::default(), settings);
        let told = if number % 5 == 0 { board.seal(now, &report(number, &order)) } else { None };
        let told = told.filter(|_| !lost).map(|frame| hand.open(now, &frame));
        self.said = (command, told);
        order
    }

    /// The receiver, for a digest of it.
    #[must_use]
    pub const fn receiver(&self) -> &Receiver {
        &self.receiver
    }

    /// Both ends of the link and what they said, for a digest of it.
    #[must_use]
    pub fn link(&self) -> impl core::hash::Hash + '_ {
        (&self.hand, &self.board, &self.said)
    }
}

/// What the board measures, as good as anything: it goes up and down with the tick's number.
fn report(number: u32, order: &Order) -> Report {
    let wave = i32::try_from(number % 8191).unwrap_or(0) - 4095;
    let telemetry = Telemetry {
        pack_voltage: Volts::from_bits(2_600_000 + wave * 31),
        pack_current: Amperes::from_bits(wave * 977),
        charge_drawn: Some(Coulombs::from_bits(i64::from(number) << 27)),
        speed: Some(MetresPerSecond::from_bits(wave * 101)),
        ..Telemetry::default()
    };
    Report::new(telemetry, Duration::from_micros(u64::from(number % 600_000)), order)
}
