//! Energy per distance, learned by distance.
//!
//! By distance, not by time: a stop at a light teaches nothing about the road. Energy is gathered over
//! blocks of a hundred metres, as a share of what the board file expects. Two figures come of them:
//! what a metre takes *now*, over the last half kilometre, and what it takes *as a rule*.
//!
//! The second is a Kalman filter with two states (R. E. Kalman, J. Basic Eng. 82, 1960, 35-45; from
//! memory). A ride's energy is the rule times the way, plus what hills and gusts have lent: the height
//! above where the ride began is energy that the way back returns, so that it is bounded, and a long
//! way tells the rule far better than so many short ones would. How large the loans are is learned from
//! the road's own unevenness: on a smooth one a kilometre tells much, on a hilly one little.
//! Fed by `range`; asks the board for its prior.

use super::Leg;
use crate::board::Board;
use crate::math::{divide, narrow, root, scale, square, sum};
use crate::units::{Joules, Metres, Ratio};

/// Energy is compared over pieces of this length: long enough for a push and the roll after it.
const BLOCK: Metres = Metres::from_whole(100);

/// The same in kilometres, in which the filter counts.
const BLOCK_KM: Ratio = Ratio::from_percent(10);

/// One sigma of the prior before anything is ridden, as a share of it: road load on the level against
/// riders, towns and weather. The reference rides ask for 1.0 to 1.8 times it, drawn ones for 0.8 to
/// 1.3 times.
const PRIOR_DOUBT: Ratio = Ratio::from_percent(25);

/// A rule with less doubt than this was learned.
const REMEMBERED_UNDER: Ratio = Ratio::from_percent(18);

/// One sigma of what another day adds to what earlier rides taught: wind, load, tyres.
/// Common practice, no source.
const DAY_DOUBT: Ratio = Ratio::from_percent(10);

/// One sigma of what a wind that blows on does to any way ahead, however long. Common practice, no
/// source.
const WIND_DOUBT: Ratio = Ratio::from_percent(6);

/// How fast the rule itself drifts: 3 % on a kilometre, squared, for a block. No source.
const DRIFT: Ratio = Ratio::from_fraction(90, 1_000_000);

/// Loans are paid back over two kilometres: what a block keeps of them. `exp(-0.05)`.
const KEPT: Ratio = Ratio::from_fraction(951_229, 1_000_000);

/// The variance of a block's loan over that of a block's deviation, in kilometres squared: a street's
/// slope lasts for some blocks, so that the loan of each is this much larger than if they had nothing
/// to do with each other (0.01 km² times twelve; found on drawn rides in towns, held on the references).
const LOAN_OF_UNEVENNESS: Ratio = Ratio::from_percent(12);

/// The variance of a block's deviation from those before it, before any is ridden. No source.
const USUAL_UNEVENNESS: Ratio = Ratio::from_percent(30);
/// And on the smoothest road.
const LEAST_UNEVENNESS: Ratio = Ratio::from_percent(1);
/// A block further off than this counts as no further: beyond it a steeper road would be taken for so
/// uneven that it taught less than a less steep one.
const MOST_DEVIATION: Ratio = Ratio::from_percent(70);
/// Of the unevenness, one part in twenty is that of the newest block.
const UNEVENNESS_LEARNS: Ratio = Ratio::from_percent(5);

/// Of what a metre takes now, a fifth is the newest block's: after a kilometre a tenth of what was
/// before is left.
const NOW_LEARNS: Ratio = Ratio::from_percent(20);

/// Of what stands cost, one part in twenty is the newest block's.
const STANDS_LEARN: Ratio = Ratio::from_percent(5);
/// Of a ratio's 24 fraction bits, 13 are kept of it; of a stand's joules 6.
const STANDS_SHIFT: u32 = 11;
const HALF_A_STEP: i32 = 1 << 10;
const STAND_BITS: u32 = 6;

/// A block that took more than so many times the prior is read as that.
const MOST_SHARE: Ratio = Ratio::from_whole(16);

/// A rule that regeneration made smaller than this share of the prior is held there, and one above this
/// many times it: nobody rides downhill or uphill for ever.
const LEAST_SHARE: Ratio = Ratio::from_percent(20);
const MOST_RULE: Ratio = Ratio::from_whole(8);

/// The stretch over which the road goes on as it is now: half a kilometre. Common practice, no source.
const GOES_ON_METRES: i64 = 500;

/// Loans are paid back over so many metres.
const PAID_BACK_METRES: i64 = 2000;

/// What outlives a power cut: the rule, over the board's prior.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Memory {
    /// Energy per metre as a rule, over the board's prior.
    pub share: Ratio,
    /// One sigma of it.
    pub doubt: Ratio,
}

/// A block so far: joules with 12 fraction bits, metres with 16; joules of stands with 6.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
struct Gathered {
    energy: i32,
    distance: i32,
    stood: i16,
    /// What stands cost a metre of way in the blocks before, in 8192ths of the board's prior: here, since
    /// there is room beside the other.
    stands: i16,
}

/// Joules and metres have 32 fraction bits.
const ENERGY_SHIFT: u32 = 20;
const WAY_SHIFT: u32 = 16;

/// What a metre costs, as far as ridden. All shares are of the board's prior.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Consumption {
    /// As a rule.
    rule: Ratio,
    /// What hills and gusts have lent, as so many kilometres of the prior.
    lent: Ratio,
    /// Variances of the two, and what they share.
    of_rule: Ratio,
    of_both: Ratio,
    of_lent: Ratio,
    /// The variance of a block's deviation from those before it.
    unevenness: Ratio,
    now: Ratio,
    gathered: Gathered,
}

impl Consumption {
    /// The prior of the board, or what earlier rides taught, with what another day may change.
    #[must_use]
    pub fn new(memory: Option<Memory>) -> Self {
        let (rule, doubt) = memory.map_or((Ratio::ONE, PRIOR_DOUBT), |memory| {
            let variance = sum(square(memory.doubt.to_bits()), square(DAY_DOUBT.to_bits()));
            (memory.share, Ratio::from_bits(root(variance)).min(PRIOR_DOUBT))
        });
        Self {
            rule,
            lent: Ratio::ZERO,
            of_rule: doubt.scaled(doubt),
            of_both: Ratio::ZERO,
            of_lent: Ratio::ZERO,
            unevenness: USUAL_UNEVENNESS,
            now: rule,
            gathered: Gathered::default(),
        }
    }

    /// With a leg more, from which nothing is learned yet. What a board draws while it stands is no leg.
    #[must_use]
    pub(super) fn with(self, leg: Leg) -> Self {
        let Gathered { energy, distance, stood, stands } = self.gathered;
        let gathered = Gathered {
            stood,
            stands,
            energy: energy.saturating_add(narrow(leg.energy.to_bits() >> ENERGY_SHIFT)),
            distance: distance.saturating_add(narrow(leg.distance.to_bits().max(0) >> WAY_SHIFT)),
        };
        Self { gathered, ..self }
    }

    /// With what the pack gave while the board stood, up to 511 J on a block, two minutes of 4 W: a coffee
    /// is no part of a way.
    #[must_use]
    pub(super) fn with_stand(self, energy: Joules) -> Self {
        let most = const { 511 << STAND_BITS };
        let more =
            narrow((energy.to_bits() >> const { Joules::FRACTION_BITS - STAND_BITS }).max(0));
        let stood = i32::from(self.gathered.stood).saturating_add(more).min(most);
        let gathered = Gathered { stood: i16::try_from(stood).unwrap_or(0), ..self.gathered };
        Self { gathered, ..self }
    }

    /// Whether a block has been gathered.
    #[must_use]
    pub(super) fn is_full(&self) -> bool {
        self.gathered().distance >= BLOCK
    }

    /// What the gathered block took, over the board's prior, and the next one begun. Two steps, each
    /// small enough for a tick: this, and [`Self::learned`].
    #[must_use]
    pub(super) fn next_block(self, board: &Board) -> (Self, Ratio) {
        let Leg { energy, distance } = self.gathered();
        let prior = board.prior_consumption().to_bits() >> 16;
        let share = share_of_prior(energy.to_bits() >> 16, distance, prior);
        let stands = self.stands() - self.stands().scaled(STANDS_LEARN);
        let gathered = Gathered { stands: kept(stands), ..Gathered::default() };
        (Self { gathered, ..self }, share)
    }

    /// What a block teaches that took `share` of the board's prior.
    #[must_use]
    pub(super) fn learned(self, share: Ratio) -> Self {
        let deviation = (share - self.now).magnitude().min(MOST_DEVIATION);
        let uneven = deviation.scaled(deviation) - self.unevenness;
        Self {
            unevenness: (self.unevenness + uneven.scaled(UNEVENNESS_LEARNS)).max(LEAST_UNEVENNESS),
            now: self.now + (share - self.now).scaled(NOW_LEARNS),
            ..self.filtered(share)
        }
    }

    /// Whether the gathered block has a stand in it that has taught nothing yet.
    #[must_use]
    pub(super) const fn has_stood(&self) -> bool {
        self.gathered.stood > 0
    }

    /// What the stand in the gathered block teaches: a step of its own, before the block's.
    #[must_use]
    pub(super) fn learned_of_stand(self, board: &Board) -> Self {
        let prior = board.prior_consumption().to_bits() >> 16;
        let joules = i64::from(self.gathered.stood) << 10;
        let stood = share_of_prior(joules, self.gathered().distance, prior);
        // A little more than the newest block's part: its own step takes as much off again.
        let stands = self.stands() + stood.scaled(Ratio::from_fraction(1, 19));
        let gathered = Gathered { stood: 0, stands: kept(stands), ..self.gathered };
        Self { gathered, ..self }
    }

    /// One step of the filter, for a block that took `share`.
    fn filtered(self, share: Ratio) -> Self {
        const FADES: Ratio = Ratio::from_fraction(48_771, 1_000_000);
        let loan = self.unevenness.scaled(LOAN_OF_UNEVENNESS);
        // A block shows the rule times its length, and by how much the loan has changed.
        let shown_rule = self.of_rule.scaled(BLOCK_KM) - self.of_both.scaled(FADES);
        let shown_lent = self.of_both.scaled(BLOCK_KM) - self.of_lent.scaled(FADES);
        let variance = shown_rule.scaled(BLOCK_KM) - shown_lent.scaled(FADES) + loan;
        let lent_with = shown_lent.scaled(KEPT) + loan;
        // One over the variance, with 16 fraction bits: it is never under a thousandth.
        let inverse = divide(1 << 24, i64::from(variance.to_bits().max(1 << 13)), 16);
        let gain = |covariance: Ratio| Ratio::from_bits(scale::<16>(covariance.to_bits(), inverse));
        let (rule_gain, lent_gain) = (gain(shown_rule), gain(lent_with));
        let foreseen = self.rule.scaled(BLOCK_KM) - self.lent.scaled(FADES);
        let surprise = share.scaled(BLOCK_KM) - foreseen;
        let positive = |variance: Ratio| variance.held_within(Ratio::ZERO, Ratio::from_whole(16));
        Self {
            rule: (self.rule + surprise.scaled(rule_gain)).held_within(-MOST_RULE, MOST_RULE),
            lent: (self.lent.scaled(KEPT) + surprise.scaled(lent_gain))
                .held_within(-MOST_SHARE, MOST_SHARE),
            of_rule: positive(self.of_rule - shown_rule.scaled(rule_gain) + DRIFT),
            of_both: self.of_both.scaled(KEPT) - lent_with.scaled(rule_gain),
            of_lent: positive(
                self.of_lent.scaled(KEPT).scaled(KEPT) + loan - lent_with.scaled(lent_gain),
            ),
            ..self
        }
    }

    /// Energy per metre as a rule, over the board's prior, above zero.
    #[must_use]
    pub(super) fn rule(&self) -> Ratio {
        self.rule.max(LEAST_SHARE)
    }

    /// What stands cost a metre of way, over the board's prior.
    fn stands(&self) -> Ratio {
        Ratio::from_bits(i32::from(self.gathered.stands) << STANDS_SHIFT)
    }

    /// Energy per metre as a rule, stands with it, above zero.
    #[must_use]
    pub fn per_metre(&self, board: &Board) -> Joules {
        let share = self.rule() + self.stands();
        board.prior_consumption().scaled(share).max(Joules::from_milli(1))
    }

    /// The same while riding only.
    #[must_use]
    pub fn riding_per_metre(&self, board: &Board) -> Joules {
        board.prior_consumption().scaled(self.rule()).max(Joules::from_milli(1))
    }

    /// Energy per metre over the last half kilometre or so: within a tenth of what a changed road takes
    /// after a kilometre of it. May be negative, downhill.
    #[must_use]
    pub fn now(&self, board: &Board) -> Joules {
        board.prior_consumption().scaled(self.now)
    }

    /// Mean energy per metre while `energy` is ridden: as now at first, as a rule in the long run.
    #[must_use]
    pub fn per_metre_over(&self, energy: Joules, board: &Board) -> Joules {
        // The way that goes on as now is half a kilometre of all that the energy carries.
        let near = self.riding_per_metre(board).to_bits().saturating_mul(GOES_ON_METRES) >> 16;
        let all = near.saturating_add(energy.to_bits().max(0) >> 16);
        let near = Ratio::from_bits(divide(near, all.max(1), Ratio::FRACTION_BITS));
        let rule = self.rule();
        let share = rule + (self.now.max(Ratio::ZERO) - rule).scaled(near);
        let share = share.max(LEAST_SHARE) + self.stands();
        board.prior_consumption().scaled(share).max(Joules::from_milli(1))
    }

    /// One sigma of what the mean over `distance` ahead may be off, as a share of it: of the rule, of
    /// its drift, and of what hills and gusts on that way will lend.
    #[must_use]
    pub fn doubt_over(&self, distance: Metres) -> Ratio {
        let ahead = self.loans_over(distance);
        // Sixty kilometres are enough; a metre is 2^24 / 1000 of one.
        let metres = narrow(distance.to_bits().min(60_000 << 32) >> 32);
        let kilometres = Ratio::from_bits(metres.saturating_mul(16_777));
        // Ten blocks a kilometre, a third of it as the mean over the way.
        let drift = kilometres.scaled(DRIFT).scaled(Ratio::from_fraction(10, 3));
        let variance = self.of_rule + ahead + drift + WIND_DOUBT.scaled(WIND_DOUBT);
        let sigma = root(i64::from(variance.to_bits().max(0)) << Ratio::FRACTION_BITS);
        let share =
            divide(i64::from(sigma), i64::from(self.rule().to_bits()), Ratio::FRACTION_BITS);
        Ratio::from_bits(share).held_within(Ratio::ZERO, Ratio::ONE)
    }

    /// The variance of the mean over `distance` for what is lent on it: bounded, so that it falls with
    /// the square of a long way.
    fn loans_over(&self, distance: Metres) -> Ratio {
        let metres = distance.max(BLOCK).to_bits() >> 32;
        let both = metres.wrapping_mul(metres.wrapping_add(PAID_BACK_METRES));
        let over = Ratio::from_bits(divide(1_000_000, both, Ratio::FRACTION_BITS));
        self.unevenness.scaled(LOANS_OF_UNEVENNESS).scaled(over)
    }

    /// Which part of what a way took beyond the rule was lent, by hills and wind, and is paid back the
    /// other way; the rest is a rule that is not known well enough.
    #[must_use]
    pub(super) fn lent_part(&self, way: Metres) -> Ratio {
        let lent = self.loans_over(way);
        let both = i64::from((lent + self.of_rule).to_bits().max(1));
        Ratio::from_bits(divide(i64::from(lent.to_bits()), both, Ratio::FRACTION_BITS))
    }

    /// Whether the rule is known better than the board file's.
    #[must_use]
    pub(super) fn is_remembered(&self) -> bool {
        self.of_rule < REMEMBERED_UNDER.scaled(REMEMBERED_UNDER)
    }

    /// The block that was gathered, or what there is of it.
    #[must_use]
    pub(super) fn gathered(&self) -> Leg {
        let Gathered { energy, distance, .. } = self.gathered;
        Leg {
            energy: Joules::from_bits(i64::from(energy) << ENERGY_SHIFT),
            distance: Metres::from_bits(i64::from(distance) << WAY_SHIFT),
        }
    }

    /// What has to outlive a power cut.
    #[must_use]
    pub fn memory(&self) -> Memory {
        let doubt = root(i64::from(self.of_rule.to_bits().max(0)) << Ratio::FRACTION_BITS);
        Memory { share: self.rule, doubt: Ratio::from_bits(doubt) }
    }
}

/// Twice the stationary variance of the loans over a block's unevenness, in kilometres squared:
/// `2 · 0.12 / (1 - exp(-0.1))`.
const LOANS_OF_UNEVENNESS: Ratio = Ratio::from_fraction(2_522_000, 1_000_000);

/// A share of stands as it is kept.
fn kept(stands: Ratio) -> i16 {
    let steps = stands.to_bits().saturating_add(HALF_A_STEP) >> STANDS_SHIFT;
    i16::try_from(steps).unwrap_or(i16::MAX)
}

/// Energy (16 fraction bits) over a way, over the prior of a metre (16 as well).
fn share_of_prior(energy: i64, way: Metres, prior: i64) -> Ratio {
    // A product of two numbers of at most 31 bits: one division instead of two.
    let foreseen = (way.to_bits() >> 16).min(1 << 31).wrapping_mul(prior.min(1 << 31)) >> 16;
    Ratio::from_bits(divide(energy, foreseen.max(1), Ratio::FRACTION_BITS))
        .held_within(-MOST_SHARE, MOST_SHARE)
}

impl Memory {
    /// Whether some life can have led to it.
    #[must_use]
    pub(crate) fn is_possible(&self) -> bool {
        (-MOST_RULE..=MOST_RULE).contains(&self.share)
            && (Ratio::ZERO..=Ratio::from_whole(4)).contains(&self.doubt)
    }
}
