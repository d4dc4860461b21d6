//! Every number of a board: its name in a board file, its unit, and what is allowed.
//!
//! One table, so that a description checked here and a file read on a host refuse the same
//! values in the same words.

use super::Fault;

/// What a quantity may be, in millionths of its unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Bounds {
    /// The lowest value allowed.
    pub lowest: i64,
    /// The highest value allowed.
    pub highest: i64,
}

/// Names each quantity once: variant, section and key of a board file, lowest, highest (in
/// millionths of the unit that the key ends with), and what it is.
macro_rules! quantities {
    ($($variant:ident, $section:literal, $key:literal, $lowest:literal, $highest:literal, $about:literal;)*) => {
        /// A number of a board.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        #[cfg_attr(feature = "defmt", derive(defmt::Format))]
        #[non_exhaustive]
        pub enum Quantity {
            $(#[doc = $about] $variant,)*
        }

        impl Quantity {
            /// All of them, in the order of a board file.
            pub const ALL: &'static [Self] = &[$(Self::$variant,)*];

            /// The section of a board file that it stands in; empty for the top.
            #[must_use]
            pub const fn section(self) -> &'static str {
                match self { $(Self::$variant => $section,)* }
            }

            /// Its key in a board file, which ends with its unit where it has one.
            #[must_use]
            pub const fn key(self) -> &'static str {
                match self { $(Self::$variant => $key,)* }
            }

            /// What is allowed.
            #[must_use]
            pub const fn bounds(self) -> Bounds {
                match self { $(Self::$variant => Bounds { lowest: $lowest, highest: $highest },)* }
            }
        }
    };
}

quantities! {
    AssumedTemperature, "", "assumed_temperature_degC", -40_000_000, 80_000_000,
        "Cell temperature to go by where none is measured.";
    CellCapacity, "cell", "capacity_Ah", 10_000, 1_000_000_000,
        "Charge of a new cell between its two voltages.";
    CellLowestVoltage, "cell", "lowest_V", 500_000, 5_000_000,
        "Resting voltage of an empty cell.";
    CellHighestVoltage, "cell", "highest_V", 1_000_000, 6_000_000,
        "Resting voltage of a full cell.";
    CellResistance, "cell", "resistance", 10, 10_000_000,
        "Resistance of a cell after ten seconds at 25 °C, in ohms.";
    CellMaxDischarge, "cell", "max_discharge_A", 10_000, 2_000_000_000,
        "Greatest current out of a cell.";
    CellMaxCharge, "cell", "max_charge_A", 0, 2_000_000_000,
        "Greatest current into a cell.";
    CellCurveDoubt, "cell", "curve_doubt_V", 0, 500_000,
        "How far the resting-voltage table may be off for these very cells (one sigma).";
    PackSeries, "pack", "series", 1_000_000, 60_000_000,
        "Groups of cells in series.";
    PackParallel, "pack", "parallel", 1_000_000, 200_000_000,
        "Cells in parallel in a group.";
    PackSoften, "pack", "soften_below_V", 1_000_000, 300_000_000,
        "Pack voltage under load where power starts to fold back.";
    PackStop, "pack", "stop_below_V", 1_000_000, 300_000_000,
        "Pack voltage under load where no drive is left.";
    PackSpread, "pack", "spread", 0, 300_000,
        "How much less the weakest group may hold than the mean one, as a share.";
    VehicleMass, "vehicle", "mass_kg", 1_000_000, 1_000_000_000,
        "Mass with rider.";
    VehicleWheel, "vehicle", "wheel_diameter_m", 20_000, 1_500_000,
        "Wheel diameter.";
    VehicleRolling, "vehicle", "rolling_resistance", 500, 300_000,
        "Rolling resistance as a share of the weight.";
    VehicleDragArea, "vehicle", "drag_area_m2", 10_000, 5_000_000,
        "Drag coefficient times frontal area.";
    VehicleEfficiency, "vehicle", "drivetrain_efficiency", 50_000, 1_000_000,
        "Share of the pack's energy that reaches the road.";
    VehicleConsumption, "vehicle", "consumption_Wh_km", 500_000, 500_000_000,
        "Energy per distance.";
    SensorCurrentGain, "sensors", "current_gain_error", 0, 200_000,
        "One sigma of the current's scale error, as a share.";
    SensorCurrentOffset, "sensors", "current_offset_A", 0, 10_000_000,
        "One sigma of the current that is measured where none flows.";
    SensorVoltageGain, "sensors", "voltage_gain_error", 0, 100_000,
        "One sigma of the voltage's scale error, as a share.";
    SensorVoltageStep, "sensors", "voltage_step_V", 0, 5_000_000,
        "Smallest step of the pack voltage that telemetry can tell.";
}

impl Quantity {
    /// Nothing where `micro` (millionths of the unit) is allowed, the fault where it is not.
    ///
    /// # Errors
    /// [`Fault::OutOfRange`] with the value and what is allowed.
    pub const fn check(self, micro: i64) -> Result<(), Fault> {
        let Bounds { lowest, highest } = self.bounds();
        if micro < lowest || micro > highest {
            return Err(Fault::OutOfRange { quantity: self, given: micro, lowest, highest });
        }
        Ok(())
    }
}

impl core::fmt::Display for Quantity {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self.section() {
            "" => f.write_str(self.key()),
            section => write!(f, "{section}.{}", self.key()),
        }
    }
}
