//! One cell as the newest frame shows it.
//!
//! Made by `charge` from each frame; asked by `corrections`.

use super::evidence::Reading;
use super::relaxation;
use super::rest::Sample;
use crate::board::Board;
use crate::cell::Pulse;
use crate::units::{Amperes, Celsius, Ohms, Ratio, Volts};

/// One sigma of a first voltage, whatever the pack did before: nobody has seen. After a minute at
/// 2C and one of rest the published cells stand 5 to 65 mV from their resting voltage, a pack
/// that was put away stands at it; most rides begin with the latter. Of 12 and 25 mV the smaller one
/// errs less in every group that `homestretch-checks accuracy` prints.
const UNKNOWN_PAST: Volts = Volts::from_milli(12);

/// What a mean current leaves behind is at most so many times what the resistance grows by from one
/// second to ten, and at most the resistance. Over the one-minute loads in the table of the reference
/// traces, half a minute after, what is left spans a factor of 17 of the resistance (a plateau keeps
/// next to nothing) and of 3 of the growth or of the smaller one, which a cell that relaxes
/// quickly needs: the rides of `homestretch-checks accuracy` chose it.
const OF_GROWTH: Ratio = Ratio::from_percent(560);

/// One cell as it was just measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) struct CellNow {
    pub(super) volts: Volts,
    pub(super) current: Amperes,
    pub(super) temperature: Celsius,
}

/// What a cell at rest has: neither its charge nor its warmth moves much meanwhile.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(super) struct Resistances {
    /// What acts at once.
    quick: Ohms,
    /// What a mean current leaves behind, in the cold more than it measures.
    slow: Ohms,
}

impl Resistances {
    pub(super) fn of(soc: Ratio, temperature: Celsius, board: &Board) -> Self {
        let map = &board.cell().resistance;
        let quick = map.ohms(soc, temperature, Pulse::OneSecond);
        let whole = map.ohms(soc, temperature, Pulse::TenSeconds);
        let slow = (whole - quick).scaled(OF_GROWTH).min(whole);
        let slow = slow.scaled(relaxation::slowness(temperature));
        Self { quick, slow }
    }
}

impl CellNow {
    /// Its voltage with the quick part of the drop under its current taken off.
    pub(super) fn without_drop(&self, soc: Ratio, board: &Board) -> Volts {
        self.volts
            + self.current * board.cell().resistance.ohms(soc, self.temperature, Pulse::OneSecond)
    }

    /// What a rest's window is filled with: its voltage, and what recent load left behind.
    pub(super) fn sample(&self, mean_current: Amperes, at_rest: Resistances) -> Sample {
        let volts = self.volts + self.current * at_rest.quick;
        Sample { volts, strain: mean_current * at_rest.slow }
    }

    /// What its voltage says when nothing is known of its past.
    pub(super) fn first_word(&self, board: &Board) -> Reading {
        // The bare voltage is near enough to look a resistance up by.
        let soc = board.cell().resting.at(self.temperature).soc(self.volts);
        let drop = self.without_drop(soc, board) - self.volts;
        // Half of the drop may be wrong: resistance of an unknown cell at an unknown charge.
        let noise = UNKNOWN_PAST + drop.magnitude().scaled(Ratio::from_percent(50));
        Reading { resting: self.volts + drop, relaxation_doubt: Volts::ZERO, noise }
    }
}
