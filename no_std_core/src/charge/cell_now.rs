//! One cell as the newest frame shows it.
//!
//! Made by `charge` from each frame; asked by `corrections`.

use super::evidence::{self, Reading};
use super::ledger::Evidence;
use super::relaxation;
use super::rest::Sample;
use crate::board::Board;
use crate::cell::Pulse;
use crate::units::{Amperes, Celsius, Ratio, Volts};

/// One sigma of a first voltage, whatever the pack did before: nobody has seen. After a minute at
/// 2C and one of rest the published cells stand 5 to 65 mV from their resting voltage, a pack
/// that was put away stands at it; most rides begin with the latter. Of 12 and 25 mV the smaller one
/// errs less in every group that `homestretch-checks accuracy` prints.
const UNKNOWN_PAST: Volts = Volts::from_milli(12);

/// One cell as it was just measured.
pub(super) struct CellNow {
    pub(super) volts: Volts,
    pub(super) current: Amperes,
    pub(super) temperature: Celsius,
}

impl CellNow {
    /// Its voltage with the quick part of the drop under its current taken off.
    pub(super) fn without_drop(&self, soc: Ratio, board: &Board) -> Volts {
        self.volts
            + self.current * board.cell().resistance.ohms(soc, self.temperature, Pulse::OneSecond)
    }

    /// What a rest's window is filled with: its voltage, and what recent load left behind.
    pub(super) fn sample(&self, soc: Ratio, mean_current: Amperes, board: &Board) -> Sample {
        let resistance = &board.cell().resistance;
        let drop = mean_current * resistance.ohms(soc, self.temperature, Pulse::TenSeconds);
        let strain = drop.scaled(relaxation::slowness(self.temperature));
        Sample { volts: self.without_drop(soc, board), strain }
    }

    /// What its voltage says when nothing is known of its past.
    pub(super) fn first_word(&self, board: &Board) -> Evidence {
        // The bare voltage is near enough to look a resistance up by.
        let soc = board.cell().resting.at(self.temperature).soc(self.volts);
        let drop = self.without_drop(soc, board) - self.volts;
        // Half of the drop may be wrong: resistance of an unknown cell at an unknown charge.
        let noise = UNKNOWN_PAST + drop.magnitude().scaled(Ratio::from_percent(50));
        let reading = Reading { resting: self.volts + drop, relaxation_doubt: Volts::ZERO, noise };
        evidence::evidence(&reading, &board.cell().resting.at(self.temperature), board)
    }
}
