//! Turns a voltage and its doubts into what it says about charge.
//!
//! Asked by `charge` at the first word and at rests; asks the cell's curve. It takes some ten thousand
//! instructions on a core without a divider, and so is done in steps.

use super::corrections::exceeds;
use super::ledger::Evidence;
use crate::board::Board;
use crate::cell::RestingCurveAt;
use crate::math::{difference, divide, root, square, sum};
use crate::units::{Ratio, Volts};

/// A voltage of one cell that is believed to be its resting voltage, with one sigma of each doubt.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(crate) struct Reading {
    /// What the cell is believed to rest at.
    pub(crate) resting: Volts,
    /// How far the guess at the relaxation may be off, signed as the relaxation.
    pub(crate) relaxation_doubt: Volts,
    /// What is new each time: noise, steps of the sensor, an unknown past.
    pub(crate) noise: Volts,
}

/// Of what is common to all readings, of the relaxation, of what is new.
fn variances(reading: &Reading, board: &Board) -> [i64; 3] {
    let voltmeter = reading.resting.scaled(board.sensors().voltage_gain_error);
    let curve = square(board.cell().curve_doubt.to_bits());
    // A curve is wrong in two ways: as a whole, and here otherwise than there.
    [
        sum(square(voltmeter.to_bits()), curve),
        square(reading.relaxation_doubt.to_bits()),
        sum(square(reading.noise.to_bits()), curve),
    ]
}

/// One sigma of each doubt in a reading, and of all together.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(crate) struct Doubts {
    common: Volts,
    relaxation: Volts,
    noise: Volts,
    all: Volts,
}

impl Doubts {
    fn of(reading: &Reading, board: &Board) -> Self {
        let [common, relaxation, noise] = variances(reading, board);
        let all = sum(sum(common, relaxation), noise);
        let volts = |square| Volts::from_bits(root(square));
        Self {
            common: volts(common),
            relaxation: reading.relaxation_doubt,
            noise: volts(noise),
            // A voltmeter without doubt would divide by nothing.
            all: volts(all).max(Volts::from_bits(1)),
        }
    }
}

/// How far a reading stands from the voltage that a charge promises, and the variance of both.
///
/// In volts, not in charge: a charged pack may stand on a plateau, where its voltage could be many a
/// charge's, but not that of the charge that was believed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(crate) struct Surprise {
    off: Volts,
    variance: i64,
}

impl Surprise {
    /// Of a charge that was believed to within a `sigma`.
    #[inline(never)]
    pub(crate) fn of(
        reading: &Reading,
        (soc, sigma): (Ratio, Ratio),
        curve: &RestingCurveAt<'_>,
        board: &Board,
    ) -> Self {
        let promised = curve.voltage(soc);
        let off = reading.resting - promised;
        let side = if off < Volts::ZERO { -sigma } else { sigma };
        let reach = curve.voltage((soc + side).held_within(Ratio::ZERO, Ratio::ONE)) - promised;
        let of_reading = variances(reading, board);
        Self { off, variance: of_reading.into_iter().fold(square(reach.to_bits()), sum) }
    }

    /// Whether the reading is higher than promised.
    pub(crate) fn is_upwards(&self) -> bool {
        self.off > Volts::ZERO
    }

    /// Whether it is further off than so many halves of a sigma.
    pub(crate) fn exceeds_halves(&self, halves: i32) -> bool {
        exceeds(self.off.to_bits().saturating_mul(2), self.variance, halves)
    }
}

/// Where the curve is looked up beside the reading, in sigma of all its doubts, and the weight of
/// what is found there as a shift: 1/4 and 1/16, which leaves 3/8 for the reading itself.
const POINTS: [(i32, u32); 4] = [(-1, 2), (1, 2), (-2, 4), (2, 4)];

/// Mean and mean square of what the points are away from the reading in charge.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub(crate) struct Moments {
    mean: Ratio,
    square: i64,
}

impl Moments {
    fn with(self, away: Ratio, weight: u32) -> Self {
        let part = away.to_bits().checked_shr(weight).unwrap_or(0);
        let squared = square(away.to_bits()).checked_shr(weight).unwrap_or(0);
        Self { mean: self.mean + Ratio::from_bits(part), square: sum(self.square, squared) }
    }

    fn sigma(&self) -> Ratio {
        let variance = difference(self.square, square(self.mean.to_bits()));
        Ratio::from_bits(root(variance).max(1))
    }
}

/// How far a reading has been worked out; each step is small enough for one tick.
///
/// The doubt in volts is carried over to charge by looking up what lies one and two sigma beside the
/// reading, with the weights of four coins: their mean and their spread are those of a bell curve
/// wherever the resting curve is straight. At the edge of a plateau a slope would promise what the
/// next millivolt takes away; here the plateau draws the mean towards its middle.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(crate) enum Weighing {
    /// Nothing yet.
    Begun(Reading),
    /// Its doubts and the charge that it speaks for are known.
    Reaching {
        resting: Volts,
        doubts: Doubts,
        soc: Ratio,
        moments: Moments,
        /// How many of [`POINTS`] have been looked up.
        looked_up: u8,
    },
    /// Worked out.
    Weighed(Evidence),
}

impl Weighing {
    /// One step further.
    #[must_use]
    pub(crate) fn further(self, curve: &RestingCurveAt<'_>, board: &Board) -> Self {
        match self {
            Self::Begun(reading) => {
                let doubts = Doubts::of(&reading, board);
                let (resting, soc) = (reading.resting, curve.soc(reading.resting));
                Self::Reaching { resting, doubts, soc, moments: Moments::default(), looked_up: 0 }
            }
            Self::Reaching { resting, doubts, soc, moments, looked_up } => {
                let Some(&(sigmas, weight)) = POINTS.get(usize::from(looked_up)) else {
                    return Self::Weighed(weighed(&doubts, soc + moments.mean, moments.sigma()));
                };
                let beside = Volts::from_bits(doubts.all.to_bits().saturating_mul(sigmas));
                let moments = moments.with(curve.soc(resting + beside) - soc, weight);
                let looked_up = looked_up.saturating_add(1);
                Self::Reaching { resting, doubts, soc, moments, looked_up }
            }
            Self::Weighed(_) => self,
        }
    }
}

/// One sigma of all doubts in charge, shared out over them.
fn weighed(doubts: &Doubts, soc: Ratio, sigma: Ratio) -> Evidence {
    let all = i64::from(doubts.all.to_bits());
    let share = |part: Volts| {
        let of_doubt = divide(i64::from(part.to_bits()), all, Ratio::FRACTION_BITS);
        sigma.scaled(Ratio::from_bits(of_doubt))
    };
    Evidence {
        soc,
        voltage: share(doubts.common),
        relaxation: share(doubts.relaxation),
        noise: share(doubts.noise),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::board::tests::described;
    use crate::cell::published::PRADA_2013;
    use crate::units::Celsius;

    fn evidence(reading: &Reading, curve: &RestingCurveAt<'_>, board: &Board) -> Evidence {
        let mut weighing = Weighing::Begun(*reading);
        loop {
            if let Weighing::Weighed(said) = weighing {
                return said;
            }
            weighing = weighing.further(curve, board);
        }
    }

    fn reading(millivolts: i32) -> Reading {
        Reading {
            resting: Volts::from_milli(millivolts),
            relaxation_doubt: Volts::ZERO,
            noise: Volts::from_milli(2),
        }
    }

    #[test]
    fn a_plateau_says_little() {
        let board = Board::new(described()).unwrap();
        let iron = PRADA_2013.resting_curve().unwrap();
        let said = evidence(&reading(3268), &iron.at(Celsius::from_whole(25)), &board);
        let sigma = Ledger::of(&said).sigma();
        assert!(sigma > Ratio::from_percent(10), "{sigma}");
    }

    #[test]
    fn a_steep_curve_says_much() {
        let board = Board::new(described()).unwrap();
        let curve = board.cell().resting.at(Celsius::from_whole(25));
        let said = evidence(&reading(3751), &curve, &board);
        assert!((said.soc.to_f64() - 0.5).abs() < 0.005, "{}", said.soc);
        let sigma = Ledger::of(&said).sigma();
        assert!(sigma < Ratio::from_percent(3), "{sigma}");
    }

    use super::super::ledger::Ledger;
}
