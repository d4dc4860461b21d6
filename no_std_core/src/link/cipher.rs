//! Seals and opens a payload: Ascon-AEAD128 with a tag of 64 bits.
//!
//! Used by `hand` and `board`, which hand in the nonce; knows nothing of frames. Everything that is
//! not secret is in the nonce, so that a frame has no associated data.
//! Source: NIST SP 800-232 (2025), Ascon-AEAD128, through the crate `ascon-aead`; a tag cut to 64 bits
//! is the first half of the whole one.

use ascon_aead::aead::consts::U8;
use ascon_aead::aead::inout::InOutBuf;
use ascon_aead::aead::{AeadInOut as _, KeyInit as _};
use ascon_aead::{Nonce, Tag, TruncatedAsconAead128};

use super::key::Key;

/// Bytes of a nonce.
pub const NONCE_BYTES: usize = 16;

/// Bytes of a tag. At 50 tries a second a tag of 64 bits is forged once in 2^64 / 50 s, that is
/// 1.2e10 years; one of 32 bits would be in 2.7 years.
pub const TAG_BYTES: usize = 8;

/// What makes a payload secret and authentic. [`Ascon`] is the one that ships; a simulator may bring
/// another to save time.
pub trait Cipher {
    /// Makes `text` secret, in place, and gives its tag. A nonce is for one text.
    fn seal(&self, nonce: &[u8; NONCE_BYTES], text: &mut [u8]) -> [u8; TAG_BYTES];

    /// Makes `text` readable again, in place; whether the tag is that of this key, nonce and text.
    /// Where it is not, `text` is worth nothing.
    #[must_use]
    fn open(&self, nonce: &[u8; NONCE_BYTES], text: &mut [u8], tag: &[u8; TAG_BYTES]) -> bool;
}

type Ascon64 = TruncatedAsconAead128<U8>;

/// Ascon-AEAD128 under one key.
#[derive(Clone, Debug)]
pub struct Ascon(Key);

impl Ascon {
    /// The cipher under `key`.
    #[must_use]
    pub const fn new(key: Key) -> Self {
        Self(key)
    }

    fn cipher(&self) -> Ascon64 {
        Ascon64::new(self.0.bytes().into())
    }

    /// The same as [`Cipher::seal`] with data that is authentic and not secret: for the standard's
    /// test vectors; frames have none.
    #[inline(never)]
    pub fn seal_beside(
        &self,
        nonce: &[u8; NONCE_BYTES],
        beside: &[u8],
        text: &mut [u8],
    ) -> [u8; TAG_BYTES] {
        let nonce: &Nonce<Ascon64> = nonce.into();
        let sealed = self.cipher().encrypt_inout_detached(nonce, beside, InOutBuf::from(text));
        // It fails only for texts longer than an address space.
        sealed.map_or([0; TAG_BYTES], Into::into)
    }

    /// The same as [`Cipher::open`] with data that is authentic and not secret.
    #[must_use]
    #[inline(never)]
    pub fn open_beside(
        &self,
        nonce: &[u8; NONCE_BYTES],
        beside: &[u8],
        text: &mut [u8],
        tag: &[u8; TAG_BYTES],
    ) -> bool {
        let (nonce, tag): (&Nonce<Ascon64>, &Tag<Ascon64>) = (nonce.into(), tag.into());
        self.cipher().decrypt_inout_detached(nonce, beside, InOutBuf::from(text), tag).is_ok()
    }
}

impl Cipher for Ascon {
    fn seal(&self, nonce: &[u8; NONCE_BYTES], text: &mut [u8]) -> [u8; TAG_BYTES] {
        self.seal_beside(nonce, &[], text)
    }

    fn open(&self, nonce: &[u8; NONCE_BYTES], text: &mut [u8], tag: &[u8; TAG_BYTES]) -> bool {
        self.open_beside(nonce, &[], text, tag)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const COUNTING: [u8; 16] = [0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15];

    // Source: the first two known-answer vectors of the standard's reference code, as the crate
    // `ascon-aead` 0.6 carries them; all 1089 are checked in tests/tests/ascon.rs.
    #[test]
    fn source_the_tag_is_the_first_half_of_the_standards() {
        let cipher = Ascon::new(Key::new(COUNTING).unwrap());
        let tag = cipher.seal(&COUNTING, &mut []);
        assert_eq!(tag, [0x44, 0x27, 0xD6, 0x4B, 0x8E, 0x1E, 0x14, 0x51]);
        let tag = cipher.seal_beside(&COUNTING, &[0], &mut []);
        assert_eq!(tag, [0x10, 0x3A, 0xB7, 0x9D, 0x91, 0x3A, 0x03, 0x21]);
    }

    #[test]
    fn what_was_sealed_is_opened_and_nothing_else_is() {
        let cipher = Ascon::new(Key::new(COUNTING).unwrap());
        let mut text = *b"fifteen letters";
        let tag = cipher.seal(&COUNTING, &mut text);
        for bit in 0..15 * 8 {
            let mut other = text;
            other[bit / 8] ^= 1 << (bit % 8);
            assert!(!cipher.open(&COUNTING, &mut other, &tag));
        }
        for bit in 0..64 {
            let (mut same, mut other) = (text, tag);
            other[bit / 8] ^= 1 << (bit % 8);
            assert!(!cipher.open(&COUNTING, &mut same, &other));
        }
        assert!(cipher.open(&COUNTING, &mut text, &tag));
        assert_eq!(&text, b"fifteen letters");
    }
}
