//! The board's end beside the handheld that lives a ride: a receiver, and a radio that loses frames.
//!
//! So that it, too, comes to the same bits on every core. Which frames are lost goes by the tick's
//! number: some alone, some in bursts, some for longer than a second.

use homestretch::handheld::Output;
use homestretch::receiver::{Command, Measured, Order, Receiver, Sender};
use homestretch::throttle::Settings;
use homestretch::time::Instant;

/// A receiver, and what it hears.
#[derive(Debug, Default)]
pub struct BoardEnd {
    receiver: Receiver,
}

impl BoardEnd {
    /// What the board's end makes of the tick with this number.
    pub fn after(
        &mut self,
        (number, now): (u32, Instant),
        output: &Output,
        settings: &Settings,
    ) -> Order {
        let lost = number % 23 < 2 || number % 211 < 9 || number % 4001 < 60;
        let start = number / 20_011 % 7;
        let command = Command::of(&output.demand, Sender { hand: 1, start });
        let heard = (!lost).then_some(&command);
        self.receiver.tick(now, heard, &Measured::default(), settings)
    }

    /// The receiver, for a digest of it.
    #[must_use]
    pub const fn receiver(&self) -> &Receiver {
        &self.receiver
    }
}
