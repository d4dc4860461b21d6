//! Hand and board: alive, hanging, or off and starting anew.

use super::script::Kind;

/// How a computer does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Power {
    /// It lives.
    On,
    /// It hangs: it does nothing, and remembers all.
    Hangs,
    /// It is off, and forgets all but its flash.
    Off,
}

/// How the hand does.
pub(super) fn of_hand(acting: impl Iterator<Item = Kind>) -> Power {
    acting.fold(Power::On, |power, kind| match kind {
        Kind::HandRestarts {} => Power::Off,
        Kind::HandHangs {} if power == Power::On => Power::Hangs,
        _ => power,
    })
}

/// How the board's end does.
pub(super) fn of_board(acting: impl Iterator<Item = Kind>) -> Power {
    acting.fold(Power::On, |power, kind| match kind {
        Kind::BoardRestarts {} => Power::Off,
        Kind::BoardHangs {} if power == Power::On => Power::Hangs,
        _ => power,
    })
}
