//! What a builder says of a board, and the check of it.

use super::{Fault, Faults, Quantity};
use crate::cell::{ResistanceMap, RestingCurve};
use crate::math::divide;
use crate::units::{Amperes, Celsius, Coulombs, Joules, Kilograms, Metres, Ratio, Volts};

/// A board as its builder describes it. Plain data: [`super::Board::new`] checks it.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Description {
    /// One cell.
    pub cell: Cell,
    /// How the cells are joined, and the voltages that protect them.
    pub pack: Pack,
    /// What the pack moves.
    pub vehicle: Vehicle,
    /// How far the measurements may be off.
    pub sensors: Sensors,
    /// Cell temperature to go by where none is measured.
    pub assumed_temperature: Celsius,
}

/// One cell.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Cell {
    /// Charge between the two voltages when new, drawn slowly.
    pub capacity: Coulombs,
    /// Resting voltage of an empty cell.
    pub lowest: Volts,
    /// Resting voltage of a full cell.
    pub highest: Volts,
    /// Voltage at rest by charge and temperature.
    pub resting: RestingCurve,
    /// Resistance by charge and temperature.
    pub resistance: ResistanceMap,
    /// Greatest current out of one cell.
    pub max_discharge: Amperes,
    /// Greatest current into one cell.
    pub max_charge: Amperes,
    /// How far the curve may be off for these very cells, one sigma.
    pub curve_doubt: Volts,
}

impl Cell {
    /// The default of `curve_doubt`: two published descriptions of one and the same cell differ
    /// by up to 72 mV in mid-charge, a curve measured on the cells themselves by a few. 8 mV is
    /// what a year of use does to a good curve; common practice, no source.
    pub const CURVE_DOUBT: Volts = Volts::from_milli(8);
}

/// How the cells are joined, and the voltages that protect them.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Pack {
    /// Groups in series.
    pub series: u8,
    /// Cells in a group.
    pub parallel: u8,
    /// Pack voltage under load where power starts to fold back.
    pub soften_below: Volts,
    /// Pack voltage under load where no drive is left.
    pub stop_below: Volts,
    /// Whether the discharge current goes through the protection board. Where it does not, the
    /// two voltages above and the motor controller's own cutoff are all that stands between a
    /// rider and an over-discharged cell.
    pub discharge_through_protection: bool,
    /// How much less the weakest group may hold than the mean one.
    pub spread: Ratio,
}

impl Pack {
    /// The default of `spread`. Common practice, no source: cells of one batch within 1 %, and
    /// as much again for the warmth in the middle of a pack over its years.
    pub const SPREAD: Ratio = Ratio::from_percent(2);
}

/// What the pack moves. The three resistances are priors: rides teach better ones.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Vehicle {
    /// Mass with rider.
    pub mass: Kilograms,
    /// Wheel diameter.
    pub wheel_diameter: Metres,
    /// Rolling resistance as a share of the weight.
    pub rolling_resistance: Ratio,
    /// Drag coefficient times frontal area, in square metres.
    pub drag_area_m2: Ratio,
    /// Share of the pack's energy that reaches the road.
    pub drivetrain_efficiency: Ratio,
    /// Energy per metre, where it is known already.
    pub consumption_per_metre: Option<Joules>,
}

impl Vehicle {
    /// Rolling resistance where none is given. The middle of 0.014 to 0.024, which follows from
    /// dynamometer tests of small scooter tyres at 3.5 to 6 times a bicycle tyre's (Stilwell,
    /// Gooch, Goodwin, Zarifeh, Proc. Design Society 3, 2023) and 0.004 for the latter on asphalt.
    pub const ROLLING_RESISTANCE: Ratio = Ratio::from_fraction(18, 1000);
    /// Drag area where none is given, in square metres: a standing adult, from 0.55 to 0.85
    /// (Penwarden, Grigg, Rayment, Building and Environment 13, 1978; from memory), at the lower end for a rider who
    /// stands sideways.
    pub const DRAG_AREA_M2: Ratio = Ratio::from_percent(55);
    /// Share of the pack's energy that reaches the road where none is given. Common practice, no source.
    pub const DRIVETRAIN_EFFICIENCY: Ratio = Ratio::from_percent(78);

    /// Energy per metre: as given, or rolling and air resistance at 20 km/h on the level, over
    /// the efficiency, and a tenth more for starts, stops, hills and wind (the reference rides ask for
    /// 1.0 to 1.8 times the road load, drawn rides in towns for 0.8 to 1.3 times).
    /// Force = rolling · mass · g + ½ · 1.2 kg/m³ · drag area · v².
    pub(super) fn consumption(&self) -> Joules {
        /// 9.80665 m/s², standard gravity.
        const GRAVITY: Ratio = Ratio::from_fraction(980_665, 100_000);
        /// ½ · 1.2 kg/m³ · (20 / 3.6 m/s)², in pascals.
        const DYNAMIC_PRESSURE_PA: Ratio = Ratio::from_fraction(18_519, 1000);
        if let Some(known) = self.consumption_per_metre {
            return known;
        }
        let rolling = self.mass.scaled(self.rolling_resistance).scaled(GRAVITY);
        let newtons = i64::from(rolling.to_bits()).saturating_add(i64::from(
            DYNAMIC_PRESSURE_PA.scaled(self.drag_area_m2).to_bits() >> 8,
        ));
        let newtons = newtons.saturating_mul(11).wrapping_div(10);
        // Newtons with 16 fraction bits are joules per metre; 16 more make it `Joules`.
        let efficiency = i64::from(self.drivetrain_efficiency.to_bits());
        Joules::from_bits(i64::from(divide(newtons, efficiency, Ratio::FRACTION_BITS)) << 16)
    }
}

/// How far the measurements may be off. Gains and offsets stay the same for a ride.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Sensors {
    /// One sigma of the current's scale error.
    pub current_gain_error: Ratio,
    /// One sigma of the current that is measured where none flows.
    pub current_offset: Amperes,
    /// One sigma of the voltage's scale error.
    pub voltage_gain_error: Ratio,
    /// Smallest step of the pack voltage that telemetry can tell.
    pub voltage_step: Volts,
}

impl Sensors {
    /// What a motor controller's telemetry is good for where nothing better is known. Common
    /// practice, no source: a shunt of 1 % with an amplifier, a divider of 0.1 % resistors with
    /// its reference, a tenth of a volt in the frame.
    pub const TYPICAL: Self = Self {
        current_gain_error: Ratio::from_fraction(15, 1000),
        current_offset: Amperes::from_milli(60),
        voltage_gain_error: Ratio::from_fraction(25, 10_000),
        voltage_step: Volts::from_milli(100),
    };
}

impl Description {
    /// Notes every fault that a look at the numbers can find.
    pub(super) fn check(&self, faults: &mut Faults) {
        let Self { cell, pack, vehicle, sensors, assumed_temperature } = self;
        // Millionths of an ampere-hour and of a watt-hour per kilometre (3.6 J/m), of coulombs and joules.
        let ampere_hours = cell.capacity.to_micro().wrapping_div(3600);
        let consumption = vehicle
            .consumption_per_metre
            .map(|joules| joules.to_micro().saturating_mul(10).wrapping_div(36));
        let whole = |count: u8| i64::from(count).saturating_mul(1_000_000);
        let values = [
            (Quantity::AssumedTemperature, assumed_temperature.to_micro()),
            (Quantity::CellCapacity, ampere_hours),
            (Quantity::CellLowestVoltage, cell.lowest.to_micro()),
            (Quantity::CellHighestVoltage, cell.highest.to_micro()),
            (Quantity::CellMaxDischarge, cell.max_discharge.to_micro()),
            (Quantity::CellMaxCharge, cell.max_charge.to_micro()),
            (Quantity::CellCurveDoubt, cell.curve_doubt.to_micro()),
            (Quantity::PackSeries, whole(pack.series)),
            (Quantity::PackParallel, whole(pack.parallel)),
            (Quantity::PackSoften, pack.soften_below.to_micro()),
            (Quantity::PackStop, pack.stop_below.to_micro()),
            (Quantity::PackSpread, pack.spread.to_micro()),
            (Quantity::VehicleMass, vehicle.mass.to_micro()),
            (Quantity::VehicleWheel, vehicle.wheel_diameter.to_micro()),
            (Quantity::VehicleRolling, vehicle.rolling_resistance.to_micro()),
            (Quantity::VehicleDragArea, vehicle.drag_area_m2.to_micro()),
            (Quantity::VehicleEfficiency, vehicle.drivetrain_efficiency.to_micro()),
            (Quantity::SensorCurrentGain, sensors.current_gain_error.to_micro()),
            (Quantity::SensorCurrentOffset, sensors.current_offset.to_micro()),
            (Quantity::SensorVoltageGain, sensors.voltage_gain_error.to_micro()),
            (Quantity::SensorVoltageStep, sensors.voltage_step.to_micro()),
        ];
        let given = values
            .into_iter()
            .chain(consumption.map(|value| (Quantity::VehicleConsumption, value)));
        for (quantity, value) in given {
            if let Err(fault) = quantity.check(value) {
                faults.add(fault);
            }
        }
        self.check_relations(faults);
    }

    fn check_relations(&self, faults: &mut Faults) {
        let Self { cell, pack, .. } = self;
        let mut above = |quantity, given: Volts, other, other_given: Volts| {
            // A value that is out of range already would only be blamed twice.
            if given <= other_given && !faults.has(quantity) && !faults.has(other) {
                faults.add(Fault::NotAbove {
                    quantity,
                    given: given.to_micro(),
                    other,
                    other_given: other_given.to_micro(),
                });
            }
        };
        above(Quantity::CellHighestVoltage, cell.highest, Quantity::CellLowestVoltage, cell.lowest);
        above(Quantity::PackSoften, pack.soften_below, Quantity::PackStop, pack.stop_below);
        let cells_known =
            [Quantity::CellLowestVoltage, Quantity::CellHighestVoltage, Quantity::PackSeries];
        if cells_known.into_iter().any(|quantity| faults.has(quantity)) {
            return;
        }
        let full = cell.highest.times(pack.series);
        let empty = cell.lowest.times(pack.series).scaled(Ratio::from_percent(90));
        for (quantity, given) in
            [(Quantity::PackSoften, pack.soften_below), (Quantity::PackStop, pack.stop_below)]
        {
            if (given < empty || given > full) && !faults.has(quantity) {
                faults.add(Fault::NotOfThisPack {
                    quantity,
                    given: given.to_micro(),
                    lowest: empty.to_micro(),
                    highest: full.to_micro(),
                });
            }
        }
    }
}
