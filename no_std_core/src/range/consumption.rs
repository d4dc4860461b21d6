//! Energy per distance, learned by distance.
//!
//! By distance, not by time: a stop at a light teaches nothing about the road. Energy is gathered
//! over blocks of a hundred metres; a mean and a variance over blocks forget after a few
//! kilometres. Fed by `range`.

use super::Leg;
use crate::board::Board;
use crate::math::{difference, divide, narrow, root, sum};
use crate::units::{Joules, Metres, Ratio};

/// Energy is compared over pieces of this length: long enough for a push and the roll after it.
const BLOCK: Metres = Metres::from_whole(100);

/// For how many blocks the prior counts: three hundred metres. Common practice, no source.
const PRIOR_BLOCKS: u16 = 3;

/// How many blocks are remembered at the most: two kilometres, after which a street, a wind or a
/// rider is another one. Common practice, no source.
const MOST_BLOCKS: u16 = 20;

/// One sigma of a block around the mean before any is ridden, as a share of the mean: hills and
/// stops of a town. Common practice, no source.
const PRIOR_SPREAD: Ratio = Ratio::from_percent(40);

/// Blocks next to each other share a hill and a wind: this many of them are worth one. From the
/// reference rides, where runs of uphill and headwind last some hundreds of metres.
const ALIKE_BLOCKS: i64 = 5;

/// A mean that regeneration made smaller than this share of the prior is held there: nobody rides
/// downhill for ever.
const LEAST_SHARE_OF_PRIOR: Ratio = Ratio::from_percent(20);

/// What outlives a power cut.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Memory {
    /// Mean energy per metre.
    pub per_metre: Joules,
    /// One sigma of a block around it, per metre.
    pub spread: Joules,
    /// How many blocks the mean is worth.
    pub blocks: u16,
}

/// What a metre costs, as far as ridden.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Consumption {
    learned: Memory,
    least: Joules,
    gathered: Leg,
}

impl Consumption {
    /// The prior of the board, or what earlier rides taught: at most a kilometre's worth of it,
    /// since today's wind and rider may be others.
    #[must_use]
    pub fn new(board: &Board, memory: Option<Memory>) -> Self {
        /// A remembered mean counts for at most so many blocks.
        const REMEMBERED_BLOCKS: u16 = 10;
        let prior = board.prior_consumption();
        let learned = memory.map_or(
            Memory { per_metre: prior, spread: prior.scaled(PRIOR_SPREAD), blocks: PRIOR_BLOCKS },
            |memory| Memory { blocks: memory.blocks.min(REMEMBERED_BLOCKS), ..memory },
        );
        Self { learned, least: prior.scaled(LEAST_SHARE_OF_PRIOR), gathered: Leg::default() }
    }

    /// After a leg more. What a board draws while it stands is no leg.
    #[must_use]
    pub fn after(self, leg: Leg) -> Self {
        let gathered = self.with(leg);
        if gathered.is_full() { gathered.learned() } else { gathered }
    }

    /// With a leg more, from which nothing is learned yet.
    #[must_use]
    pub(super) fn with(self, leg: Leg) -> Self {
        let gathered = Leg {
            energy: self.gathered.energy + leg.energy,
            distance: self.gathered.distance + leg.distance.max(Metres::ZERO),
        };
        Self { gathered, ..self }
    }

    /// Whether a block has been gathered.
    #[must_use]
    pub(super) fn is_full(&self) -> bool {
        self.gathered.distance >= BLOCK
    }

    /// What the gathered block teaches.
    #[must_use]
    pub(super) fn learned(self) -> Self {
        let gathered = self.gathered;
        let blocks = self.learned.blocks.saturating_add(1).min(MOST_BLOCKS);
        let per_metre = Joules::from_bits(
            i64::from(divide(
                gathered.energy.to_bits() >> 16,
                gathered.distance.to_bits() >> 16,
                16,
            )) << 16,
        );
        let share = Ratio::from_fraction(1, u32::from(blocks));
        let off = per_metre - self.learned.per_metre;
        let mean = self.learned.per_metre + off.scaled(share);
        // Variance by the usual running form, with the new block weighted like its mean.
        let square = |joules: Joules| {
            // Up to 32 kJ a metre.
            let coarse = i64::from(narrow(joules.to_bits() >> 16));
            coarse.wrapping_mul(coarse)
        };
        let variance = square(self.learned.spread);
        let grown = sum(
            variance,
            difference(square(off), variance).checked_div(i64::from(blocks)).unwrap_or(0),
        );
        let spread = Joules::from_bits(i64::from(root(grown.max(0))) << 16);
        Self {
            learned: Memory { per_metre: mean, spread, blocks },
            gathered: Leg::default(),
            ..self
        }
    }

    /// Mean energy per metre, above zero.
    #[must_use]
    pub fn per_metre(&self) -> Joules {
        self.learned.per_metre.max(self.least).max(Joules::from_milli(1))
    }

    /// One sigma of what the mean over `distance` ahead may be off, as a share of it: of the mean
    /// that was learned, and of the way ahead, which is another one.
    #[must_use]
    pub fn doubt_over(&self, distance: Metres) -> Ratio {
        let ahead = divide(distance.max(BLOCK).to_bits() >> 16, BLOCK.to_bits() >> 16, 0).max(1);
        let blocks = i64::from(self.learned.blocks.max(1));
        // spread/mean · root(alike · (1/learned + 1/ahead)), with 24 bits of the share.
        let relative =
            divide(self.learned.spread.to_bits() >> 16, self.per_metre().to_bits() >> 16, 16);
        let one_in = |blocks: i64| (ALIKE_BLOCKS << 32).checked_div(blocks).unwrap_or(0);
        let worth = sum(one_in(blocks), one_in(i64::from(ahead)));
        let factor = root(worth);
        let share = i64::from(relative).wrapping_mul(i64::from(factor)) >> 8;
        Ratio::from_bits(narrow(share)).held_within(Ratio::ZERO, Ratio::ONE)
    }

    /// What has to outlive a power cut.
    #[must_use]
    pub const fn memory(&self) -> Memory {
        self.learned
    }
}
