//! What a handheld has learned of its pack and its roads, as bytes.
//!
//! Little-endian numbers one after the other, [`PAYLOAD`] bytes of them; [`Life::write`] is the
//! list. Ratios are `i32` with 24 fraction bits, variances and sums `i64` with 48, energy per metre
//! `i64` joules with 32. What is not there is written as zeros.

use super::{Kind, RecordFault, frame, framed_len, unframed};
use crate::units::{Joules, Ratio};
use crate::{charge, range};

const PAYLOAD: usize = 156;

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

    fn long(&mut self) -> Result<i64, RecordFault> {
        self.take().map(i64::from_le_bytes)
    }

    fn flag(&mut self) -> Result<bool, RecordFault> {
        match self.take()? {
            [0] => Ok(false),
            [1] => Ok(true),
            _ => Err(RecordFault::Impossible),
        }
    }

    fn ledger(&mut self) -> Result<charge::Ledger, RecordFault> {
        let (offset, scale) = (self.word()?, self.word()?);
        let (voltage, relaxation) = (self.word()?, self.word()?);
        let causes = charge::Causes { offset, scale, voltage, relaxation };
        Ok(charge::Ledger { causes, rest: self.long()? })
    }

    fn evidence(&mut self) -> Result<charge::Evidence, RecordFault> {
        let (soc, voltage) = (self.ratio()?, self.ratio()?);
        Ok(charge::Evidence { soc, voltage, relaxation: self.ratio()?, noise: self.ratio()? })
    }

    fn way(&mut self) -> Result<charge::Way, RecordFault> {
        let (drawn, by_offset) = (self.ratio()?, self.ratio()?);
        Ok(charge::Way { drawn, by_offset, unheard: self.long()? })
    }

    fn scale(&mut self) -> Result<charge::Scale, RecordFault> {
        let (value, doubt) = (self.ratio()?, self.ratio()?);
        let (counted, both, read) = (self.long()?, self.long()?, self.long()?);
        let sums = charge::Sums { counted, both, read };
        let way = self.way()?;
        let (begun, from) = (self.flag()?, self.evidence()?);
        let (ended, said) = (self.flag()?, self.evidence()?);
        let to = charge::End { said, way: self.way()? };
        let (from, to) = (begun.then_some(from), ended.then_some(to));
        Ok(charge::Scale { value, doubt, sums, from, to, way })
    }
}

/// Puts little-endian numbers into a payload, one after the other.
struct Writer {
    payload: [u8; PAYLOAD],
    at: usize,
}

impl Writer {
    fn put(&mut self, bytes: &[u8]) {
        let room = self.payload.get_mut(self.at..).unwrap_or_default();
        for (to, &from) in room.iter_mut().zip(bytes) {
            *to = from;
        }
        self.at = self.at.saturating_add(bytes.len());
    }

    fn word(&mut self, word: i32) {
        self.put(&word.to_le_bytes());
    }

    fn long(&mut self, long: i64) {
        self.put(&long.to_le_bytes());
    }

    fn ledger(&mut self, ledger: &charge::Ledger) {
        let charge::Causes { offset, scale, voltage, relaxation } = ledger.causes;
        [offset, scale, voltage, relaxation].into_iter().for_each(|word| self.word(word));
        self.long(ledger.rest);
    }

    fn evidence(&mut self, said: Option<charge::Evidence>) {
        const NOTHING: charge::Evidence = charge::Evidence {
            soc: Ratio::ZERO,
            voltage: Ratio::ZERO,
            relaxation: Ratio::ZERO,
            noise: Ratio::ZERO,
        };
        self.put(&[u8::from(said.is_some())]);
        let charge::Evidence { soc, voltage, relaxation, noise } = said.unwrap_or(NOTHING);
        [soc, voltage, relaxation, noise].into_iter().for_each(|part| self.word(part.to_bits()));
    }

    fn way(&mut self, way: &charge::Way) {
        [way.drawn, way.by_offset].into_iter().for_each(|part| self.word(part.to_bits()));
        self.long(way.unheard);
    }

    fn scale(&mut self, scale: &charge::Scale) {
        [scale.value, scale.doubt].into_iter().for_each(|part| self.word(part.to_bits()));
        let charge::Sums { counted, both, read } = scale.sums;
        [counted, both, read].into_iter().for_each(|sum| self.long(sum));
        self.way(&scale.way);
        self.evidence(scale.from);
        self.evidence(scale.to.map(|to| to.said));
        self.way(&scale.to.map(|to| to.way).unwrap_or_default());
    }
}

impl Life {
    /// Bytes of the record.
    pub const BYTES: usize = framed_len(PAYLOAD);

    /// The record.
    #[must_use]
    pub fn to_bytes(&self) -> [u8; Self::BYTES] {
        let mut record = [0; Self::BYTES];
        frame(Kind::Life, &self.write(), &mut record);
        record
    }

    fn write(&self) -> [u8; PAYLOAD] {
        let charge::Memory { soc, scale, ledger, relaxation } = &self.charge;
        let range::Memory { per_metre, spread, blocks } = self.consumption;
        let mut writer = Writer { payload: [0; PAYLOAD], at: 0 };
        writer.put(&self.pack_mark.to_le_bytes());
        writer.word(soc.to_bits());
        writer.ledger(ledger);
        writer.scale(scale);
        writer.word(relaxation.share.to_bits());
        writer.word(relaxation.doubt.to_bits());
        writer.long(per_metre.to_bits());
        writer.long(spread.to_bits());
        writer.put(&blocks.to_le_bytes());
        writer.payload
    }

    /// What a record says.
    ///
    /// # Errors
    /// What makes the bytes no such record; nothing of a bad one is used.
    pub fn from_bytes(bytes: &[u8]) -> Result<Self, RecordFault> {
        let mut read = Reader(unframed(Kind::Life, bytes, PAYLOAD)?);
        let pack_mark = read.word()?.cast_unsigned();
        let (soc, ledger, scale) = (read.ratio()?, read.ledger()?, read.scale()?);
        let relaxation = charge::Relaxation { share: read.ratio()?, doubt: read.ratio()? };
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
        let charge::Memory { ledger, scale, .. } = &self.charge;
        let charge::Causes { offset, scale: by_scale, voltage, relaxation } = ledger.causes;
        let amounts = [offset, by_scale, voltage, relaxation];
        let cells = self.charge.relaxation;
        (0..=whole).contains(&self.charge.soc.to_bits())
            && scale.is_possible()
            && (Ratio::ZERO..=Ratio::from_whole(3)).contains(&cells.share)
            && (Ratio::ZERO..=Ratio::ONE).contains(&cells.doubt)
            && amounts.into_iter().all(|amount| amount.unsigned_abs() <= whole.unsigned_abs())
            && (0..=1_i64 << 48).contains(&ledger.rest)
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
        let causes = charge::Causes { offset: -5, scale: 4, voltage: 6, relaxation: -7 };
        let ledger = charge::Ledger { causes, rest: 8 };
        let said = charge::Evidence {
            soc: Ratio::from_percent(90),
            voltage: Ratio::from_percent(2),
            relaxation: Ratio::from_percent(-1),
            noise: Ratio::from_percent(3),
        };
        let way = charge::Way {
            drawn: Ratio::from_percent(-30),
            by_offset: Ratio::from_percent(1),
            unheard: 11,
        };
        let scale = charge::Scale {
            value: Ratio::from_percent(12),
            from: Some(said),
            to: Some(charge::End { said, way }),
            way,
            ..charge::Scale::default()
        };
        Life {
            pack_mark: 0x1234_5678,
            charge: charge::Memory {
                soc: Ratio::from_percent(61),
                ledger,
                scale,
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
        assert_eq!(bytes[..6], [b'H', b'S', 2, 1, 156, 0]);
        assert_eq!(bytes[10..14], Ratio::from_percent(61).to_bits().to_le_bytes());
        assert_eq!(bytes[14..18], [0xfb, 0xff, 0xff, 0xff]);
        assert_eq!(bytes[160..162], [20, 0]);
        assert_eq!(bytes.len(), 166);
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
        assert_eq!(read(&[]), RecordFault::TooShort { given: 0, wanted: 166 });
        assert_eq!(read(&good[..30]), RecordFault::TooShort { given: 30, wanted: 166 });
        assert_eq!(read(&good[..160]), RecordFault::TooShort { given: 160, wanted: 166 });
        assert_eq!(read(b"some other file"), RecordFault::NotARecord);
        let with = |at: usize, byte| {
            let mut bytes = good;
            bytes[at] = byte;
            read(&bytes)
        };
        assert_eq!(with(2, 9), RecordFault::OtherVersion { given: 9 });
        assert_eq!(with(3, 7), RecordFault::OtherKind { given: 7 });
        assert_eq!(with(4, 40), RecordFault::WrongLength { given: 40, wanted: 156 });
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
        fn law_no_bytes_at_all_can_hurt(bytes in proptest::collection::vec(any::<u8>(), 0..200)) {
            let _ = Life::from_bytes(&bytes);
        }
    }
}
