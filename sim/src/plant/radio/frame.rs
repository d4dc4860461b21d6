//! A frame as it flies: bytes, whatever they say.
//!
//! Made by `world` from what a link end seals; `faults` may change it on the way.

use homestretch::link::TELEMETRY_BYTES;

/// Up to as many bytes as the longest frame has.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Frame {
    length: u8,
    bytes: [u8; TELEMETRY_BYTES],
}

impl Frame {
    /// The first bytes of these, as many as a frame holds.
    #[must_use]
    pub fn of(given: &[u8]) -> Self {
        let mut bytes = [0; TELEMETRY_BYTES];
        let length = given.len().min(TELEMETRY_BYTES);
        if let (Some(to), Some(from)) = (bytes.get_mut(..length), given.get(..length)) {
            to.copy_from_slice(from);
        }
        Self { length: u8::try_from(length).unwrap_or(u8::MAX), bytes }
    }

    /// Its bytes.
    #[must_use]
    pub fn bytes(&self) -> &[u8] {
        self.bytes.get(..usize::from(self.length)).unwrap_or(&self.bytes)
    }

    /// The same with one bit turned over, counted around its length.
    #[must_use]
    pub fn with_bit_turned(mut self, bit: u32) -> Self {
        let bits = u32::from(self.length) * 8;
        let bit = bit.checked_rem(bits).unwrap_or(0);
        let at = usize::try_from(bit / 8).unwrap_or(0);
        if let Some(byte) = self.bytes.get_mut(at) {
            *byte ^= 1 << (bit % 8);
        }
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_frame_holds_its_bytes_and_a_turned_bit_is_one() {
        let frame = Frame::of(&[1, 2, 3]);
        assert_eq!(frame.bytes(), [1, 2, 3]);
        assert_eq!(frame.with_bit_turned(9).bytes(), [1, 0, 3]);
        assert_eq!(frame.with_bit_turned(24), frame.with_bit_turned(0));
        assert_eq!(Frame::of(&[7; 99]).bytes().len(), 32);
        assert!(Frame::of(&[]).with_bit_turned(5).bytes().is_empty());
    }
}
