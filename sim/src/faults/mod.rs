//! What breaks during a ride: a layer between the world's parts, not an if inside them.
//!
//! ```text
//! thumb ─► [wire, slider, converter] ─► hand [clock, battery, power] ─► [radio, another hand] ─► board [power]
//! ```
//!
//! Written as a script ([`Script`], docs/files.md) or drawn by a campaign; asked by `world` in each
//! tick. One file for each part that breaks. Nothing here reaches the handheld but what would reach
//! it on a board.

#![allow(
    clippy::wildcard_enum_match_arm,
    reason = "each file looks for the few kinds that are its own"
)]

mod air;
mod draw;
mod power;
mod radio;
mod script;
mod telemetry;
mod thumb;

pub use air::{Air, End};
pub use draw::draw;
pub use power::Power;
pub use radio::AnotherHand;
pub use script::{Fault, Kind, Script, ScriptError};

use rand_chacha::ChaCha8Rng;

use crate::plant::radio::Slot;
use crate::random::{Purpose, stream};
use crate::ride::Measured;
use thumb::Held;

/// All that breaks on one ride.
#[derive(Clone, Debug)]
pub struct Faults {
    faults: Vec<Fault>,
    held: Held,
    numbers: ChaCha8Rng,
}

impl Faults {
    /// What `script` says, with the luck of `seed`.
    #[must_use]
    pub fn new(script: &Script, seed: u64) -> Self {
        Self {
            faults: script.faults.clone(),
            held: Held::default(),
            numbers: stream(seed, Purpose::Faults),
        }
    }

    /// Whether anything ever breaks.
    #[must_use]
    pub fn any(&self) -> bool {
        !self.faults.is_empty()
    }

    /// The faults that act at `time_s`.
    fn acting(&self, time_s: f64) -> impl Iterator<Item = Kind> + '_ {
        self.faults.iter().filter(move |fault| fault.acts(time_s)).map(|fault| fault.kind)
    }

    /// The count that the thumb's converter reads, where a healthy one would read `count`.
    pub fn thumb(&mut self, time_s: f64, count: u16, full_scale: u16) -> u16 {
        if self.faults.is_empty() {
            return count;
        }
        let acting: Vec<Kind> = self.acting(time_s).collect();
        thumb::read(&acting, count, full_scale, (&mut self.held, &mut self.numbers))
    }

    /// What is left of a frame of telemetry.
    pub fn telemetry(&mut self, time_s: f64, measured: &mut Measured) {
        let impossible =
            self.acting(time_s).any(|kind| matches!(kind, Kind::TelemetryImpossible {}));
        if impossible && measured.link_ok {
            telemetry::spoil(measured, &mut self.numbers);
        }
    }

    /// What gets through in a slot.
    pub fn radio(&mut self, time_s: f64, slot: Slot) -> Slot {
        if self.faults.is_empty() {
            return slot;
        }
        let acting: Vec<Kind> = self.acting(time_s).collect();
        radio::through(&acting, time_s, slot, &mut self.numbers)
    }

    /// Another handheld that sends as well.
    #[must_use]
    pub fn another_hand(&self, time_s: f64) -> Option<AnotherHand> {
        self.acting(time_s).find_map(|kind| match kind {
            Kind::SecondHand { share } => Some(AnotherHand { share }),
            _ => None,
        })
    }

    /// Whether another handheld ever sends.
    #[must_use]
    pub fn has_another_hand(&self) -> bool {
        self.faults.iter().any(|fault| matches!(fault.kind, Kind::SecondHand { .. }))
    }

    /// Whether the motor controller no longer answers.
    #[must_use]
    pub fn controller_is_silent(&self, time_s: f64) -> bool {
        self.acting(time_s).any(|kind| matches!(kind, Kind::ControllerSilent {}))
    }

    /// What happens to frames on their way.
    fn on_air(&self, time_s: f64) -> impl Iterator<Item = Kind> + '_ {
        self.acting(time_s).filter(air::is_on_air)
    }

    /// How the hand's clock differs from the true one by now, in seconds.
    #[must_use]
    pub fn hand_clock_s(&self, time_s: f64) -> f64 {
        let jumps = self.faults.iter().filter(|fault| fault.from_s <= time_s);
        jumps
            .map(|fault| match fault.kind {
                Kind::HandClockJumps { by_s } => by_s,
                _ => 0.0,
            })
            .sum()
    }

    /// Whether the hand lives.
    #[must_use]
    pub fn hand(&self, time_s: f64) -> Power {
        power::of_hand(self.acting(time_s))
    }

    /// Whether the board's end lives.
    #[must_use]
    pub fn board(&self, time_s: f64) -> Power {
        power::of_board(self.acting(time_s))
    }

    /// What the hand measures of its own battery, where a fault says so.
    #[must_use]
    pub fn hand_battery_V(&self, time_s: f64) -> Option<f64> {
        self.acting(time_s).find_map(|kind| match kind {
            Kind::HandBattery { voltage_V } => Some(voltage_V),
            _ => None,
        })
    }

    /// The pace that the rider has chosen, by its number.
    #[must_use]
    pub fn pace(&self, time_s: f64) -> Option<u8> {
        self.acting(time_s).find_map(|kind| match kind {
            Kind::Pace { number } => Some(number),
            _ => None,
        })
    }
}

#[cfg(test)]
mod tests;
