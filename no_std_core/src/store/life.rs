//! What a handheld has learned of its pack and its roads, as bytes.
//!
//! Little-endian: the mark of the pack, a `u32`; [`WORDS`] `i32` and [`LONGS`] `i64`, in the order of
//! [`Life::words`] and [`Life::longs`]. Ratios have 24 fraction bits, variances and sums 48.

use super::{Kind, RecordFault, frame, framed_len, unframed};
use crate::units::Ratio;
use crate::{charge, range};

const WORDS: usize = 33;
const LONGS: usize = 6;
const PAYLOAD: usize = 4 + 4 * WORDS + 8 * LONGS;

/// No ratio is larger than 64 either way, no sum or variance than 2^62.
const MOST_WORD: u32 = 64 << Ratio::FRACTION_BITS;
const MOST_LONG: u64 = 1 << 62;

/// What outlives a power cut.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Life {
    /// The mark of the pack that it was learned on ([`crate::board::Board::pack_mark`]).
    pub pack_mark: u32,
    /// Charge and its doubts.
    pub charge: charge::Memory,
    /// What a metre costs, and the way since home was marked.
    pub range: range::Memory,
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
}

const NOTHING_SAID: charge::Evidence = charge::Evidence {
    soc: Ratio::ZERO,
    voltage: Ratio::ZERO,
    relaxation: Ratio::ZERO,
    noise: Ratio::ZERO,
};

impl Life {
    /// Bytes of the record.
    pub const BYTES: usize = framed_len(PAYLOAD);

    /// Charge, the causes of its error, the scale and its doubt, how the cells relax, their resistance,
    /// the present span: whether it has a beginning (1) and an end (2), its ways, its beginning, its end;
    /// the rule of consumption and its doubt, the way out, what it took, the way back, the climb,
    /// the rule that the ride set out with, whether it goes back.
    fn words(&self) -> [i32; WORDS] {
        let charge::Memory { soc, ledger, scale, relaxation, resistance } = &self.charge;
        let charge::Causes { offset, scale: by_scale, voltage, relaxation: by_relaxation } =
            ledger.causes;
        let range::Memory { rule, way: home } = &self.range;
        let from = scale.from.unwrap_or(NOTHING_SAID);
        let nowhere = charge::End { said: NOTHING_SAID, way: charge::Way::default(), tells: 0 };
        let to = scale.to.unwrap_or(nowhere);
        let ends = i32::from(scale.from.is_some()) | i32::from(scale.to.is_some()) << 1;
        [
            soc.to_bits(),
            offset,
            by_scale,
            voltage,
            by_relaxation,
            scale.value.to_bits(),
            scale.doubt.to_bits(),
            relaxation.share.to_bits(),
            relaxation.doubt.to_bits(),
            resistance.scale.to_bits(),
            resistance.doubt.to_bits(),
            ends,
            scale.way.drawn.to_bits(),
            scale.way.by_offset.to_bits(),
            to.way.drawn.to_bits(),
            to.way.by_offset.to_bits(),
            to.tells,
            from.soc.to_bits(),
            from.voltage.to_bits(),
            from.relaxation.to_bits(),
            from.noise.to_bits(),
            to.said.soc.to_bits(),
            to.said.voltage.to_bits(),
            to.said.relaxation.to_bits(),
            to.said.noise.to_bits(),
            rule.share.to_bits(),
            rule.doubt.to_bits(),
            home.out_metres,
            home.spent_joules,
            home.back_metres,
            home.climb_joules,
            i32::from(home.set_out_with),
            i32::from(home.heading == range::Heading::Back),
        ]
    }

    /// The rest of the charge's variance, the scale's sums, what was not heard on the span's ways.
    fn longs(&self) -> [i64; LONGS] {
        let charge::Memory { ledger, scale, .. } = &self.charge;
        let charge::Sums { counted, both, read } = scale.sums;
        [
            ledger.rest,
            counted,
            both,
            read,
            scale.way.unheard,
            scale.to.map_or(0, |to| to.way.unheard),
        ]
    }

    /// The record.
    #[must_use]
    pub fn to_bytes(&self) -> [u8; Self::BYTES] {
        let head = self.pack_mark.to_le_bytes().into_iter();
        let bytes = head
            .chain(self.words().into_iter().flat_map(i32::to_le_bytes))
            .chain(self.longs().into_iter().flat_map(i64::to_le_bytes));
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
        let pack_mark = u32::from_le_bytes(read.take()?);
        let (mut words, mut longs) = ([0; WORDS], [0; LONGS]);
        for word in &mut words {
            *word = i32::from_le_bytes(read.take()?);
        }
        for long in &mut longs {
            *long = i64::from_le_bytes(read.take()?);
        }
        let life = Self::of(pack_mark, &words, &longs);
        let fits = words.iter().all(|word| word.unsigned_abs() <= MOST_WORD)
            && longs.iter().all(|long| long.unsigned_abs() <= MOST_LONG);
        if fits && life.is_possible() { Ok(life) } else { Err(RecordFault::Impossible) }
    }

    fn of(pack_mark: u32, words: &[i32; WORDS], longs: &[i64; LONGS]) -> Self {
        let &[soc, offset, by_scale, voltage, by_relaxation, ref words @ ..] = words;
        let &[value, doubt, share, share_doubt, ref words @ ..] = words;
        let &[resistance, resistance_doubt, ends, ref words @ ..] = words;
        let &[drawn, by_offset, to_drawn, to_by_offset, tells, ref words @ ..] = words;
        let &[f0, f1, f2, f3, t0, t1, t2, t3, ref words @ ..] = words;
        let &[
            rule,
            rule_doubt,
            out_metres,
            spent_joules,
            back_metres,
            climb_joules,
            set_out_with,
            goes_back,
        ] = words;
        let heading = if goes_back == 1 { range::Heading::Back } else { range::Heading::Away };
        let &[rest, counted, both, read, unheard, to_unheard] = longs;
        let ratio = Ratio::from_bits;
        let said = |[soc, voltage, relaxation, noise]: [i32; 4]| charge::Evidence {
            soc: ratio(soc),
            voltage: ratio(voltage),
            relaxation: ratio(relaxation),
            noise: ratio(noise),
        };
        let way = |drawn, by_offset, unheard| charge::Way {
            drawn: ratio(drawn),
            by_offset: ratio(by_offset),
            unheard,
        };
        let to = charge::End {
            said: said([t0, t1, t2, t3]),
            way: way(to_drawn, to_by_offset, to_unheard),
            tells,
        };
        let causes = charge::Causes { offset, scale: by_scale, voltage, relaxation: by_relaxation };
        Self {
            pack_mark,
            charge: charge::Memory {
                soc: ratio(soc),
                ledger: charge::Ledger { causes, rest },
                scale: charge::Scale {
                    value: ratio(value),
                    doubt: ratio(doubt),
                    sums: charge::Sums { counted, both, read },
                    from: (ends & 1 != 0).then(|| said([f0, f1, f2, f3])),
                    to: (ends & 2 != 0).then_some(to),
                    way: way(drawn, by_offset, unheard),
                },
                relaxation: charge::Relaxation { share: ratio(share), doubt: ratio(share_doubt) },
                resistance: charge::Resistance {
                    scale: ratio(resistance),
                    doubt: ratio(resistance_doubt),
                },
            },
            range: range::Memory {
                rule: range::RuleMemory { share: ratio(rule), doubt: ratio(rule_doubt) },
                way: range::WayMemory {
                    out_metres,
                    spent_joules,
                    back_metres,
                    climb_joules,
                    set_out_with: i16::try_from(set_out_with).unwrap_or(0),
                    heading,
                },
            },
        }
    }

    /// Whether some life can have led to it, all numbers being of a size that can.
    fn is_possible(&self) -> bool {
        let charge::Memory { soc, ledger, scale, relaxation, resistance } = &self.charge;
        let charge::Causes { offset, scale: by_scale, voltage, relaxation: by_relaxation } =
            ledger.causes;
        let whole = Ratio::ONE.to_bits().unsigned_abs();
        (Ratio::ZERO..=Ratio::ONE).contains(soc)
            && [offset, by_scale, voltage, by_relaxation]
                .into_iter()
                .all(|amount| amount.unsigned_abs() <= whole)
            && (0..=1_i64 << 48).contains(&ledger.rest)
            && scale.is_possible()
            && resistance.is_possible()
            && (Ratio::ZERO..=Ratio::from_whole(3)).contains(&relaxation.share)
            && (Ratio::ZERO..=Ratio::ONE).contains(&relaxation.doubt)
            && self.range.rule.is_possible()
            && self.range.way.is_possible()
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
            to: Some(charge::End { said, way, tells: 9 }),
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
                resistance: charge::Resistance::default(),
            },
            range: range::Memory {
                rule: range::RuleMemory {
                    share: Ratio::from_percent(104),
                    doubt: Ratio::from_percent(7),
                },
                way: range::WayMemory {
                    out_metres: 6200,
                    spent_joules: 240_000,
                    back_metres: 100,
                    climb_joules: -31_000,
                    set_out_with: 1100,
                    heading: range::Heading::Back,
                },
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
        assert_eq!(bytes[..6], [b'H', b'S', 2, 3, 184, 0]);
        assert_eq!(bytes[10..14], Ratio::from_percent(61).to_bits().to_le_bytes());
        assert_eq!(bytes[14..18], [0xfb, 0xff, 0xff, 0xff]);
        assert_eq!(bytes.len(), 194);
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
        assert_eq!(read(&[]), RecordFault::TooShort { given: 0, wanted: 194 });
        assert_eq!(read(&good[..30]), RecordFault::TooShort { given: 30, wanted: 194 });
        assert_eq!(read(&good[..160]), RecordFault::TooShort { given: 160, wanted: 194 });
        assert_eq!(read(b"some other file"), RecordFault::NotARecord);
        let with = |at: usize, byte| {
            let mut bytes = good;
            bytes[at] = byte;
            read(&bytes)
        };
        assert_eq!(with(2, 9), RecordFault::OtherVersion { given: 9 });
        assert_eq!(with(3, 7), RecordFault::OtherKind { given: 7 });
        assert_eq!(with(4, 40), RecordFault::WrongLength { given: 40, wanted: 184 });
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
