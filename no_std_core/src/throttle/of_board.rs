//! The limits of a board: the usual ones, with what this pack and this cell say in their place.
//!
//! Used by whoever builds [`super::Settings`]; asks the board.

use super::hard::Latch;
use super::{Band, Calibration, Error, LimitSettings, Parts, Settings};
use crate::board::Board;
use crate::units::{Amperes, MetresPerSecond, MetresPerSecondSquared, Ratio, Volts};

/// The share of the stop voltage where all drive goes at once: the slow limit has taken it
/// before, unless the pack fell faster than telemetry could tell.
const STOP_AT: Ratio = Ratio::from_percent(96);

/// Braking goes to its floor this far over the voltage of the full pack, and comes back this far
/// under it. 1.2 % of 4.2 V is 4.25 V, the upper limit of IEC 62133-2 annex A (from memory).
const OVER_AT: Ratio = Ratio::from_fraction(1012, 1000);
const BACK_AT: Ratio = Ratio::from_percent(99);

/// Drive folds back over the last of the speed.
const SPEED_BAND: MetresPerSecond = MetresPerSecond::from_milli(800);

/// Voltages of a limit that lie closer are moved apart by this much, to the safe side: a limit
/// without width would be a switch. It matters for a cell or two in series.
const NARROWEST: Volts = Volts::from_milli(110);

/// The same for currents.
const NARROWEST_CURRENT: Amperes = Amperes::from_milli(550);

/// A pack that may give more than this is limited as if it gave this much: far beyond what a
/// small vehicle's wires and motors bear.
const MOST_CURRENT: Amperes = Amperes::from_whole(2000);

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
        let soften = pack.soften_below.max(pack.stop_below + NARROWEST);
        let stop_trip = pack.stop_below.scaled(STOP_AT).min(pack.stop_below - NARROWEST);
        let over_trip = full.scaled(OVER_AT).max(soften + NARROWEST);
        let most_current =
            discharge.held_within(NARROWEST_CURRENT + NARROWEST_CURRENT, MOST_CURRENT);
        let usual = Self::standard(pack.series, most_current);
        let begin = usual.discharge_current.begin.min(most_current - NARROWEST_CURRENT);
        Self {
            sagging: Band { begin: soften, end: pack.stop_below },
            discharge_current: Band { begin, end: most_current },
            stop_voltage: Latch { trip: stop_trip, release: soften },
            over_voltage: Latch {
                trip: over_trip,
                release: full.scaled(BACK_AT).min(over_trip - NARROWEST),
            },
            top_speed: Band { begin: top_speed - SPEED_BAND, end: top_speed },
            ..usual
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
        // Any current that passes: the limits made with it are replaced.
        let usual = Self::standard(
            calibration,
            board.pack().series,
            MOST_CURRENT,
            full_current_acceleration,
        )?;
        Self::new(Parts { limits, ..*usual.parts() })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::board::tests::described;
    use crate::throttle::Counts;
    use proptest::prelude::*;

    const COUNTS: Counts = Counts {
        full_scale: 4095,
        low: 400,
        centre: 2048,
        high: 3700,
        deadband: 80,
        hysteresis: 20,
        broken_margin: 200,
        reversed: false,
    };

    proptest! {
        #[test]
        fn law_every_board_that_is_accepted_has_limits(
            series in 1_u8..=60, parallel in 1_u8..=200, stop in 2250_i32..4100, above in 1_i32..1000,
            discharge in 10_i32..2_000_000, top_speed in 1000_i32..40_000, full in 100_i32..10_000,
        ) {
            let mut any = described();
            any.pack.series = series;
            any.pack.parallel = parallel;
            any.pack.stop_below = Volts::from_milli(stop).times(series);
            any.pack.soften_below = Volts::from_milli((stop + above).min(4200)).times(series);
            any.cell.max_discharge = Amperes::from_milli(discharge);
            let Ok(board) = Board::new(any) else { return Ok(()) };
            let calibration = Calibration::new(COUNTS).unwrap();
            let made = Settings::of_board(
                calibration,
                &board,
                MetresPerSecond::from_milli(top_speed),
                MetresPerSecondSquared::from_milli(full),
            );
            prop_assert!(made.is_ok(), "{:?}", made);
        }
    }
}
