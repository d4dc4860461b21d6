//! The key of a ride, and what seals its frames: what ships, or nothing, to save time.
//!
//! Used by `hand`, `board_end` and `second_hand`. Without a seal frames still have a checksum in the
//! place of their tag, so that everything else of the link does what it does with one.

use std::convert::Infallible;

use homestretch::link::cipher::{NONCE_BYTES, TAG_BYTES};
use homestretch::link::{Ascon, Cipher, Key, Session, SessionStore, next_session};
use rand::Rng as _;

use crate::random::{Purpose, stream};

/// What seals the frames of one ride.
#[derive(Clone, Debug)]
pub(super) enum Seal {
    /// What ships.
    On(Ascon),
    /// A checksum under a number, which keeps nobody out.
    Off(u64),
}

impl Seal {
    /// The key that a seed makes.
    pub(super) fn new(on: bool, seed: u64) -> Self {
        let mut numbers = stream(seed, Purpose::Keys);
        loop {
            let mut bytes = [0; 16];
            numbers.fill_bytes(&mut bytes);
            let number = numbers.next_u64();
            if let Ok(key) = Key::new(bytes) {
                return if on { Self::On(Ascon::new(key)) } else { Self::Off(number) };
            }
        }
    }
}

/// Sums up bytes, eight at a time; an odd multiplier of no further meaning (the golden ratio's).
fn checksum(key: u64, nonce: &[u8; NONCE_BYTES], text: &[u8]) -> [u8; TAG_BYTES] {
    let sum = nonce.chunks(8).chain(text.chunks(8)).fold(key, |sum, part| {
        let mut word = [0; 8];
        for (to, &from) in word.iter_mut().zip(part) {
            *to = from;
        }
        let mixed = (sum ^ u64::from_le_bytes(word)).wrapping_mul(0x9E37_79B9_7F4A_7C15);
        mixed ^ (mixed >> 29)
    });
    sum.to_le_bytes()
}

impl Cipher for Seal {
    fn seal(&self, nonce: &[u8; NONCE_BYTES], text: &mut [u8]) -> [u8; TAG_BYTES] {
        match self {
            Self::On(ascon) => ascon.seal(nonce, text),
            Self::Off(key) => checksum(*key, nonce, text),
        }
    }

    fn open(&self, nonce: &[u8; NONCE_BYTES], text: &mut [u8], tag: &[u8; TAG_BYTES]) -> bool {
        match self {
            Self::On(ascon) => ascon.open(nonce, text, tag),
            Self::Off(key) => checksum(*key, nonce, text) == *tag,
        }
    }
}

/// A flash that keeps its word: the largest session number of an end.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sessions(u32);

impl Sessions {
    /// Of an end that has been started so often.
    pub(super) const fn after(starts: u32) -> Self {
        Self(starts)
    }

    /// The session of the next start; nothing once all numbers are used up, which no ride comes to.
    pub(super) fn next(&mut self) -> Option<Session> {
        next_session(self).ok()
    }
}

impl SessionStore for Sessions {
    type Error = Infallible;

    fn largest(&mut self) -> Result<u32, Infallible> {
        Ok(self.0)
    }

    fn keep(&mut self, number: u32) -> Result<(), Infallible> {
        self.0 = number;
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn without_a_seal_a_turned_bit_is_still_noticed_and_another_ride_is_another_key() {
        let seal = |seed| Seal::new(false, seed);
        let (nonce, text) = ([7; 16], *b"fifteen letters");
        let tag = seal(1).seal(&nonce, &mut text.clone());
        assert!(seal(1).open(&nonce, &mut text.clone(), &tag));
        assert!(!seal(2).open(&nonce, &mut text.clone(), &tag));
        for bit in 0..text.len() * 8 {
            let mut other = text;
            other[bit / 8] ^= 1 << (bit % 8);
            assert!(!seal(1).open(&nonce, &mut other, &tag));
        }
    }
}
