//! What was built, as plain data that has been checked once, so that every room can trust it.
//!
//! A [`Description`] is what a builder says; [`Board::new`] checks all of it and reports *all*
//! faults at once, each with its quantity, the value given and what is allowed. Everything after
//! takes a `&Board`.

mod description;
mod fault;
mod quantity;

pub use description::{Cell, Description, Pack, Sensors, Vehicle};
pub use fault::{Fault, Faults};
pub use quantity::{Bounds, Quantity};

use crate::math::divide;
use crate::units::{Amperes, Celsius, Coulombs, Joules, Ratio, Volts};

/// Rests within this of an end of the curve count as that end: a table's last digit.
const CURVE_END_TOLERANCE: Volts = Volts::from_milli(2);

/// A checked board, with what the hot paths need prepared. Cannot be made from a bad description.
#[derive(Clone, Debug, PartialEq)]
pub struct Board {
    described: Description,
    prior_consumption: Joules,
}

impl Board {
    /// The board that `described` tells of. The cell's tables are cut to the part between its
    /// lowest and highest voltage, so that charge 0 rests at the one and 1 at the other (25 °C).
    ///
    /// # Errors
    /// All faults of the description, in the order of its fields.
    #[allow(
        clippy::result_large_err,
        reason = "a board is larger still, and without an allocator all its faults have no other place"
    )]
    pub fn new(mut described: Description) -> Result<Self, Faults> {
        let mut faults = Faults::default();
        described.check(&mut faults);
        if !faults.is_empty() {
            return Err(faults);
        }
        let (low, high) = ends(&described.cell, &mut faults);
        if !faults.is_empty() {
            return Err(faults);
        }
        described.cell.resting = described.cell.resting.trimmed(low, high);
        described.cell.resistance = described.cell.resistance.trimmed(low, high);
        let prior_consumption = described.vehicle.consumption();
        Ok(Self { described, prior_consumption })
    }

    /// The cell.
    #[must_use]
    pub const fn cell(&self) -> &Cell {
        &self.described.cell
    }

    /// The pack.
    #[must_use]
    pub const fn pack(&self) -> &Pack {
        &self.described.pack
    }

    /// The vehicle.
    #[must_use]
    pub const fn vehicle(&self) -> &Vehicle {
        &self.described.vehicle
    }

    /// How far the measurements may be off.
    #[must_use]
    pub const fn sensors(&self) -> &Sensors {
        &self.described.sensors
    }

    /// The cell temperature to go by where none is measured.
    #[must_use]
    pub const fn assumed_temperature(&self) -> Celsius {
        self.described.assumed_temperature
    }

    /// Charge of the whole pack when new.
    #[must_use]
    pub fn pack_capacity(&self) -> Coulombs {
        let parallel = i64::from(self.described.pack.parallel);
        Coulombs::from_bits(self.described.cell.capacity.to_bits().saturating_mul(parallel))
    }

    /// A mark by which a memory knows its pack: alike where cells, their number and their limits are
    /// described alike, another one otherwise but for a chance of one in four thousand million.
    #[must_use]
    pub fn pack_mark(&self) -> u32 {
        let (cell, pack) = (self.cell(), self.pack());
        let mut digest = crate::store::CRC.digest();
        digest.update(&cell.capacity.to_bits().to_le_bytes());
        digest.update(&cell.lowest.to_bits().to_le_bytes());
        digest.update(&cell.highest.to_bits().to_le_bytes());
        digest.update(&[pack.series, pack.parallel]);
        let curve = cell.resting.at(Celsius::from_whole(25));
        for tenth in 0..=10 {
            let volts = curve.voltage(Ratio::from_fraction(tenth, 10));
            digest.update(&volts.to_bits().to_le_bytes());
        }
        digest.finalize()
    }

    /// A pack voltage as that of its mean cell.
    #[must_use]
    pub fn mean_cell(&self, pack_voltage: Volts) -> Volts {
        pack_voltage.per_cell(self.described.pack.series)
    }

    /// A pack current as that of one cell.
    #[must_use]
    pub fn cell_current(&self, pack_current: Amperes) -> Amperes {
        pack_current.per_cell(self.described.pack.parallel)
    }

    /// The current that empties the full pack in `hours`, from 1 to 255.
    #[must_use]
    pub fn current_for_hours(&self, hours: u8) -> Amperes {
        let seconds = i64::from(hours.max(1)).saturating_mul(3600);
        // Coulombs carry 32 fraction bits, amperes 16.
        let sixteenth = self.pack_capacity().to_bits() >> 16;
        Amperes::from_bits(divide(sixteenth, seconds, 0))
    }

    /// Energy per metre before a ride has taught better: as described, or what rolling and air
    /// resistance ask for at 20 km/h on the level through the drivetrain.
    #[must_use]
    pub const fn prior_consumption(&self) -> Joules {
        self.prior_consumption
    }
}

/// The charges of the cell's table at which it rests at its lowest and highest voltage.
fn ends(cell: &Cell, faults: &mut Faults) -> (Ratio, Ratio) {
    let curve = cell.resting.at(Celsius::from_whole(25));
    let mut end = |wanted: Volts, curve_end: Volts, at_end: Ratio, beyond: bool, quantity| {
        if beyond {
            faults.add(Fault::BeyondCurve {
                quantity,
                given: wanted.to_micro(),
                curve_end: curve_end.to_micro(),
            });
        }
        if (wanted - curve_end).magnitude() <= CURVE_END_TOLERANCE {
            at_end
        } else {
            curve.soc(wanted)
        }
    };
    let (bottom, top) = (curve.voltage(Ratio::ZERO), curve.voltage(Ratio::ONE));
    let low_beyond = cell.lowest < bottom - CURVE_END_TOLERANCE;
    let high_beyond = cell.highest > top + CURVE_END_TOLERANCE;
    (
        end(cell.lowest, bottom, Ratio::ZERO, low_beyond, Quantity::CellLowestVoltage),
        end(cell.highest, top, Ratio::ONE, high_beyond, Quantity::CellHighestVoltage),
    )
}

#[cfg(test)]
pub(crate) mod tests;
