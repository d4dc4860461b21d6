//! The air between hand and board: frames get lost, alone and in bursts.
//!
//! Asked by `world` once a slot for both ways. A body or a bus between the two aerials shuts the
//! way there and the way back alike, so that both share one state; each frame then has its own
//! luck. One file per kind of burst.

mod frame;
mod gilbert_elliott;
mod heavy_tail;
mod settings;

pub use frame::Frame;
pub use settings::{RadioError, RadioSettings};

use rand::Rng as _;
use rand_chacha::ChaCha8Rng;

use crate::random::{Purpose, share, stream};
use gilbert_elliott::GilbertElliott;
use heavy_tail::HeavyTail;

/// A slot: the hand sends a command in each.
pub const SLOT_S: f64 = 0.02;

/// What gets through in one slot, where something is sent.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Slot {
    /// From the hand to the board.
    pub command: bool,
    /// From the board to the hand.
    pub telemetry: bool,
}

#[derive(Clone, Debug)]
enum Bursts {
    None,
    GilbertElliott(GilbertElliott),
    HeavyTail(HeavyTail),
}

/// A radio on one ride, drawn from a seed.
#[derive(Clone, Debug)]
pub struct Radio {
    bursts: Bursts,
    loss_in_good: f64,
    loss_in_bad: f64,
    numbers: ChaCha8Rng,
}

impl Radio {
    /// The radio that `settings` and `seed` make.
    ///
    /// # Errors
    /// [`RadioError`] for the first setting that makes no sense.
    pub fn new(settings: &RadioSettings, seed: u64) -> Result<Self, RadioError> {
        settings.check()?;
        let mut numbers = stream(seed, Purpose::Radio);
        let (bursts, loss_in_good, loss_in_bad) = match *settings {
            RadioSettings::Perfect {} => (Bursts::None, 0.0, 0.0),
            RadioSettings::GilbertElliott { worsens, recovers, loss_in_good, loss_in_bad } => {
                let bursts = GilbertElliott::new(worsens, recovers);
                (Bursts::GilbertElliott(bursts), loss_in_good, loss_in_bad)
            }
            RadioSettings::HeavyTail {
                bursts_per_hour,
                shape,
                shortest_s,
                longest_s,
                loss_in_good,
            } => {
                let lengths = heavy_tail::Lengths { shape, shortest_s, longest_s };
                let bursts = HeavyTail::new(bursts_per_hour, lengths, &mut numbers);
                (Bursts::HeavyTail(bursts), loss_in_good, 1.0)
            }
        };
        Ok(Self { bursts, loss_in_good, loss_in_bad, numbers })
    }

    /// What gets through in the next slot.
    pub fn slot(&mut self) -> Slot {
        let bad = match &mut self.bursts {
            Bursts::None => return Slot { command: true, telemetry: true },
            Bursts::GilbertElliott(bursts) => bursts.is_bad(&mut self.numbers),
            Bursts::HeavyTail(bursts) => bursts.is_bad(&mut self.numbers),
        };
        let loss = if bad { self.loss_in_bad } else { self.loss_in_good };
        // Half a number for each way: one in four thousand millions is as fine as luck needs be.
        let bits = self.numbers.next_u64();
        let luck = |half: u64| share((half & 0xffff_ffff) << 21);
        Slot { command: luck(bits) >= loss, telemetry: luck(bits >> 32) >= loss }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lost(settings: &RadioSettings, slots: u32) -> (f64, f64) {
        let mut radio = Radio::new(settings, 3).unwrap();
        let (mut command, mut telemetry) = (0_u32, 0_u32);
        for _ in 0..slots {
            let slot = radio.slot();
            command += u32::from(!slot.command);
            telemetry += u32::from(!slot.telemetry);
        }
        (f64::from(command) / f64::from(slots), f64::from(telemetry) / f64::from(slots))
    }

    #[test]
    fn a_perfect_radio_loses_nothing() {
        let (command, telemetry) = lost(&RadioSettings::Perfect {}, 10_000);
        assert!(command + telemetry < f64::EPSILON);
    }

    #[test]
    fn each_frame_has_its_own_luck_and_both_ways_the_same_share() {
        let settings = RadioSettings::GilbertElliott {
            worsens: 0.0,
            recovers: 1.0,
            loss_in_good: 0.1,
            loss_in_bad: 1.0,
        };
        let (command, telemetry) = lost(&settings, 200_000);
        // Four standard errors of a share of a tenth over 200 000 draws.
        assert!((command - 0.1).abs() < 0.0027, "{command}");
        assert!((telemetry - 0.1).abs() < 0.0027, "{telemetry}");
    }

    #[test]
    fn a_radio_is_the_same_for_the_same_seed() {
        for settings in [RadioSettings::default(), RadioSettings::heavy_tail()] {
            let slots = |seed| {
                let mut radio = Radio::new(&settings, seed).unwrap();
                (0..50_000).map(|_| radio.slot()).collect::<Vec<_>>()
            };
            assert_eq!(slots(1), slots(1));
            assert_ne!(slots(1), slots(2));
        }
    }
}
