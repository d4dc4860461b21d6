//! The air: more silence than the ride's own radio has, and another hand that sends.

use rand_chacha::ChaCha8Rng;

use super::script::Kind;
use crate::plant::radio::Slot;
use crate::random::uniform;

/// Another handheld whose commands arrive.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AnotherHand {
    /// What it asks for, -1 to 1.
    pub share: f64,
}

/// What gets through of a slot.
pub(super) fn through(acting: &[Kind], time_s: f64, slot: Slot, numbers: &mut ChaCha8Rng) -> Slot {
    let mut left = slot;
    for kind in acting {
        match kind {
            Kind::RadioSilent {} => left = Slot { command: false, telemetry: false },
            Kind::Jammer { on_s, off_s } if time_s % (on_s + off_s) < *on_s => {
                left = Slot { command: false, telemetry: false };
            }
            Kind::TelemetrySilent {} => left.telemetry = false,
            Kind::RadioLoss { share } => {
                left.command &= uniform(numbers) >= *share;
                left.telemetry &= uniform(numbers) >= *share;
            }
            _ => {}
        }
    }
    left
}
