//! What must outlive a power cut: one record format, versioned and checked.
//!
//! ```text
//! byte   0   1   2        3      4       6            6 + n
//!      'H' 'S' version  kind   length  payload (n)   CRC-32
//! ```
//!
//! All numbers are little-endian. `length` is that of the payload. The CRC is CRC-32/ISO-HDLC over
//! everything before it. A record of another version or kind is refused, never guessed at. The
//! payloads stand in files of their own: [`Life`] is what a handheld has learned,
//! [`crate::throttle::Tuning`] what its throttle was tuned to, [`crate::link::Pair`] the key that it shares
//! with its board. Session numbers, which are written at
//! each start, have a log of their own (`sessions`, feature `embedded-storage`).

mod life;
#[cfg(feature = "embedded-storage")]
pub mod sessions;
mod tuning;

pub use life::Life;

use crc::{CRC_32_ISO_HDLC, Crc, NoTable};

const MARK: [u8; 2] = *b"HS";
const HEADER: usize = 6;
const CHECKSUM: usize = 4;

/// The version of the frame. A payload that changes gets a new code of its kind, so that a key that was
/// paired outlives what was learned.
pub const VERSION: u8 = 2;

// Without a table: a record is written once a minute at the most, and 1 kB of flash is dear.
pub(crate) const CRC: Crc<u32, NoTable> = Crc::<u32, NoTable>::new(&CRC_32_ISO_HDLC);

/// What a record holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum Kind {
    /// What a handheld has learned: [`Life`].
    Life,
    /// What an end knows from pairing: [`crate::link::Pair`].
    Pair,
    /// What the throttle was tuned to: [`crate::throttle::Tuning`].
    Tuning,
}

impl Kind {
    const fn code(self) -> u8 {
        match self {
            // 1 was a life without the way home.
            Self::Life => 3,
            Self::Pair => 2,
            Self::Tuning => 4,
        }
    }
}

/// Why bytes are no record.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum RecordFault {
    /// Fewer bytes than the record says it has, or than any record has.
    TooShort {
        /// How many there are.
        given: usize,
        /// How many there have to be.
        wanted: usize,
    },
    /// It does not begin with the mark of a record.
    NotARecord,
    /// Written by another version of the library.
    OtherVersion {
        /// The version that wrote it.
        given: u8,
    },
    /// A record of something else.
    OtherKind {
        /// The code of what it is.
        given: u8,
    },
    /// A payload of another length than this kind has.
    WrongLength {
        /// Its length.
        given: usize,
        /// The length of this kind.
        wanted: usize,
    },
    /// The checksum does not fit: a bit has changed or a write was cut off.
    Damaged,
    /// A value within it that cannot be; the checksum fits all the same.
    Impossible,
}

impl core::fmt::Display for RecordFault {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::TooShort { given, wanted } => {
                write!(f, "{given} bytes, where a record has at least {wanted}: cut off")
            }
            Self::NotARecord => f.write_str("no record of this library"),
            Self::OtherVersion { given } => {
                write!(f, "a record of version {given}; this library reads version {VERSION}")
            }
            Self::OtherKind { given } => {
                write!(f, "a record of kind {given}, which holds something else")
            }
            Self::WrongLength { given, wanted } => {
                write!(f, "a payload of {given} bytes, where this kind has {wanted}")
            }
            Self::Damaged => f.write_str("the checksum does not fit: damaged"),
            Self::Impossible => f.write_str("holds a value that cannot be"),
        }
    }
}

impl core::error::Error for RecordFault {}

/// Bytes of a record with a payload of `N` bytes.
#[must_use]
pub(crate) const fn framed_len(payload: usize) -> usize {
    HEADER.saturating_add(payload).saturating_add(CHECKSUM)
}

/// Frames a payload into `into`, which has to have [`framed_len`] bytes.
pub(crate) fn frame(kind: Kind, payload: &[u8], into: &mut [u8]) {
    let length = u16::try_from(payload.len()).unwrap_or(u16::MAX).to_le_bytes();
    let header = [MARK[0], MARK[1], VERSION, kind.code(), length[0], length[1]];
    let body = header.iter().chain(payload);
    for (to, &from) in into.iter_mut().zip(body) {
        *to = from;
    }
    let Some((body, checksum)) = into.split_at_mut_checked(HEADER.saturating_add(payload.len()))
    else {
        return;
    };
    for (to, from) in checksum.iter_mut().zip(CRC.checksum(body).to_le_bytes()) {
        *to = from;
    }
}

/// The payload of a record of `kind` that has `wanted` bytes; what follows the record is not looked at.
///
/// # Errors
/// What makes the bytes no such record.
pub(crate) fn unframed(kind: Kind, bytes: &[u8], wanted: usize) -> Result<&[u8], RecordFault> {
    let too_short = RecordFault::TooShort { given: bytes.len(), wanted: framed_len(wanted) };
    let Some((&[mark_0, mark_1, version, code, low, high], rest)) =
        bytes.split_first_chunk::<HEADER>()
    else {
        return Err(if MARK.starts_with(bytes.get(..2).unwrap_or(bytes)) {
            too_short
        } else {
            RecordFault::NotARecord
        });
    };
    if [mark_0, mark_1] != MARK {
        return Err(RecordFault::NotARecord);
    }
    if version != VERSION {
        return Err(RecordFault::OtherVersion { given: version });
    }
    if code != kind.code() {
        return Err(RecordFault::OtherKind { given: code });
    }
    let given = usize::from(u16::from_le_bytes([low, high]));
    if given != wanted {
        return Err(RecordFault::WrongLength { given, wanted });
    }
    let (Some((payload, rest)), Some((body, _))) =
        (rest.split_at_checked(wanted), bytes.split_at_checked(HEADER.saturating_add(wanted)))
    else {
        return Err(too_short);
    };
    let Some((checksum, _)) = rest.split_first_chunk::<CHECKSUM>() else {
        return Err(too_short);
    };
    if u32::from_le_bytes(*checksum) == CRC.checksum(body) {
        Ok(payload)
    } else {
        Err(RecordFault::Damaged)
    }
}
