//! Turns a voltage and its doubts into what it says about charge.
//!
//! Asked by `charge` at the first word and at rests; asks the cell's curve.

use super::ledger::Evidence;
use crate::board::Board;
use crate::cell::RestingCurveAt;
use crate::math::{divide, root};
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

fn square(volts: Volts) -> i64 {
    i64::from(volts.to_bits()).wrapping_mul(i64::from(volts.to_bits()))
}

/// What `reading` says about charge.
///
/// The doubt in volts is carried over to charge by looking up both ends of it, at one sigma and at
/// two, not by a slope: at the edge of a plateau a slope would promise what the next millivolt
/// takes away. What reaches furthest for its sigma counts.
#[must_use]
pub(crate) fn evidence(reading: &Reading, curve: &RestingCurveAt<'_>, board: &Board) -> Evidence {
    let voltmeter = reading.resting.scaled(board.sensors().voltage_gain_error);
    let curve_doubt = board.cell().curve_doubt;
    let common = Volts::from_bits(root(square(voltmeter).saturating_add(square(curve_doubt))));
    // A curve is wrong in two ways: as a whole, and here otherwise than there.
    let noise = Volts::from_bits(root(square(reading.noise).saturating_add(square(curve_doubt))));
    let doubt = root(
        square(common)
            .saturating_add(square(reading.relaxation_doubt))
            .saturating_add(square(noise)),
    );
    // A voltmeter without doubt would divide by nothing.
    let doubt = Volts::from_bits(doubt.max(1));
    let soc = curve.soc(reading.resting);
    let reach = |doubt: Volts| {
        let (low, high) = (curve.soc(reading.resting - doubt), curve.soc(reading.resting + doubt));
        (soc - low).max(high - soc)
    };
    let at_two = Ratio::from_bits(reach(doubt + doubt).to_bits() >> 1);
    let half_width = reach(doubt).max(at_two).max(Ratio::from_bits(1));
    let share = |part: Volts| {
        let of_doubt =
            divide(i64::from(part.to_bits()), i64::from(doubt.to_bits()), Ratio::FRACTION_BITS);
        half_width.scaled(Ratio::from_bits(of_doubt))
    };
    Evidence {
        soc,
        voltage: share(common),
        relaxation: share(reading.relaxation_doubt),
        noise: share(noise),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::board::tests::described;
    use crate::cell::published::PRADA_2013;
    use crate::units::Celsius;

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
        let sigma = Ledger::of(&said, Ratio::ZERO).sigma();
        assert!(sigma > Ratio::from_percent(10), "{sigma}");
    }

    #[test]
    fn a_steep_curve_says_much() {
        let board = Board::new(described()).unwrap();
        let curve = board.cell().resting.at(Celsius::from_whole(25));
        let said = evidence(&reading(3751), &curve, &board);
        assert!((said.soc.to_f64() - 0.5).abs() < 0.005, "{}", said.soc);
        let sigma = Ledger::of(&said, Ratio::ZERO).sigma();
        assert!(sigma < Ratio::from_percent(3), "{sigma}");
    }

    use super::super::ledger::Ledger;
}
