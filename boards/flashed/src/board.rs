//! The bundled boards in code, as a firmware has them.
//!
//! A test holds each against its file in `examples/boards/`.

use homestretch::board::{Board, Cell, Description, Pack, Sensors, Vehicle};
use homestretch::cell::published::{CHEN_2020, PRADA_2013, PublishedCell};
use homestretch::throttle::{Calibration, Counts, Settings};
use homestretch::units::{
    Amperes, Celsius, Kilograms, Metres, MetresPerSecond, MetresPerSecondSquared, Ratio, Volts,
};

/// A bundled board.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bundled {
    /// Nickel-rich cells, 11 in series: `examples/boards/lantern.toml`.
    Lantern,
    /// Iron phosphate, 12 in series: `examples/boards/heron.toml`.
    Heron,
}

/// A board that does not build: never one of the bundled ones, as a test sees to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NotABoard;

impl Bundled {
    /// All of them.
    pub const ALL: [Self; 2] = [Self::Lantern, Self::Heron];

    /// Its number in a ride's head.
    #[must_use]
    pub const fn number(self) -> u8 {
        match self {
            Self::Lantern => 1,
            Self::Heron => 2,
        }
    }

    /// Its name, that of its file.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Lantern => "lantern",
            Self::Heron => "heron",
        }
    }

    /// The board.
    ///
    /// # Errors
    /// [`NotABoard`], which a test excludes.
    pub fn board(self) -> Result<Board, NotABoard> {
        match self {
            Self::Lantern => lantern(),
            Self::Heron => heron(),
        }
    }

    /// Thumb, curves and limits on that board.
    ///
    /// # Errors
    /// [`NotABoard`], which a test excludes.
    #[inline(never)]
    pub fn settings(self, board: &Board) -> Result<Settings, NotABoard> {
        // A twelve-bit converter and a slider that uses most of its range.
        let calibration = Calibration::new(Counts {
            full_scale: 4095,
            low: 400,
            centre: 2048,
            high: 3700,
            deadband: 80,
            hysteresis: 20,
            broken_margin: 200,
            reversed: false,
        })
        .map_err(|_| NotABoard)?;
        let (top_speed, full_current, brake_charge) = match self {
            Self::Lantern => (8500, 3500, Some(Amperes::from_whole(24))),
            Self::Heron => (7500, 3200, None),
        };
        let (top_speed, full_current) = (
            MetresPerSecond::from_milli(top_speed),
            MetresPerSecondSquared::from_milli(full_current),
        );
        Settings::of_board_with(calibration, board, (top_speed, full_current), |limits| {
            if let Some(current) = brake_charge {
                limits.brake.charge_current = current;
            }
        })
        .map_err(|_| NotABoard)
    }
}

// Each board is one expression: a board has large tables, and every name it passes through is
// another copy on a small stack. For the same reason nothing here is inlined into its caller.

#[inline(never)]
fn lantern() -> Result<Board, NotABoard> {
    Board::new(Description {
        cell: Cell {
            max_discharge: Amperes::from_whole(15),
            max_charge: Amperes::from_whole(5),
            ..published(&CHEN_2020)?
        },
        pack: Pack {
            series: 11,
            parallel: 2,
            soften_below: Volts::from_whole(35),
            stop_below: Volts::from_whole(33),
            discharge_through_protection: false,
            spread: Pack::SPREAD,
        },
        vehicle: Vehicle {
            mass: Kilograms::from_whole(88),
            wheel_diameter: Metres::from_milli(100),
            rolling_resistance: Ratio::from_fraction(17, 1000),
            drag_area_m2: Ratio::from_percent(55),
            drivetrain_efficiency: Ratio::from_percent(80),
            consumption_per_metre: None,
        },
        sensors: Sensors::TYPICAL,
        assumed_temperature: Celsius::from_whole(20),
    })
    .map_err(|_| NotABoard)
}

#[inline(never)]
fn heron() -> Result<Board, NotABoard> {
    Board::new(Description {
        cell: Cell {
            max_discharge: Amperes::from_whole(12),
            max_charge: Amperes::from_whole(4),
            ..published(&PRADA_2013)?
        },
        pack: Pack {
            series: 12,
            parallel: 6,
            soften_below: Volts::from_milli(35_500),
            stop_below: Volts::from_milli(33_600),
            discharge_through_protection: true,
            spread: Pack::SPREAD,
        },
        vehicle: Vehicle {
            mass: Kilograms::from_whole(96),
            wheel_diameter: Metres::from_milli(190),
            rolling_resistance: Ratio::from_fraction(19, 1000),
            drag_area_m2: Ratio::from_percent(58),
            drivetrain_efficiency: Ratio::from_percent(76),
            consumption_per_metre: None,
        },
        sensors: Sensors::TYPICAL,
        assumed_temperature: Celsius::from_whole(18),
    })
    .map_err(|_| NotABoard)
}

/// A published cell that nobody has asked for a current yet.
#[inline(never)]
fn published(cell: &PublishedCell) -> Result<Cell, NotABoard> {
    Ok(Cell {
        capacity: cell.capacity(),
        lowest: Volts::from_milli(cell.lowest_mv),
        highest: Volts::from_milli(cell.highest_mv),
        resting: cell.resting_curve().map_err(|_| NotABoard)?,
        resistance: cell.resistance_map().map_err(|_| NotABoard)?,
        max_discharge: Amperes::ZERO,
        max_charge: Amperes::ZERO,
        curve_doubt: Cell::CURVE_DOUBT,
    })
}
