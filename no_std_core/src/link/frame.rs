//! What goes on air: a header in the clear, a sealed payload, a tag.
//!
//! ```text
//! byte  0              1            2        5        9           9 + n
//!       ver kind hand lap  peer pair    session  counter  payload n   tag 8
//!       3    2   2    1    4    4       24       32
//! ```
//!
//! Numbers are little-endian; the first name in a byte is its highest bits. `docs/frames.md` says it
//! byte by byte. The header is the beginning of the nonce, so that each bit of it is authentic.
//! Used by `hand` and `board`; knows nothing of what a payload says.

use super::cipher::{NONCE_BYTES, TAG_BYTES};
use super::refusal::Refused;

/// The version of these frames.
pub const VERSION: u8 = 1;

/// Bytes before the payload.
pub(super) const HEADER_BYTES: usize = 9;

/// How many hands a board may have: their numbers are 0 to 3.
pub const HANDS: u8 = 4;

/// Bytes of the payload of a command.
pub(super) const COMMAND_PAYLOAD_BYTES: usize = 8;
/// Bytes of a whole command.
pub const COMMAND_BYTES: usize = whole(COMMAND_PAYLOAD_BYTES);
/// Bytes of the payload of telemetry and of a call.
pub(super) const TELEMETRY_PAYLOAD_BYTES: usize = 15;
/// Bytes of whole telemetry and of a call.
pub const TELEMETRY_BYTES: usize = whole(TELEMETRY_PAYLOAD_BYTES);

const fn whole(payload: usize) -> usize {
    HEADER_BYTES.saturating_add(payload).saturating_add(TAG_BYTES)
}

/// A command as it goes on air.
pub type CommandFrame = [u8; COMMAND_BYTES];
/// Telemetry or a call as it goes on air.
pub type TelemetryFrame = [u8; TELEMETRY_BYTES];

/// Where the bits of the first two bytes lie.
mod field {
    pub(super) const VERSION: u32 = 5;
    pub(super) const KIND: u32 = 3;
    pub(super) const HAND: u32 = 1;
    /// Bit 0 of the first byte, of telemetry only.
    pub(super) const LAP: u8 = 1;
    /// The mark of the other end's session is the high half of the second byte.
    pub(super) const PEER: u32 = 4;
    pub(super) const NIBBLE: u8 = 15;
}

/// What a frame is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) enum Kind {
    /// From a hand to the board that it has heard.
    Command,
    /// From the board to the hand that it hears.
    Telemetry,
    /// From the board to whoever has its key: it tells its session, and nothing else of it is used.
    Call,
}

impl Kind {
    pub(super) const fn code(self) -> u8 {
        match self {
            Self::Command => 1,
            Self::Telemetry => 2,
            Self::Call => 3,
        }
    }
}

/// What stands in the clear.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Header {
    pub(super) kind: Kind,
    /// The hand that sends or is sent to.
    pub(super) hand: u8,
    /// Four bits that tell keys apart, mostly.
    pub(super) pair: u8,
    /// The four lowest bits of the session of whom it is for; 0 in a call.
    pub(super) peer: u8,
    /// Of telemetry: whether the lap of the command that it answers is an odd one ([`lap`]).
    pub(super) odd_lap: bool,
    /// The sender's.
    pub(super) session: u32,
    /// Of the sender in this session.
    pub(super) counter: u32,
}

impl Header {
    /// Its bytes.
    pub(super) const fn bytes(&self) -> [u8; HEADER_BYTES] {
        let first = (VERSION << field::VERSION)
            | (self.kind.code() << field::KIND)
            | ((self.hand & 3) << field::HAND)
            | if self.odd_lap { field::LAP } else { 0 };
        let second = (self.peer << field::PEER) | (self.pair & field::NIBBLE);
        let [s0, s1, s2, _] = self.session.to_le_bytes();
        let [c0, c1, c2, c3] = self.counter.to_le_bytes();
        [first, second, s0, s1, s2, c0, c1, c2, c3]
    }

    /// What these bytes say.
    ///
    /// # Errors
    /// Another version or no kind.
    pub(super) fn read(bytes: &[u8; HEADER_BYTES]) -> Result<Self, Refused> {
        let &[first, second, s0, s1, s2, c0, c1, c2, c3] = bytes;
        let version = first >> field::VERSION;
        if version != VERSION {
            return Err(Refused::Version { given: version });
        }
        let code = (first >> field::KIND) & 3;
        let kind = match code {
            1 => Kind::Command,
            2 => Kind::Telemetry,
            3 => Kind::Call,
            _ => return Err(Refused::Kind { given: code }),
        };
        let odd_lap = first & field::LAP != 0;
        if odd_lap && kind != Kind::Telemetry {
            return Err(Refused::Version { given: version });
        }
        Ok(Self {
            kind,
            hand: (first >> field::HAND) & 3,
            pair: second & field::NIBBLE,
            peer: second >> field::PEER,
            odd_lap,
            session: u32::from_le_bytes([s0, s1, s2, 0]),
            counter: u32::from_le_bytes([c0, c1, c2, c3]),
        })
    }

    /// The nonce of the frame: the header, then the whole session of whom it is for, then the lap of
    /// the command that it answers; no session and no lap are 0.
    pub(super) const fn nonce(&self, peer_session: u32, lap: u32) -> [u8; NONCE_BYTES] {
        let [h0, h1, h2, h3, h4, h5, h6, h7, h8] = self.bytes();
        let [p0, p1, p2, _] = peer_session.to_le_bytes();
        let [l0, l1, l2, l3] = lap.to_le_bytes();
        [h0, h1, h2, h3, h4, h5, h6, h7, h8, p0, p1, p2, l0, l1, l2, l3]
    }
}

/// A command's lap: what its counter has above the eleven bits that telemetry answers with.
pub(super) const fn lap(counter: u32) -> u32 {
    counter >> 11
}

/// The mark of a session in a header.
pub(super) const fn mark(session: u32) -> u8 {
    let [low, ..] = session.to_le_bytes();
    low & field::NIBBLE
}

/// The parts of a frame with a payload of `N` bytes.
#[derive(Clone, Copy, Debug)]
pub(super) struct Parts<'a, const N: usize> {
    pub(super) header: Header,
    pub(super) payload: &'a [u8; N],
    pub(super) tag: &'a [u8; TAG_BYTES],
}

impl<'a, const N: usize> Parts<'a, N> {
    /// The parts of these bytes, of which nothing has been believed yet.
    ///
    /// # Errors
    /// Another length, another version, no kind.
    pub(super) fn of(bytes: &'a [u8]) -> Result<Self, Refused> {
        let length = Refused::Length { given: bytes.len(), wanted: whole(N) };
        let (header, rest) = bytes.split_first_chunk::<HEADER_BYTES>().ok_or(length)?;
        let (payload, rest) = rest.split_first_chunk::<N>().ok_or(length)?;
        let tag: &[u8; TAG_BYTES] = rest.try_into().map_err(|_| length)?;
        Ok(Self { header: Header::read(header)?, payload, tag })
    }
}

/// A frame of `M` bytes from its parts; they have to come to as many.
pub(super) fn assembled<const N: usize, const M: usize>(
    header: &Header,
    payload: [u8; N],
    seal: impl FnOnce(&mut [u8; N]) -> [u8; TAG_BYTES],
) -> [u8; M] {
    const { assert!(M == whole(N)) }
    let mut frame = [0; M];
    // Lengths that the compiler knows: none of these is ever missing.
    if let Some((head, rest)) = frame.split_first_chunk_mut::<HEADER_BYTES>()
        && let Some((text, rest)) = rest.split_first_chunk_mut::<N>()
        && let Some(tag) = rest.first_chunk_mut::<TAG_BYTES>()
    {
        *head = header.bytes();
        *text = payload;
        *tag = seal(text);
    }
    frame
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn any_header() -> impl Strategy<Value = Header> {
        let kinds = [Kind::Command, Kind::Telemetry, Kind::Call];
        let small = (0_usize..3, 0_u8..4, 0_u8..16, 0_u8..16, any::<bool>());
        (small, 0_u32..1 << 24, any::<u32>()).prop_map(
            move |((kind, hand, pair, peer, odd), session, counter)| Header {
                kind: kinds[kind],
                hand,
                pair,
                peer,
                odd_lap: odd && kind == 1,
                session,
                counter,
            },
        )
    }

    proptest! {
        #[test]
        fn law_a_header_comes_back_from_its_bytes(header in any_header()) {
            prop_assert_eq!(Header::read(&header.bytes()), Ok(header));
        }

        #[test]
        fn law_bytes_that_are_read_are_those_that_are_written(bytes: [u8; 9]) {
            if let Ok(header) = Header::read(&bytes) {
                prop_assert_eq!(header.bytes(), bytes);
            }
        }

        #[test]
        fn law_two_frames_with_one_nonce_are_the_same_frame(
            one in any_header(), other in any_header(), peers in (0_u32..1 << 24, 0_u32..1 << 24),
            laps in (0_u32..1 << 21, 0_u32..1 << 21), same: bool,
        ) {
            let other = if same { one } else { other };
            let alike = one.nonce(peers.0, laps.0) == other.nonce(peers.1, laps.1);
            prop_assert_eq!(alike, one == other && peers.0 == peers.1 && laps.0 == laps.1);
        }

        #[test]
        fn law_no_bytes_are_too_strange(bytes in prop::collection::vec(any::<u8>(), 0..40)) {
            let parts = Parts::<TELEMETRY_PAYLOAD_BYTES>::of(&bytes);
            prop_assert!(parts.is_err() || bytes.len() == 32);
            if let Ok(parts) = parts {
                let again: [u8; 32] = assembled(&parts.header, *parts.payload, |_| *parts.tag);
                prop_assert_eq!(&again[..], &bytes[..]);
            }
        }
    }

    #[test]
    fn frames_are_short_enough_for_any_radio() {
        assert_eq!((COMMAND_BYTES, TELEMETRY_BYTES), (25, 32));
    }

    #[test]
    fn what_is_no_frame_is_named() {
        let of = |bytes: &[u8]| Parts::<8>::of(bytes).unwrap_err();
        assert_eq!(of(&[0x28; 24]), Refused::Length { given: 24, wanted: 25 });
        assert_eq!(of(&[0x28; 26]), Refused::Length { given: 26, wanted: 25 });
        assert_eq!(of(&[0; 25]), Refused::Version { given: 0 });
        assert_eq!(of(&[0xFF; 25]), Refused::Version { given: 7 });
        assert_eq!(of(&[0x20; 25]), Refused::Kind { given: 0 });
    }
}
