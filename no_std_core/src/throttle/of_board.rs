//! The limits of a board: the usual ones, with what this pack and this cell say in their place.
//!
//! Used by whoever builds [`super::Settings`]; asks the board.

use super::hard::Latch;
use super::{Band, Calibration, Error, LimitSettings, Parts, Settings};
use crate::board::Board;
use crate::units::{Amperes, MetresPerSecond, MetresPerSecondSquared, Ratio};

/// The share of the stop voltage where all drive goes at once: the slow limit has taken it
/// before, unless the pack fell faster than telemetry could tell.
const STOP_AT: Ratio = Ratio::from_percent(96);

/// Braking goes to its floor this far over the voltage of the full pack, and comes back this far
/// under it. 1.2 % of 4.2 V is 4.25 V, the upper limit of IEC 62133-2 annex A (from memory).
const OVER_AT: Ratio = Ratio::from_fraction(1012, 1000);
const BACK_AT: Ratio = Ratio::from_percent(99);

/// Drive folds back over the last of the speed.
const SPEED_BAND: MetresPerSecond = MetresPerSecond::from_milli(800);

/// A pack whose two voltages lie closer is given a band of this much of the lower one: a limit
/// without width would be a switch.
const NARROWEST_SAG: Ratio = Ratio::from_percent(1);

impl LimitSettings {
    /// The limits that `board` sets, with the usual ones ([`Self::standard`]) where it says
    /// nothing, and drive folding back before `top_speed`.
    #[must_use]
    pub fn of_board(board: &Board, top_speed: MetresPerSecond) -> Self {
        let (cell, pack) = (board.cell(), board.pack());
        let discharge = Amperes::from_bits(
            cell.max_discharge.to_bits().saturating_mul(i32::from(pack.parallel)),
        );
        let full = cell.highest.times(pack.series);
        let least_soften = pack.stop_below + pack.stop_below.scaled(NARROWEST_SAG);
        let soften = pack.soften_below.max(least_soften);
        Self {
            sagging: Band { begin: soften, end: pack.stop_below },
            stop_voltage: Latch { trip: pack.stop_below.scaled(STOP_AT), release: soften },
            over_voltage: Latch { trip: full.scaled(OVER_AT), release: full.scaled(BACK_AT) },
            top_speed: Band { begin: top_speed - SPEED_BAND, end: top_speed },
            ..Self::standard(pack.series, discharge)
        }
    }
}

impl Settings {
    /// The usual settings for a calibrated thumb on `board`, which does `full_current_acceleration`
    /// at the greatest motor current and is to go no faster than `top_speed`.
    ///
    /// # Errors
    /// As [`Self::new`].
    pub fn of_board(
        calibration: Calibration,
        board: &Board,
        top_speed: MetresPerSecond,
        full_current_acceleration: MetresPerSecondSquared,
    ) -> Result<Self, Error> {
        let limits = LimitSettings::of_board(board, top_speed);
        let discharge = limits.discharge_current.end;
        let series = board.pack().series;
        let usual = Self::standard(calibration, series, discharge, full_current_acceleration)?;
        Self::new(Parts { limits, ..*usual.parts() })
    }
}
