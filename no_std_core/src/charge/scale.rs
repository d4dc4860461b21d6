//! The scale of counting: by how much more the charge goes down than is counted.
//!
//! A pack that has worn holds less than its board file says, a current sensor reads too much: one
//! cannot be told from the other, and need not be. Between two resting voltages the curve says by how
//! much the charge went down (x), the counter by how much it should have (y). Over many such spans
//! x = (1 + scale) y is fitted with doubts in both, by approximate weighted total least squares (Plett,
//! J. Power Sources 196, 2011, 2319-2331): three sums and a quadratic. Least squares with all of the
//! doubt in the ampere-hours would find too small a capacity.
//!
//! A span runs from one turning point of the charge to the next, over as many stops as there are on the
//! way, and over a time off, unless its end shows that the pack was charged meanwhile. The sums are
//! remembered from ride to ride. Fed by `charge`; asks nobody.

use super::ledger::Evidence;
use crate::math::{difference, divide, root, scale, scale_wide, square, sum};
use crate::units::Ratio;

/// One sigma of the scale before anything is learned, as it is told to the learning: a pack is
/// either as it was sold, or has lost up to a fifth and more. Common practice, no source.
const PERHAPS_WORN: Ratio = Ratio::from_percent(12);

/// What the charge's own doubt takes of it at most: most packs are as they were sold, within a few
/// percent, and a bell curve that has to reach the worn ones is too wide for them. Common practice,
/// no source.
const AS_SOLD: Ratio = Ratio::from_percent(6);

/// Of the wear that shows, as much again may be hidden, one sigma: the resting curve of a worn cell
/// is another one. In the worn weeks of the reference traces, exact voltages of long rests show 12 % of
/// what are 24 %, and 15 % of what are 11 %; `homestretch-checks life` prints it.
const HIDDEN: Ratio = Ratio::ONE;

/// The scale is held so that the capacity stays within a half and five quarters of the board's.
const LEAST: Ratio = Ratio::from_fraction(-20, 100);
const MOST: Ratio = Ratio::ONE;

/// An end that leaves charge open by more than this (one sigma) is none.
const OPEN_END: Ratio = Ratio::from_percent(10);

/// A shorter span tells nothing, and a shorter way back is no turn.
const LEAST_SPAN: Ratio = Ratio::from_percent(10);

/// A span that is this many sigma off shows that something else happened.
const UNFORESEEN: i32 = 4;

/// A span counts as much as its doubt leaves of this one, one sigma: only ratios of weights matter.
const UNIT_DOUBT: Ratio = Ratio::from_fraction(1, 64);

/// Doubt of the counting over doubt of the voltages, squared: a sensor's offset over an hour, and
/// gaps, against two resting voltages. Common practice, no source; twice or half of it moves the scale
/// of a worn pack by less than a thousandth.
const COUNTED_OVER_READ: Ratio = Ratio::from_fraction(1, 32);

/// A finished span takes this part of all that is known with it: some sixty spans, a month or two, are
/// remembered. One over a power of two.
const FADES_BY_BITS: u32 = 6;

const BITS: u32 = Ratio::FRACTION_BITS;

/// Products are of numbers with sixteen bits fewer, weights have as many: sums have as many fraction
/// bits as a ratio's square has, 48, and 64 spans of the whole charge stay within 2^62.
const COARSER_BITS: u32 = 8;
const WEIGHT_BITS: u32 = 16;
const MOST_WEIGHT: i32 = 16 << WEIGHT_BITS;

/// Sums over spans, each with its weight.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Sums {
    /// Of what was counted, squared.
    pub(crate) counted: i64,
    /// Of what was counted times what was read.
    pub(crate) both: i64,
    /// Of what was read, squared.
    pub(crate) read: i64,
}

/// Where a span may end.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct End {
    /// What the voltage said there.
    pub(crate) said: Evidence,
    /// What was counted up to there, and what is unsure of it.
    pub(crate) way: Way,
    /// How much the span tells: what was counted over its doubt.
    pub(crate) tells: i32,
}

/// What was counted since a span began.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Way {
    /// As a share of the board's capacity.
    pub(crate) drawn: Ratio,
    /// One sigma of what the sensor's offset makes of it.
    pub(crate) by_offset: Ratio,
    /// One sigma of what was not heard, squared.
    pub(crate) unheard: i64,
}

/// The scale, and all that it was learned from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Scale {
    /// The scale: 0 where the pack holds what the board file says.
    pub(crate) value: Ratio,
    /// One sigma of what was learned.
    pub(crate) doubt: Ratio,
    /// Over finished spans, and what is believed beforehand.
    pub(crate) sums: Sums,
    /// Where the present span began; nothing before there was a voltage.
    pub(crate) from: Option<Evidence>,
    /// Where it ends, as far as is known.
    pub(crate) to: Option<End>,
    /// What was counted since it began.
    pub(crate) way: Way,
}

/// A ratio squared, with 48 fraction bits.
fn squared(ratio: Ratio) -> i64 {
    square(ratio.to_bits())
}

impl Default for Scale {
    fn default() -> Self {
        Self {
            value: Ratio::ZERO,
            doubt: PERHAPS_WORN,
            sums: Sums { counted: BELIEVED, both: BELIEVED, read: BELIEVED },
            from: None,
            to: None,
            way: Way::default(),
        }
    }
}

/// Each of the sums before any span: as if the whole charge had been counted and read alike, with the
/// weight that [`PERHAPS_WORN`] leaves of it. A number, since a product of 64 bits is no constant here; a
/// test compares.
const BELIEVED: i64 = 1111 << (2 * (BITS - COARSER_BITS));

/// The weight of a span of so much variance.
fn weight(variance: i64) -> i32 {
    divide(squared(UNIT_DOUBT), variance.max(1), WEIGHT_BITS).min(MOST_WEIGHT)
}

impl Sums {
    fn of(counted: Ratio, read: Ratio, weight: i32) -> Self {
        let coarse = |ratio: Ratio| ratio.to_bits() >> COARSER_BITS;
        let (counted, read) = (coarse(counted), coarse(read));
        let weighed = |product: i64| scale_wide::<0>(product, weight);
        Self {
            counted: weighed(square(counted)),
            both: weighed(i64::from(counted).wrapping_mul(i64::from(read))),
            read: weighed(square(read)),
        }
    }

    fn with(self, other: Self) -> Self {
        Self {
            counted: sum(self.counted, other.counted),
            both: sum(self.both, other.both),
            read: sum(self.read, other.read),
        }
    }

    fn faded(self) -> Self {
        let faded = |of: i64| difference(of, of >> FADES_BY_BITS);
        Self { counted: faded(self.counted), both: faded(self.both), read: faded(self.read) }
    }

    /// The factor that fits, less one: the quadratic of total least squares, in the form that stays
    /// true where there is hardly a doubt in what was counted.
    fn scale(&self) -> Ratio {
        // To thirty bits, so that their squares fit.
        let size = self.counted.max(self.both).max(self.read).max(1);
        let over = 34_u32.saturating_sub(size.leading_zeros());
        let small = |of: i64| i32::try_from(of >> over).unwrap_or(i32::MAX);
        let (counted, both, read) = (small(self.counted), small(self.both), small(self.read));
        let apart = counted.saturating_sub(scale::<BITS>(read, COUNTED_OVER_READ.to_bits()));
        let doubted = scale_wide::<BITS>(square(both), COUNTED_OVER_READ.to_bits());
        let squares = sum(square(apart), doubted << 2);
        let below = i64::from(apart).wrapping_add(i64::from(root(squares)));
        let factor = divide(i64::from(both) << 1, below.max(1), BITS);
        Ratio::from_bits(factor.saturating_sub(Ratio::ONE.to_bits())).held_within(LEAST, MOST)
    }

    /// One sigma of it.
    fn doubt(&self) -> Ratio {
        let most = i64::from(UNIT_DOUBT.to_bits()) << BITS;
        Ratio::from_bits(divide(most, i64::from(root(self.counted)).max(1), 0)).min(PERHAPS_WORN)
    }
}

impl Way {
    /// The rest of this way after a part of it.
    fn after(self, part: Self) -> Self {
        Self {
            drawn: self.drawn - part.drawn,
            by_offset: self.by_offset - part.by_offset,
            unheard: difference(self.unheard, part.unheard),
        }
    }
}

impl End {
    /// The variance of what is read of the charge drawn since `from`, counting's own included.
    fn variance(&self, from: &Evidence) -> i64 {
        // The same voltmeter, curve and guess at the relaxation at both ends.
        let (said, way) = (&self.said, &self.way);
        let parts = [
            said.voltage - from.voltage,
            said.relaxation - from.relaxation,
            said.noise,
            from.noise,
            way.by_offset,
        ];
        parts.into_iter().fold(way.unheard, |so_far, part| sum(so_far, squared(part)))
    }

    /// The end of a span from `from` to where a voltage has `said` so, after some counting.
    fn of(from: &Evidence, said: &Evidence, way: Way) -> Self {
        const FRACTION_BITS: u32 = 8;
        let mut end = Self { said: *said, way, tells: 0 };
        let sigma = i64::from(root(end.variance(from))).max(1);
        end.tells = divide(i64::from(way.drawn.magnitude().to_bits()), sigma, FRACTION_BITS);
        end
    }

    fn sums(&self, from: &Evidence) -> Sums {
        Sums::of(self.way.drawn, from.soc - self.said.soc, weight(self.variance(from)))
    }
}

impl Scale {
    /// Whether some life can have led to it, all numbers being of a size that can.
    #[must_use]
    pub(crate) fn is_possible(&self) -> bool {
        let unheard = self.to.map_or(0, |to| to.way.unheard);
        (LEAST..=MOST).contains(&self.value)
            && (Ratio::ZERO..=Ratio::ONE).contains(&self.doubt)
            && [self.sums.counted, self.sums.read, self.way.unheard, unheard]
                .into_iter()
                .all(|square| square >= 0)
    }

    /// The scale: 0 where the pack holds what the board file says, positive where it holds less.
    #[must_use]
    pub const fn value(&self) -> Ratio {
        self.value
    }

    /// One sigma of the scale: of what was learned, and of what a worn cell's curve hides.
    #[must_use]
    pub fn sigma(&self) -> Ratio {
        let hidden = self.value.scaled(HIDDEN);
        Ratio::from_bits(root(sum(squared(self.doubt), squared(hidden))))
    }

    /// What the charge's doubt takes of it for so much charge drawn, through a current sensor of which
    /// the board file says one sigma of its `gain_error`.
    pub(crate) fn doubt_of(&self, drawn: Ratio, gain_error: Ratio) -> Ratio {
        let hidden = self.value.magnitude().scaled(HIDDEN);
        // What is learned has the gain in it: a poor sensor counts until then, up to what is learned.
        drawn.scaled(self.doubt.min(AS_SOLD.max(gain_error)).max(hidden))
    }

    /// So much was counted, with one sigma of what the sensor's offset makes of it.
    pub(crate) fn count(&mut self, drawn: Ratio, by_offset: Ratio) {
        self.way.drawn = self.way.drawn + drawn;
        self.way.by_offset = self.way.by_offset + by_offset;
    }

    /// Something of one sigma was not heard.
    pub(crate) fn blur(&mut self, by: Ratio) {
        self.way.unheard = sum(self.way.unheard, squared(by));
    }

    /// A voltage from which nothing leads back to the one before: a first word, or a pack that was
    /// charged meanwhile.
    pub(crate) fn begin(&mut self, said: &Evidence) {
        self.finish();
        self.from = (said.sigma() <= OPEN_END).then_some(*said);
        self.way = Way::default();
    }

    /// A voltage at rest, or after a time off in which nothing seems to have been charged.
    pub(crate) fn reach(&mut self, said: &Evidence) {
        if said.sigma() > OPEN_END {
            return;
        }
        let drawn = self.way.drawn;
        let is_long = |way: Ratio| way.magnitude() >= LEAST_SPAN;
        match (&self.from, &self.to) {
            (None, _) => self.begin(said),
            (Some(_), Some(to)) => {
                let back = drawn - to.way.drawn;
                let turned = (back < Ratio::ZERO) != (to.way.drawn < Ratio::ZERO);
                if turned && is_long(back) {
                    self.turn();
                    self.end_here(said, 0);
                } else {
                    self.end_here(said, to.tells);
                }
            }
            (Some(_), None) if is_long(drawn) => self.end_here(said, 0),
            (Some(from), None) if said.sigma() < from.sigma() => self.begin(said),
            (Some(_), None) => {}
        }
    }

    /// The present span is done, and the next begins where it ends.
    #[inline(never)]
    fn turn(&mut self) {
        let end = self.to;
        self.finish();
        if let Some(end) = end {
            self.from = Some(end.said);
            self.way = self.way.after(end.way);
        }
    }

    /// The present span ends here if it tells more than it has `told`, unless something unforeseen
    /// happened in it.
    #[inline(never)]
    fn end_here(&mut self, said: &Evidence, told: i32) {
        let Some(from) = &self.from else { return };
        let here = End::of(from, said, self.way);
        if here.tells <= told {
            return;
        }
        let counted = here.way.drawn + here.way.drawn.scaled(self.value);
        let apart = from.soc - said.soc - counted;
        let of_scale = squared(here.way.drawn.scaled(self.sigma()));
        let variance = sum(here.variance(from), of_scale);
        if super::corrections::exceeds(apart.to_bits(), variance, UNFORESEEN) {
            self.begin(said);
        } else {
            self.to = Some(here);
        }
    }

    /// Takes the present span for good.
    fn finish(&mut self) {
        if let Some((from, to)) = self.from.as_ref().zip(self.to) {
            self.sums = self.sums.with(to.sums(from)).faded();
        }
        self.to = None;
    }

    /// The sums of all spans, the present one included, and what is left of the doubt.
    pub(crate) fn gather(&mut self) -> Sums {
        let present = self.from.as_ref().zip(self.to).map(|(from, to)| to.sums(from));
        let all = self.sums.with(present.unwrap_or_default());
        self.doubt = all.doubt();
        all
    }

    /// What they say together.
    pub(crate) fn fit(&mut self, all: &Sums) {
        self.value = all.scale();
    }

    /// Both at once.
    #[cfg(test)]
    fn solve(&mut self) {
        let all = self.gather();
        self.fit(&all);
    }
}

#[cfg(test)]
mod tests;
