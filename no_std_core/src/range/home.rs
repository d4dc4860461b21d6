//! The way home: what it takes, what is left for it, and when to turn.
//!
//! A hand without a map knows how far it has come and what that took. Home is as far back along the
//! same way. What hills and wind have lent on the way out is paid back on the way home; what is the
//! board's own (soft wheels, a heavy load) is not, and how much of a surprise is which is a matter of
//! how well the rule is known. Where the height is measured, blocks come without their climb, and what
//! it takes needs no guess.
//!
//! Fed by `range` with each block that was ridden and each look at what is left; read by `status`.

use super::consumption::Consumption;
use super::{whole_joules, whole_metres};
use crate::board::Board;
use crate::math::{divide, narrow, root, square, sum};
use crate::units::{Joules, Metres, Ratio};

/// What comes down again: a slope gives back half of what it took, the rest goes into air, brakes and
/// copper. Common practice, no source.
const GIVEN_BACK: Ratio = Ratio::from_percent(50);

/// Twice the part of a day's surprise that is its wind: a wind of 8 %, one sigma, beside a rule of 10 %.
/// Common practice, no source.
const TWICE_WIND_PART: Ratio = Ratio::from_percent(80);

/// One sigma of what the wind, turned round, adds to the way home. No source; found on drawn rides, of which
/// too many that turned when told came home with nothing left at 11 % (`campaign --home-every`).
const TURNED_WIND_DOUBT: Ratio = Ratio::from_percent(16);

/// Sigma to what 199 of 200 rides stay within, of a normal error (2.576).
const ONE_IN_TWO_HUNDRED: Ratio = Ratio::from_fraction(2576, 1000);

/// One sigma to what nine in ten stay under, of a normal error (1.2816).
const NINE_IN_TEN: Ratio = Ratio::from_fraction(12_816, 10_000);

/// Turning takes a while: this much more way out and back is reckoned with.
const TO_TURN: Metres = Metres::from_whole(200);
/// And it is told this far ahead of having to.
const SOON: Metres = Metres::from_whole(2000);

/// A word that was said is taken back where the margin is better by this much than what made it be
/// said, in metres of way.
const TAKEN_BACK_AFTER: Metres = Metres::from_whole(400);
/// And so many looks later, over a minute: looks are five seconds apart.
const LOOKS_TO_TAKE_BACK: i8 = 13;
/// A worse word is said once so many looks in a row have found it.
const LOOKS_TO_SAY: i8 = 2;

/// A way back that goes on for more than so many metres past home is another way out.
const AT_HOME_METRES: i32 = 300;

/// 9.80665 m/s², standard gravity.
const GRAVITY: Ratio = Ratio::from_fraction(980_665, 100_000);

/// Where the ride goes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Heading {
    /// Away from home, as far as anybody has said.
    #[default]
    Away,
    /// Back home, since the rider has said so.
    Back,
}

/// What to tell the rider. From good to bad.
///
/// | said | away from home | on the way back |
/// | --- | --- | --- |
/// | `Plenty` | ride on | ride as you like |
/// | `TurnSoon` | two kilometres of way out and back are left | enough, and not much more |
/// | `TurnNow` | the way back takes what is left, in the worst of 200 rides | no detours |
/// | `WillNotReach` | more likely than not, drive ends before home | the same |
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Word {
    /// Home can be reached from further away.
    #[default]
    Plenty,
    /// The time to turn comes near.
    TurnSoon,
    /// Time to turn.
    TurnNow,
    /// Home is further than what is left.
    WillNotReach,
}

/// The way home, to be shown.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct WayHome {
    /// Where the ride goes.
    pub heading: Heading,
    /// How far home is, by the odometer.
    pub distance: Metres,
    /// Energy that the way home takes, at the pack's terminals. Nothing at home.
    pub need: Joules,
    /// What nine in ten ways home take no more than.
    pub need_nine_in_ten: Joules,
    /// What is left beyond the need, as a way; negative where it does not suffice.
    pub margin: Metres,
    /// The same as a share of what is left; -1 where nothing is left.
    pub margin_share: Ratio,
    /// What to tell the rider.
    pub word: Word,
}

/// What outlives a power cut, so that a hand that starts anew on the way still knows the way home.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Memory {
    /// The way out, in whole metres.
    pub out_metres: i32,
    /// What it took, in whole joules.
    pub spent_joules: i32,
    /// How much of it has been ridden back, in whole metres.
    pub back_metres: i32,
    /// What the climb of the way out took, in whole joules, where its height was measured; a descent is
    /// negative.
    pub climb_joules: i32,
    /// The rule that the ride set out with, where earlier rides had taught it, in 1024ths of the board's
    /// prior; zero where none had.
    pub set_out_with: i16,
    /// Where the ride goes.
    pub heading: Heading,
}

/// The way since home was marked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) struct Home {
    way: Memory,
    need_joules: i32,
    doubt_joules: i32,
    word: Word,
    /// For how many looks a worse word would have been right, or, negative, a better one.
    otherwise_for: i8,
    /// The charge that the way was remembered with, in whole percents; zero where none is.
    left_with_percent: u8,
}

/// What is left to get home with, at a look.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) struct Left {
    /// At the terminals, likely.
    pub(super) energy: Joules,
    /// One sigma of it.
    pub(super) doubt: Joules,
}

impl Home {
    /// Home here and now; `rule` where earlier rides taught one.
    pub(super) fn here(rule: Option<Ratio>) -> Self {
        let set_out_with = rule.map_or(0, |rule| i16::try_from(rule.to_bits() >> 14).unwrap_or(0));
        Self {
            way: Memory { set_out_with, ..Memory::default() },
            need_joules: 0,
            doubt_joules: 0,
            word: Word::Plenty,
            otherwise_for: 0,
            left_with_percent: 0,
        }
    }

    /// The way that an earlier life remembers, and the charge that it ended with: unless it ended at
    /// home, the ride may be going on.
    pub(super) fn remembered(way: Memory, soc: Ratio) -> Self {
        let home = Self::here(None);
        if way.heading == Heading::Back && way.back_metres >= way.out_metres {
            return home;
        }
        let percent = u8::try_from(percent_of(soc)).unwrap_or(0).max(1);
        Self { way, left_with_percent: percent, ..home }
    }

    /// Whether the pack was charged since: a charger is taken for home.
    pub(super) fn was_charged(&self, soc: Ratio) -> bool {
        /// A resting voltage may find so much more than was counted.
        const CHARGED_BY_PERCENT: i32 = 8;
        let percent = percent_of(soc);
        self.left_with_percent > 0
            && percent > i32::from(self.left_with_percent).saturating_add(CHARGED_BY_PERCENT)
    }

    /// The way that a start goes on with.
    pub(super) const fn memory(&self) -> Memory {
        self.way
    }

    /// From now on the way is the one back; nothing at home.
    pub(super) fn turn(&mut self) {
        if self.way.out_metres > 0 {
            self.way.heading = Heading::Back;
            self.otherwise_for = 0;
        }
    }

    /// A block more of the way: what it took without its climb, and what that took.
    pub(super) fn ridden(&mut self, energy: Joules, distance: Metres, climb_joules: i32) {
        let metres = whole(distance.to_bits());
        let way = &mut self.way;
        match way.heading {
            Heading::Away => {
                way.out_metres = way.out_metres.saturating_add(metres);
                way.spent_joules = way.spent_joules.saturating_add(whole(energy.to_bits()));
                way.climb_joules = way.climb_joules.saturating_add(climb_joules);
            }
            Heading::Back => way.back_metres = way.back_metres.saturating_add(metres),
        }
        // Beyond home a new way begins, as far out as it has come.
        let beyond = way.back_metres.saturating_sub(way.out_metres);
        if way.heading == Heading::Back && beyond > AT_HOME_METRES {
            let joules = i64::from(whole(energy.to_bits())).wrapping_mul(i64::from(beyond));
            let spent_joules = divide(joules, i64::from(metres.max(1)), 0);
            *self = Self::here(None);
            self.way.out_metres = beyond;
            self.way.spent_joules = spent_joules;
        }
    }

    /// How far home is, in whole metres.
    fn distance_m(&self) -> i32 {
        self.way.out_metres.saturating_sub(self.way.back_metres).max(0)
    }

    /// Which part of what the way out took beyond the rule is paid back on the way home.
    pub(super) fn lent_part(&self, consumption: &Consumption) -> Ratio {
        consumption.lent_part(whole_metres(self.way.out_metres))
    }

    /// Works out what the way home takes.
    pub(super) fn look_at_need(
        &mut self,
        consumption: &Consumption,
        lent_part: Ratio,
        board: &Board,
    ) {
        let distance_m = self.distance_m();
        if distance_m == 0 {
            self.need_joules = 0;
            return;
        }
        let by_rule = over(consumption.riding_per_metre(board), self.way.out_metres);
        let stands =
            over(consumption.per_metre(board), self.way.out_metres).saturating_sub(by_rule);
        // What the way out took beyond the rule, and how much of that is hills and wind.
        let lent = scaled(self.way.spent_joules.saturating_sub(by_rule), lent_part);
        let paid_back = |lent: i32| if lent > 0 { scaled(lent, GIVEN_BACK) } else { lent };
        let whole_need = by_rule
            .saturating_sub(paid_back(lent))
            .saturating_sub(paid_back(self.by_wind(consumption, by_rule)))
            .saturating_sub(paid_back(self.way.climb_joules))
            .max(by_rule >> 2)
            .saturating_add(stands);
        let part = Ratio::from_bits(divide(
            i64::from(distance_m),
            i64::from(self.way.out_metres.max(1)),
            Ratio::FRACTION_BITS,
        ));
        self.need_joules = scaled(whole_need, part.min(Ratio::ONE));
    }

    /// And how sure that is.
    pub(super) fn look_at_doubt(&mut self, consumption: &Consumption) {
        let doubt = consumption.doubt_over(whole_metres(self.distance_m()));
        let variance = sum(square(doubt.to_bits()), square(TURNED_WIND_DOUBT.to_bits()));
        self.doubt_joules = scaled(self.need_joules, Ratio::from_bits(root(variance)));
    }

    /// What the rule has learned since the ride set out may be the day's wind as well as the day's load:
    /// so much of it is turned round on the way back, twice, since the rule has it with the wrong sign.
    fn by_wind(&self, consumption: &Consumption, by_rule: i32) -> i32 {
        if self.way.set_out_with == 0 {
            return 0;
        }
        let learned = consumption.rule() - Ratio::from_bits(i32::from(self.way.set_out_with) << 14);
        let share = divide(
            i64::from(learned.to_bits()),
            i64::from(consumption.rule().to_bits()),
            Ratio::FRACTION_BITS,
        );
        scaled(by_rule, Ratio::from_bits(share).scaled(TWICE_WIND_PART))
    }

    /// What is left against the need: how to say it.
    pub(super) fn look_at_word(&mut self, left: Left, per_metre: Joules) {
        let margin = self.margin_joules(left);
        let sigma = root(sum(square(self.doubt_joules), square(whole(left.doubt.to_bits()))));
        let sure = margin.saturating_sub(scaled(sigma, ONE_IN_TWO_HUNDRED));
        let energy = |way: Metres| {
            // Out and back.
            over(per_metre, whole(way.to_bits())).saturating_mul(2)
        };
        let word_with = |more: i32| {
            if self.distance_m() == 0 {
                Word::Plenty
            } else if margin < more {
                Word::WillNotReach
            } else if sure < energy(TO_TURN).saturating_add(more) {
                Word::TurnNow
            } else if sure < energy(TO_TURN + SOON).saturating_add(more) {
                Word::TurnSoon
            } else {
                Word::Plenty
            }
        };
        let (worse, better) = (word_with(0), word_with(energy(TAKEN_BACK_AFTER) >> 1));
        // One direction at a time: looks for the other one begin anew.
        if worse > self.word {
            self.otherwise_for = self.otherwise_for.max(0).saturating_add(1);
        } else if better < self.word {
            self.otherwise_for = self.otherwise_for.min(0).saturating_sub(1);
        } else {
            self.otherwise_for = 0;
        }
        if self.otherwise_for >= LOOKS_TO_SAY {
            (self.word, self.otherwise_for) = (worse, 0);
        } else if self.otherwise_for <= LOOKS_TO_TAKE_BACK.wrapping_neg() {
            (self.word, self.otherwise_for) = (better, 0);
        }
    }

    pub(super) const fn word(&self) -> (Heading, Word) {
        (self.way.heading, self.word)
    }

    fn margin_joules(&self, left: Left) -> i32 {
        whole(left.energy.to_bits()).saturating_sub(self.need_joules)
    }

    /// The way home, to be shown.
    pub(super) fn shown(&self, energy: Joules, per_metre: Joules) -> WayHome {
        let margin_joules = self.margin_joules(Left { energy, doubt: Joules::ZERO });
        let metre = (per_metre.to_bits() >> 16).max(1);
        let nine = scaled(self.doubt_joules, NINE_IN_TEN);
        let left = i64::from(whole(energy.to_bits()));
        let share = if left > 0 {
            Ratio::from_bits(divide(i64::from(margin_joules), left, Ratio::FRACTION_BITS))
        } else {
            -Ratio::ONE
        };
        WayHome {
            heading: self.way.heading,
            distance: whole_metres(self.distance_m()),
            need: whole_joules(self.need_joules),
            need_nine_in_ten: whole_joules(self.need_joules.saturating_add(nine)),
            margin: whole_metres(divide(i64::from(margin_joules) << 16, metre, 0)),
            margin_share: share.held_within(-Ratio::ONE, Ratio::ONE),
            word: self.word,
        }
    }
}

impl Memory {
    /// Whether some life can have led to it.
    #[must_use]
    pub(crate) fn is_possible(&self) -> bool {
        self.out_metres >= 0 && self.back_metres >= 0
    }
}

/// A charge in whole percents.
fn percent_of(soc: Ratio) -> i32 {
    narrow(i64::from(soc.to_bits()).wrapping_mul(100) >> Ratio::FRACTION_BITS)
}

/// What a climb of so many eighths of a metre takes from the pack, in whole joules; a descent gives as
/// much. Nothing where the height is not known.
pub(super) fn work_joules(eighths: Option<i32>, board: &Board) -> i32 {
    let vehicle = board.vehicle();
    let weight = i64::from(vehicle.mass.scaled(GRAVITY).to_bits());
    let efficiency = i64::from(vehicle.drivetrain_efficiency.to_bits());
    eighths.map_or(0, |eighths| {
        // Newtons with 16 fraction bits times eighths of a metre: 19 of joules.
        let work = weight.wrapping_mul(i64::from(eighths)) >> 19;
        divide(work, efficiency, Ratio::FRACTION_BITS)
    })
}

/// What so many metres take, in whole joules.
fn over(per_metre: Joules, metres: i32) -> i32 {
    narrow((per_metre.to_bits() >> 16).wrapping_mul(i64::from(metres)) >> 16)
}

/// The whole part of a number with 32 fraction bits.
fn whole(bits: i64) -> i32 {
    narrow(bits.saturating_add(1 << 31) >> 32)
}

/// A whole number scaled.
fn scaled(number: i32, by: Ratio) -> i32 {
    crate::math::scale::<{ Ratio::FRACTION_BITS }>(number, by.to_bits())
}

#[cfg(test)]
mod tests;
