//! The secret that hand and board share, and how it is written down.
//!
//! Made or taken in a deliberate action ([`super::Pairing`]), kept by `store`, used by `cipher`. Printing
//! one says nothing of it; only [`Key::text`] does, which is for the moment of pairing.

use crc::{CRC_16_EN_13757, Crc, NoTable};

/// Bytes of a key.
pub const KEY_BYTES: usize = 16;

/// Characters of a key's text: 36 hexadecimal digits in nine groups of four.
pub const TEXT_CHARS: usize = 44;

/// A checksum that finds any five wrong bits in this length. Source: Koopman's tables give this
/// polynomial, 0x3D65, a Hamming distance of 6 up to 135 bits of data.
const CHECK: Crc<u16, NoTable> = Crc::<u16, NoTable>::new(&CRC_16_EN_13757);

/// A secret of 128 bits.
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct Key([u8; KEY_BYTES]);

impl core::fmt::Debug for Key {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str("Key(secret)")
    }
}

#[cfg(feature = "defmt")]
impl defmt::Format for Key {
    fn format(&self, f: defmt::Formatter<'_>) {
        defmt::write!(f, "Key(secret)");
    }
}

/// Why something is no key.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum NotAKey {
    /// All bytes are alike: what a source of chance gives that does not work.
    NoChance {
        /// The byte.
        byte: u8,
    },
    /// A character that is neither a hexadecimal digit nor a space, a dash or the end of a line.
    Character {
        /// Where, counted from 1.
        at: usize,
    },
    /// Too few digits or too many.
    Length {
        /// How many there are.
        given: usize,
        /// How many there have to be.
        wanted: usize,
    },
    /// The last four digits do not fit the rest: one is wrong, or two have changed places.
    Mistyped,
}

impl core::fmt::Display for NotAKey {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::NoChance { byte } => {
                write!(f, "all bytes of the key are {byte}: the source of chance does not work")
            }
            Self::Character { at } => {
                write!(f, "character {at} of the key is none of 0 to 9, A to F, a space or a dash")
            }
            Self::Length { given, wanted } => {
                write!(f, "{given} digits of a key, where it has {wanted}")
            }
            Self::Mistyped => f.write_str(
                "the last four digits do not fit the rest of the key: a digit is mistyped",
            ),
        }
    }
}

impl core::error::Error for NotAKey {}

impl Key {
    /// A key of 16 bytes from a true source of chance.
    ///
    /// # Errors
    /// [`NotAKey::NoChance`] where all bytes are alike.
    pub fn new(bytes: [u8; KEY_BYTES]) -> Result<Self, NotAKey> {
        let [first, rest @ ..] = bytes;
        if rest.iter().all(|&byte| byte == first) {
            return Err(NotAKey::NoChance { byte: first });
        }
        Ok(Self(bytes))
    }

    /// Its bytes: secret.
    #[must_use]
    pub const fn bytes(&self) -> &[u8; KEY_BYTES] {
        &self.0
    }

    /// How it is shown while pairing: nine groups of four hexadecimal digits, the last of which are
    /// its check. ASCII.
    #[must_use]
    pub fn text(&self) -> [u8; TEXT_CHARS] {
        const DIGITS: [u8; 16] = *b"0123456789ABCDEF";
        let digit = |value: u8| DIGITS.get(usize::from(value & 15)).copied().unwrap_or(b'0');
        let check = CHECK.checksum(&self.0).to_be_bytes();
        let digits = self.0.into_iter().chain(check).flat_map(|byte| [byte >> 4, byte]);
        let mut digits = digits.map(digit);
        let mut text = [b' '; TEXT_CHARS];
        for group in text.chunks_mut(5) {
            for (place, digit) in group.iter_mut().take(4).zip(&mut digits) {
                *place = digit;
            }
        }
        text
    }

    /// A key from its text; spaces, dashes and ends of lines are passed over, and letters may be small.
    ///
    /// # Errors
    /// [`NotAKey`], with where it is wrong.
    pub fn from_text(text: &[u8]) -> Result<Self, NotAKey> {
        const DIGITS: usize = 36;
        let mut bytes = [0_u8; 18];
        let mut given = 0_usize;
        for (&character, at) in text.iter().zip(1_usize..) {
            let digit = match character {
                b' ' | b'-' | b'\r' | b'\n' => continue,
                b'0'..=b'9' => character.wrapping_sub(b'0'),
                b'A'..=b'F' => character.wrapping_sub(b'A').wrapping_add(10),
                b'a'..=b'f' => character.wrapping_sub(b'a').wrapping_add(10),
                _ => return Err(NotAKey::Character { at }),
            };
            if let Some(byte) = bytes.get_mut(given >> 1) {
                *byte = (*byte << 4) | digit;
            }
            given = given.saturating_add(1);
        }
        if given != DIGITS {
            return Err(NotAKey::Length { given, wanted: DIGITS });
        }
        let [key @ .., high, low] = bytes;
        if CHECK.checksum(&key) != u16::from_be_bytes([high, low]) {
            return Err(NotAKey::Mistyped);
        }
        Self::new(key)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const BYTES: [u8; 16] = [0xA1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 0xF0];

    #[test]
    fn a_key_is_shown_in_groups_and_read_as_a_person_would_type_it() {
        let key = Key::new(BYTES).unwrap();
        let text = key.text();
        assert_eq!(&text[..9], b"A102 0304");
        assert_eq!(text.iter().filter(|&&character| character == b' ').count(), 8);
        assert_eq!(Key::from_text(&text), Ok(key));
        let typed = std::str::from_utf8(&text).unwrap().to_lowercase().replace(' ', "-") + "\r\n";
        assert_eq!(Key::from_text(typed.as_bytes()), Ok(key));
    }

    #[test]
    fn what_is_no_key_is_named() {
        let text = Key::new(BYTES).unwrap().text();
        assert_eq!(Key::from_text(&text[..40]), Err(NotAKey::Length { given: 32, wanted: 36 }));
        assert_eq!(Key::from_text(b""), Err(NotAKey::Length { given: 0, wanted: 36 }));
        assert_eq!(Key::from_text(b"A1 0G"), Err(NotAKey::Character { at: 5 }));
        let mut swapped = text;
        swapped.swap(0, 1);
        assert_eq!(Key::from_text(&swapped), Err(NotAKey::Mistyped));
        assert_eq!(Key::new([7; 16]), Err(NotAKey::NoChance { byte: 7 }));
    }

    #[test]
    fn printing_a_key_says_nothing_of_it() {
        assert_eq!(std::format!("{:?}", Key::new(BYTES).unwrap()), "Key(secret)");
    }

    proptest! {
        #[test]
        fn law_every_key_comes_back_from_its_text(bytes: [u8; 16]) {
            prop_assume!(bytes != [bytes[0]; 16]);
            let key = Key::new(bytes).unwrap();
            prop_assert_eq!(Key::from_text(&key.text()), Ok(key));
        }

        #[test]
        fn law_one_wrong_digit_is_always_found(bytes: [u8; 16], at in 0_usize..44, other in b'0'..=b'9') {
            prop_assume!(bytes != [bytes[0]; 16]);
            let mut text = Key::new(bytes).unwrap().text();
            prop_assume!(text[at] != b' ' && text[at] != other);
            text[at] = other;
            prop_assert_eq!(Key::from_text(&text), Err(NotAKey::Mistyped));
        }

        #[test]
        fn law_no_text_is_too_strange(text in prop::collection::vec(any::<u8>(), 0..80)) {
            let _ = Key::from_text(&text);
        }
    }
}
