//! What the hand asks of the board, in one frame.
//!
//! Made from a [`Demand`] in the hand, carried by `link`, obeyed by [`super::Receiver`].

use crate::throttle::Demand;
use crate::units::Ratio;

/// Who sent a command.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Sender {
    /// Which handheld.
    pub hand: u16,
    /// Which of its starts: another number each time it is switched on.
    pub start: u32,
}

/// A command that has been authenticated and is newer than any before.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Command {
    /// Who asks.
    pub sender: Sender,
    /// The share of the greatest motor current, -1 to 1: drive positive, brake negative.
    pub share: Ratio,
    /// Whether a negative share is a drive backwards.
    pub backward: bool,
    /// Whether the thumb rests.
    pub neutral: bool,
    /// The share of the brake curve, 0 to 1, that the pack leaves: what the board's own brake is held to
    /// once the hand is silent. A full or frozen pack takes none.
    pub brake_left: Ratio,
}

impl Command {
    /// What `demand` is to the board.
    #[must_use]
    pub const fn of(demand: &Demand, sender: Sender) -> Self {
        let Demand { share, backward, neutral, brake_left, .. } = *demand;
        Self { sender, share, backward, neutral, brake_left }
    }
}
