//! A radio link that only its owner can speak, in frames of at most 32 bytes.
//!
//! ```text
//! demand ──► HandLink::seal ──► command, 50 a second ──► BoardLink::open ──► receiver
//! handheld ◄── HandLink::open ◄── telemetry, 10 a second ◄── BoardLink::seal ◄── report
//! ```
//!
//! No radio driver: bytes go out and come in, and time is an argument. Every frame is sealed
//! ([`cipher`]); its nonce says which way it goes, which hand it is of, which start of its sender
//! ([`Session`]) and which of its frames, and which start of its hearer it is for. So a frame counts for
//! one life of its hearer, once, and for one of its sender until the hearer knows of a newer one.
//!
//! How two ends find each other: the board calls until it hears a hand. A call tells its session;
//! the hand's commands are for that session from then on, and the board's telemetry for the hand's.
//! A call cannot tell a hand that it is new, so nothing but the session in it is used: a hand that is
//! misled by an old one sends what the board does not take, until it hears a newer one.
//!
//! Each end takes one command or frame of telemetry for what it is only if it answers something recent
//! of its own; but a brake is never too old.
//!
//! | what comes | at the board | at the hand |
//! | --- | --- | --- |
//! | a command | goes to the receiver, if it is authentic, newer than all before, and, where it drives, answers a frame of the last seconds | is refused: `Length` |
//! | telemetry | is refused: `Length` | goes to the handheld, if it is authentic, newer than all before, and answers a command of the last seconds |
//! | a call | is refused: `Length` | tells the board's session, if that is new |
//! | anything else | is refused and counted ([`Refused`]) | the same |
//!
//! `docs/frames.md` specifies the bytes, `docs/threats.md` says what is protected and what is not.

mod around;
mod ask;
mod board;
pub mod cipher;
mod frame;
mod hand;
mod key;
mod pair;
mod pairing;
mod peer;
mod refusal;
mod report;
mod session;
mod steps;
mod supervision;
mod window;

pub use board::{ANSWERED_WITHIN, BoardLink, CALLS_AFTER};
pub use cipher::{Ascon, Cipher};
pub use frame::{COMMAND_BYTES, CommandFrame, HANDS, TELEMETRY_BYTES, TelemetryFrame, VERSION};
pub use hand::{HandLink, Heard};
pub use key::{KEY_BYTES, Key, NotAKey, TEXT_CHARS};
pub use pair::{NotAHand, Pair};
pub use pairing::{HOLD_FOR, NotPaired, OPEN_FOR, Pairing};
pub use refusal::{Counts, Refused};
pub use report::{HeardByBoard, Report};
pub use session::{LAST_SESSION, NoSession, Session, SessionStore, next_session};
pub use supervision::{COMMANDS, Expected, Quality, SECONDS, Sound, TELEMETRY};
pub use window::WINDOW;

#[cfg(test)]
mod tests;
