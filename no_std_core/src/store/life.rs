//! What a handheld has learned of its pack and its roads, as bytes.
//!
//! In order: the mark of the pack, a `u32`; charge, scale; the three causes of the charge's error (offset, voltage, relaxation)
//! and the three of the scale's; the share and the doubt of the relaxation: ten `i32` with 24
//! fraction bits. Then the ledger's rests (charge, both, scale), `i64` with 48; energy per metre
//! and its spread, joules as `i64` with 32; the number of blocks, a `u16`. 86 bytes.

use super::{Kind, RecordFault, frame, framed_len, unframed};
use crate::units::{Joules, Ratio};
use crate::{charge, range};

const PAYLOAD: usize = 86;

/// What outlives a power cut.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Life {
    /// The mark of the pack that it was learned on ([`crate::board::Board::pack_mark`]).
    pub pack_mark: u32,
    /// Charge and its doubts.
    pub charge: charge::Memory,
    /// What a metre costs.
    pub consumption: range::Memory,
}

/// Takes little-endian numbers off the front of a payload.
struct Reader<'a>(&'a [u8]);

impl Reader<'_> {
    fn take<const N: usize>(&mut self) -> Result<[u8; N], RecordFault> {
        let Some((head, rest)) = self.0.split_first_chunk::<N>() else {
            return Err(RecordFault::Impossible);
        };
        self.0 = rest;
        Ok(*head)
    }

    fn word(&mut self) -> Result<i32, RecordFault> {
        self.take().map(i32::from_le_bytes)
    }

    fn ratio(&mut self) -> Result<Ratio, RecordFault> {
        self.word().map(Ratio::from_bits)
    }

    fn causes(&mut self) -> Result<charge::Causes, RecordFault> {
        let (offset, voltage, relaxation) = (self.word()?, self.word()?, self.word()?);
        Ok(charge::Causes { offset, voltage, relaxation })
    }

    fn long(&mut self) -> Result<i64, RecordFault> {
        self.take().map(i64::from_le_bytes)
    }
}

impl Life {
    /// Bytes of the record.
    pub const BYTES: usize = framed_len(PAYLOAD);

    /// The record.
    #[must_use]
    pub fn to_bytes(&self) -> [u8; Self::BYTES] {
        let charge::Memory { soc, scale, ledger, relaxation } = self.charge;
        let range::Memory { per_metre, spread, blocks } = self.consumption;
        let of_causes = |causes: charge::Causes| [causes.offset, causes.voltage, causes.relaxation];
        let words = [self.pack_mark.cast_signed(), soc.to_bits(), scale.to_bits()]
            .into_iter()
            .chain(of_causes(ledger.charge))
            .chain(of_causes(ledger.scale))
            .chain([relaxation.share.to_bits(), relaxation.doubt.to_bits()]);
        let longs = [
            ledger.charge_rest,
            ledger.both_rest,
            ledger.scale_rest,
            per_metre.to_bits(),
            spread.to_bits(),
        ];
        let bytes = words
            .flat_map(i32::to_le_bytes)
            .chain(longs.into_iter().flat_map(i64::to_le_bytes))
            .chain(blocks.to_le_bytes());
        let mut payload = [0; PAYLOAD];
        for (to, from) in payload.iter_mut().zip(bytes) {
            *to = from;
        }
        let mut record = [0; Self::BYTES];
        frame(Kind::Life, &payload, &mut record);
        record
    }

    /// What a record says.
    ///
    /// # Errors
    /// What makes the bytes no such record; nothing of a bad one is used.
    pub fn from_bytes(bytes: &[u8]) -> Result<Self, RecordFault> {
        let mut read = Reader(unframed(Kind::Life, bytes, PAYLOAD)?);
        let pack_mark = read.word()?.cast_unsigned();
        let (soc, scale) = (read.ratio()?, read.ratio()?);
        let (of_charge, of_scale) = (read.causes()?, read.causes()?);
        let relaxation = charge::Relaxation { share: read.ratio()?, doubt: read.ratio()? };
        let ledger = charge::Ledger {
            charge: of_charge,
            scale: of_scale,
            charge_rest: read.long()?,
            both_rest: read.long()?,
            scale_rest: read.long()?,
        };
        let consumption = range::Memory {
            per_metre: Joules::from_bits(read.long()?),
            spread: Joules::from_bits(read.long()?),
            blocks: u16::from_le_bytes(read.take()?),
        };
        let life = Self {
            pack_mark,
            charge: charge::Memory { soc, ledger, scale, relaxation },
            consumption,
        };
        if life.is_possible() { Ok(life) } else { Err(RecordFault::Impossible) }
    }

    fn is_possible(&self) -> bool {
        let whole = Ratio::ONE.to_bits();
        let ledger = self.charge.ledger;
        let causes = [ledger.charge, ledger.scale];
        let amounts = causes.into_iter().flat_map(|of| [of.offset, of.voltage, of.relaxation]);
        let variances = [ledger.charge_rest, ledger.both_rest.saturating_abs(), ledger.scale_rest];
        let cells = self.charge.relaxation;
        (0..=whole).contains(&self.charge.soc.to_bits())
            && self.charge.scale.magnitude() <= Ratio::ONE
            && (Ratio::ZERO..=Ratio::from_whole(3)).contains(&cells.share)
            && (Ratio::ZERO..=Ratio::ONE).contains(&cells.doubt)
            && amounts.into_iter().all(|amount| amount.unsigned_abs() <= whole.unsigned_abs())
            && variances.into_iter().all(|variance| (0..=1_i64 << 48).contains(&variance))
            // A board that takes 10 kWh per kilometre is none.
            && self.consumption.per_metre.magnitude() < Joules::from_whole(36_000)
            && (Joules::ZERO..Joules::from_whole(36_000)).contains(&self.consumption.spread)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn life() -> Life {
        let causes = charge::Causes { offset: -5, voltage: 6, relaxation: -7 };
        let ledger = charge::Ledger {
            charge: causes,
            scale: causes,
            charge_rest: 8,
            both_rest: -9,
            scale_rest: 10,
        };
        Life {
            pack_mark: 0x1234_5678,
            charge: charge::Memory {
                soc: Ratio::from_percent(61),
                ledger,
                scale: Ratio::from_percent(12),
                relaxation: charge::Relaxation::default(),
            },
            consumption: range::Memory {
                per_metre: Joules::from_whole(40),
                spread: Joules::from_whole(11),
                blocks: 20,
            },
        }
    }

    #[test]
    fn a_record_is_read_back_as_it_was_written() {
        assert_eq!(Life::from_bytes(&life().to_bytes()), Ok(life()));
    }

    #[test]
    fn the_bytes_are_these() {
        let bytes = life().to_bytes();
        assert_eq!(bytes[..6], [b'H', b'S', 1, 1, 86, 0]);
        assert_eq!(bytes[10..14], Ratio::from_percent(61).to_bits().to_le_bytes());
        assert_eq!(bytes[18..22], [0xfb, 0xff, 0xff, 0xff]);
        assert_eq!(bytes[90..92], [20, 0]);
        assert_eq!(bytes.len(), 96);
    }

    #[test]
    fn source_the_checksum_is_the_one_of_the_standard() {
        // Source: check value of CRC-32/ISO-HDLC in the catalogue of parametrised CRC algorithms.
        assert_eq!(super::super::CRC.checksum(b"123456789"), 0xcbf4_3926);
    }

    #[test]
    fn every_way_to_be_no_record_has_its_name() {
        let good = life().to_bytes();
        let read = |bytes: &[u8]| Life::from_bytes(bytes).unwrap_err();
        assert_eq!(read(&[]), RecordFault::TooShort { given: 0, wanted: 96 });
        assert_eq!(read(&good[..30]), RecordFault::TooShort { given: 30, wanted: 96 });
        assert_eq!(read(&good[..94]), RecordFault::TooShort { given: 94, wanted: 96 });
        assert_eq!(read(b"some other file"), RecordFault::NotARecord);
        let with = |at: usize, byte| {
            let mut bytes = good;
            bytes[at] = byte;
            read(&bytes)
        };
        assert_eq!(with(2, 9), RecordFault::OtherVersion { given: 9 });
        assert_eq!(with(3, 7), RecordFault::OtherKind { given: 7 });
        assert_eq!(with(4, 40), RecordFault::WrongLength { given: 40, wanted: 86 });
        assert_eq!(with(20, 0x55), RecordFault::Damaged);
    }

    proptest! {
        #[test]
        fn law_one_changed_bit_is_always_noticed(at in 0..Life::BYTES, bit in 0_u8..8) {
            let mut bytes = life().to_bytes();
            bytes[at] ^= 1 << bit;
            prop_assert!(Life::from_bytes(&bytes).is_err());
        }

        #[test]
        fn law_no_bytes_at_all_can_hurt(bytes in proptest::collection::vec(any::<u8>(), 0..80)) {
            let _ = Life::from_bytes(&bytes);
        }
    }
}
