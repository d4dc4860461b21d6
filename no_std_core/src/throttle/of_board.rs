//! The limits of a board: the usual ones, with what this pack and this cell say in their place.
//!
//! Used by whoever builds [`super::Settings`]; asks the board.

use super::hard::Latch;
use super::limit_settings::Usual;
use super::stopping::BrakeSettings;
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

/// Charging falls to nothing between these two, over the voltage of the full pack: from a little under
/// it, so that a brake near full is gone before the hard limit would take it.
const CHARGES_UP_TO: Band<Ratio> =
    Band { begin: Ratio::from_fraction(988, 1000), end: Ratio::from_fraction(1012, 1000) };

/// The taper begins at half of the top speed.
const TAPER_FROM: Ratio = Ratio::from_percent(50);

/// 9.80665 m/s², standard gravity.
const GRAVITY: MetresPerSecondSquared = MetresPerSecondSquared::from_fraction(980_665, 100_000);

/// The least current that a brake may charge with: a board that takes none at all says so by its
/// temperature and its charge.
const LEAST_CHARGE: Amperes = Amperes::from_milli(100);

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
        let of_pack = |cell: Amperes| {
            Amperes::from_bits(cell.to_bits().saturating_mul(i32::from(pack.parallel)))
        };
        let (discharge, charge) = (of_pack(cell.max_discharge), of_pack(cell.max_charge));
        let full = cell.highest.times(pack.series);
        let soften = pack.soften_below.max(pack.stop_below + NARROWEST);
        let stop_trip = pack.stop_below.scaled(STOP_AT).min(pack.stop_below - NARROWEST);
        let over_trip = full.scaled(OVER_AT).max(soften + NARROWEST);
        let most_current =
            discharge.held_within(NARROWEST_CURRENT + NARROWEST_CURRENT, MOST_CURRENT);
        let usual = Self::standard(&Usual {
            series: pack.series,
            greatest_discharge: most_current,
            greatest_charge: charge.held_within(LEAST_CHARGE, MOST_CURRENT),
            mass: board.vehicle().mass,
        });
        let near_full = full.scaled(CHARGES_UP_TO.begin);
        let begin = usual.discharge_current.begin.min(most_current - NARROWEST_CURRENT);
        Self {
            sagging: Band { begin: soften, end: pack.stop_below },
            discharge_current: Band { begin, end: most_current },
            stop_voltage: Latch { trip: stop_trip, release: soften },
            over_voltage: Latch {
                trip: over_trip,
                release: full.scaled(BACK_AT).min(over_trip - NARROWEST),
            },
            near_full_voltage: Band {
                begin: near_full,
                end: full.scaled(CHARGES_UP_TO.end).max(near_full + NARROWEST),
            },
            top_speed: Band { begin: top_speed - SPEED_BAND, end: top_speed },
            taper: Band { begin: top_speed.scaled(TAPER_FROM), end: top_speed },
            brake: BrakeSettings {
                beside_motors: GRAVITY.scaled(board.vehicle().rolling_resistance),
                ..usual.brake
            },
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
        Self::of_board_with(calibration, board, (top_speed, full_current_acceleration), |_| ())
    }

    /// The same for a top speed and a full-current acceleration, with limits that the builder has
    /// `changed`.
    ///
    /// # Errors
    /// As [`Self::new`].
    pub fn of_board_with(
        calibration: Calibration,
        board: &Board,
        (top_speed, full_current_acceleration): (MetresPerSecond, MetresPerSecondSquared),
        changed: impl FnOnce(&mut LimitSettings),
    ) -> Result<Self, Error> {
        let mut limits = LimitSettings::of_board(board, top_speed);
        changed(&mut limits);
        // Any current that passes: the limits made with it are replaced.
        let any = Usual {
            series: board.pack().series,
            greatest_discharge: MOST_CURRENT,
            greatest_charge: MOST_CURRENT,
            mass: board.vehicle().mass,
        };
        let usual = Self::standard(calibration, &any, full_current_acceleration)?;
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
