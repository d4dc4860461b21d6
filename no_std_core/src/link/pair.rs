//! What an end knows of the other from pairing: the key, and the number of the hand.
//!
//! Made while [`super::Pairing`] is open, kept as a record (`store`), handed to a link at each start.

use super::cipher::{Ascon, Cipher};
use super::frame::HANDS;
use super::key::{KEY_BYTES, Key};
use super::session::Session;
use crate::store::{Kind, RecordFault, frame, framed_len, unframed};

/// A key, and which of its hands this is. A board has a number too, and does not look at it.
///
/// **Two hands with one key need two numbers.** With the same number they could send two frames under
/// one nonce, which gives both of them away.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Pair {
    key: Key,
    hand: u8,
}

/// A number that no hand has.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct NotAHand {
    /// The number given; 0 to 3 are allowed.
    pub given: u8,
}

impl core::fmt::Display for NotAHand {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "hand {} of a pair; 0 to 3 are allowed", self.given)
    }
}

impl core::error::Error for NotAHand {}

const PAYLOAD: usize = KEY_BYTES + 1;

impl Pair {
    /// Bytes of the record.
    pub const BYTES: usize = framed_len(PAYLOAD);

    /// A key, and the number of the hand, 0 to 3.
    ///
    /// # Errors
    /// [`NotAHand`].
    pub const fn new(key: Key, hand: u8) -> Result<Self, NotAHand> {
        if hand < HANDS { Ok(Self { key, hand }) } else { Err(NotAHand { given: hand }) }
    }

    /// The key.
    #[must_use]
    pub const fn key(&self) -> Key {
        self.key
    }

    /// The number of the hand.
    #[must_use]
    pub const fn hand(&self) -> u8 {
        self.hand
    }

    /// The record: secret, since it holds the key.
    #[must_use]
    pub fn to_bytes(&self) -> [u8; Self::BYTES] {
        let mut payload = [0; PAYLOAD];
        let all = self.key.bytes().iter().chain([&self.hand]);
        for (to, &from) in payload.iter_mut().zip(all) {
            *to = from;
        }
        let mut record = [0; Self::BYTES];
        frame(Kind::Pair, &payload, &mut record);
        record
    }

    /// What a record says.
    ///
    /// # Errors
    /// What makes the bytes no such record.
    pub fn from_bytes(bytes: &[u8]) -> Result<Self, RecordFault> {
        let payload = unframed(Kind::Pair, bytes, PAYLOAD)?;
        let Some((key, &[hand])) = payload.split_first_chunk::<KEY_BYTES>() else {
            return Err(RecordFault::Impossible);
        };
        let key = Key::new(*key).map_err(|_| RecordFault::Impossible)?;
        Self::new(key, hand).map_err(|_| RecordFault::Impossible)
    }
}

/// An end that has a key, in one of its sessions.
#[derive(Clone, Debug)]
pub(super) struct Keyed<C> {
    pub(super) cipher: C,
    /// Four bits of the key that frames carry, so that those of other pairs are passed over cheaply.
    pub(super) mark: u8,
    pub(super) hand: u8,
    pub(super) session: u32,
}

/// The nonce under which a key's mark is made: of no frame of any version, since its first byte says
/// version 7 and the spare bit is set.
const MARK_NONCE: [u8; 16] = [0xFF; 16];

impl<C: Cipher> Keyed<C> {
    #[allow(clippy::needless_pass_by_value, reason = "a session is for one link")]
    pub(super) fn new(cipher: C, hand: u8, session: Session) -> Self {
        let [mark, ..] = cipher.seal(&MARK_NONCE, &mut []);
        Self { mark: mark & 15, hand: hand & 3, session: session.number(), cipher }
    }
}

impl Keyed<Ascon> {
    pub(super) fn of(pair: &Pair, session: Session) -> Self {
        Self::new(Ascon::new(pair.key), pair.hand, session)
    }
}

impl<C> core::hash::Hash for Keyed<C> {
    fn hash<H: core::hash::Hasher>(&self, state: &mut H) {
        (self.mark, self.hand, self.session).hash(state);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn key() -> Key {
        Key::new([1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16]).unwrap()
    }

    #[test]
    fn a_pair_outlives_a_power_cut() {
        let pair = Pair::new(key(), 3).unwrap();
        assert_eq!(Pair::from_bytes(&pair.to_bytes()), Ok(pair));
        assert_eq!(Pair::new(key(), 4), Err(NotAHand { given: 4 }));
    }

    #[test]
    fn a_record_with_one_wrong_bit_is_no_pair() {
        let record = Pair::new(key(), 0).unwrap().to_bytes();
        for bit in 0..record.len() * 8 {
            let mut other = record;
            other[bit / 8] ^= 1 << (bit % 8);
            assert!(Pair::from_bytes(&other).is_err(), "bit {bit}");
        }
        assert!(Pair::from_bytes(&[]).is_err());
    }
}
