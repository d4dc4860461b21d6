//! Why a frame is dropped, and how often each reason has occurred.
//!
//! Given by `hand` and `board`; counted by them too. Nothing that is refused is ever acted on.

/// Why a frame is dropped.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum Refused {
    /// This end has no key yet: it listens to nobody.
    Unpaired,
    /// More bytes or fewer than a frame of its kind has.
    Length {
        /// How many there are.
        given: usize,
        /// How many there have to be: those of a command or of telemetry.
        wanted: usize,
    },
    /// A version of the frames that this library does not speak.
    Version {
        /// The version given; 1 is allowed.
        given: u8,
    },
    /// A frame that this end sends and never receives, or of no kind at all.
    Kind {
        /// Its code; a hand hears 2 and 3, a board hears 1.
        given: u8,
    },
    /// From or to another pair, by the mark of its key.
    AnotherPair,
    /// For another hand of the same pair.
    AnotherHand {
        /// The hand that it is for.
        given: u8,
    },
    /// From before the last start of this end or of the other.
    EarlierStart,
    /// Heard already.
    Repeated,
    /// So old that it cannot be told whether it was heard.
    TooOld,
    /// Its tag does not fit: damaged, forged, or of another key with the same mark.
    Forged,
    /// Authentic, but a newer one was heard first.
    Late,
    /// Authentic, but it answers what was said so long ago that somebody may have held it back.
    Stale,
    /// Authentic, but it says what cannot be.
    Nonsense,
}

impl Refused {
    /// How many kinds of refusal there are.
    pub const KINDS: usize = 13;

    /// The names of the kinds, in the order of [`Self::number`].
    pub const NAMES: [&'static str; Self::KINDS] = [
        "unpaired",
        "length",
        "version",
        "kind",
        "another_pair",
        "another_hand",
        "earlier_start",
        "repeated",
        "too_old",
        "forged",
        "late",
        "stale",
        "nonsense",
    ];

    /// Its kind's number, from 0.
    #[must_use]
    pub const fn number(self) -> usize {
        match self {
            Self::Unpaired => 0,
            Self::Length { .. } => 1,
            Self::Version { .. } => 2,
            Self::Kind { .. } => 3,
            Self::AnotherPair => 4,
            Self::AnotherHand { .. } => 5,
            Self::EarlierStart => 6,
            Self::Repeated => 7,
            Self::TooOld => 8,
            Self::Forged => 9,
            Self::Late => 10,
            Self::Stale => 11,
            Self::Nonsense => 12,
        }
    }
}

impl core::fmt::Display for Refused {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Unpaired => f.write_str("no key is set: pair the two ends first"),
            Self::Length { given, wanted } => {
                write!(f, "a frame of {given} bytes, where {wanted} are allowed")
            }
            Self::Version { given } => {
                write!(f, "a frame of version {given}, where 1 is allowed")
            }
            Self::Kind { given } => {
                write!(f, "a frame of kind {given}, which this end never hears")
            }
            Self::AnotherPair => f.write_str("a frame of another pair"),
            Self::AnotherHand { given } => write!(f, "a frame for hand {given} of this pair"),
            Self::EarlierStart => f.write_str("a frame from before the last start"),
            Self::Repeated => f.write_str("a frame that was heard already"),
            Self::TooOld => f.write_str("a frame too old to tell whether it was heard"),
            Self::Forged => f.write_str("a frame whose tag does not fit: damaged or forged"),
            Self::Late => f.write_str("a frame that a newer one has overtaken"),
            Self::Stale => f.write_str("a frame that answers what was said long ago"),
            Self::Nonsense => f.write_str("a frame that says what cannot be"),
        }
    }
}

impl core::error::Error for Refused {}

/// How often each kind of refusal has occurred; each count stays at its end.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Counts([u32; Refused::KINDS]);

impl Counts {
    /// Counts one more.
    pub(super) fn add(&mut self, refused: Refused) {
        if let Some(count) = self.0.get_mut(refused.number()) {
            *count = count.saturating_add(1);
        }
    }

    /// How many were refused for this kind of reason; what it carries does not matter.
    #[must_use]
    pub fn of(&self, refused: Refused) -> u32 {
        self.0.get(refused.number()).copied().unwrap_or(0)
    }

    /// Each kind's name and count.
    pub fn named(&self) -> impl Iterator<Item = (&'static str, u32)> + '_ {
        Refused::NAMES.into_iter().zip(self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_kind_has_a_number_a_name_and_a_count_of_its_own() {
        let all = [
            Refused::Unpaired,
            Refused::Length { given: 1, wanted: 25 },
            Refused::Version { given: 2 },
            Refused::Kind { given: 1 },
            Refused::AnotherPair,
            Refused::AnotherHand { given: 3 },
            Refused::EarlierStart,
            Refused::Repeated,
            Refused::TooOld,
            Refused::Forged,
            Refused::Late,
            Refused::Stale,
            Refused::Nonsense,
        ];
        let mut counts = Counts::default();
        for (refused, number) in all.into_iter().zip(0..) {
            assert_eq!(refused.number(), number);
            (0..=number).for_each(|_| counts.add(refused));
        }
        let told: std::vec::Vec<u32> = counts.named().map(|(_, count)| count).collect();
        assert_eq!(told, (1..=13).collect::<std::vec::Vec<u32>>());
        assert_eq!(counts.of(Refused::Length { given: 9, wanted: 32 }), 2);
    }
}
