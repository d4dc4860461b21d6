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

use core::ops::RangeInclusive;

use crate::math::{divide, narrow, scale};
use crate::units::{Amperes, Celsius, Coulombs, Joules, Ratio, Volts};

/// Rests within this of an end of the curve count as that end: a table's last digit.
const CURVE_END_TOLERANCE: Volts = Volts::from_milli(2);

/// A checked board, with what the hot paths need prepared. Cannot be made from a bad description.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Board {
    described: Description,
    prior_consumption: Joules,
    /// 2^30 over the numbers of cells in series and in parallel: a tick does not divide.
    per_series: i32,
    per_parallel: i32,
    possible: Possible,
}

/// What measurements of this board can be true.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub(crate) struct Possible {
    pub(crate) cell_voltage: RangeInclusive<Volts>,
    pub(crate) pack_voltage: RangeInclusive<Volts>,
    /// Of either sign.
    pub(crate) pack_current: Amperes,
    /// What all cells together may give.
    pub(crate) discharge: Amperes,
    /// And take.
    pub(crate) charge: Amperes,
}

impl Possible {
    fn of(described: &Description) -> Self {
        /// Under this a lithium cell is not sagging but broken or not there. Common practice, no source.
        const DEAD_CELL: Volts = Volts::from_whole(1);
        /// No cell stands this far over its highest voltage without having caught fire.
        const TOO_HIGH: Ratio = Ratio::from_percent(115);
        let (cell, pack) = (&described.cell, &described.pack);
        let too_high = cell.highest.scaled(TOO_HIGH);
        let of_pack = |cell: Amperes| {
            Amperes::from_bits(cell.to_bits().saturating_mul(i32::from(pack.parallel)))
        };
        Self {
            cell_voltage: DEAD_CELL..=too_high,
            pack_voltage: DEAD_CELL.times(pack.series)..=too_high.times(pack.series),
            pack_current: of_pack(cell.max_discharge.scaled(Ratio::from_whole(3))),
            discharge: of_pack(cell.max_discharge),
            charge: of_pack(cell.max_charge),
        }
    }
}

const COUNT_BITS: u32 = 30;

/// 2^30 over a number of cells, rounded up, so that whole multiples come out whole; none counts as
/// one.
fn reciprocal(count: u8) -> i32 {
    let count = i64::from(count.max(1));
    let all = 1_i64 << COUNT_BITS;
    narrow(all.saturating_add(count.saturating_sub(1)).checked_div(count).unwrap_or(all))
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
    #[inline(never)]
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
        described.cell.resting.trim(low, high);
        described.cell.resistance.trim(low, high);
        let prior_consumption = described.vehicle.consumption();
        let (series, parallel) = (described.pack.series, described.pack.parallel);
        let possible = Possible::of(&described);
        Ok(Self {
            described,
            prior_consumption,
            possible,
            per_series: reciprocal(series),
            per_parallel: reciprocal(parallel),
        })
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

    /// What measurements of it can be true.
    pub(crate) const fn possible(&self) -> &Possible {
        &self.possible
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

    /// A pack voltage as that of its mean cell, rounded down.
    #[must_use]
    pub fn mean_cell(&self, pack_voltage: Volts) -> Volts {
        Volts::from_bits(scale::<COUNT_BITS>(pack_voltage.to_bits(), self.per_series))
    }

    /// A pack current as that of one cell, rounded down.
    #[must_use]
    pub fn cell_current(&self, pack_current: Amperes) -> Amperes {
        Amperes::from_bits(scale::<COUNT_BITS>(pack_current.to_bits(), self.per_parallel))
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
