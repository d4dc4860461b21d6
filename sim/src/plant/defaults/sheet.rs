//! What a builder says: always about the board, sometimes about the motors.
//!
//! Read by `defaults`. Ranges are those of boards and carts that a person builds at home.

use crate::plant::range::{OutOfRange, within};

/// What every builder knows of a board.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BoardSheet {
    /// Rider and board together, 5 to 300 kg.
    pub mass_kg: f64,
    /// Diameter of the driven wheels, 0.03 to 0.8 m.
    pub wheel_diameter_m: f64,
    /// Rolling resistance as a share of the weight, 0.0005 to 0.2.
    pub rolling_resistance: f64,
    /// Drag coefficient times frontal area, 0.05 to 2 m².
    pub drag_area_m2: f64,
    /// Power at the road over power from the battery in steady driving, 0.3 to 0.98.
    pub drivetrain_efficiency: f64,
    /// Cells in series, 1 to 60; with the voltage a cell of 1.5 to 4.5 V must come out.
    pub series_cells: u32,
    /// Nominal voltage of the pack, 3 to 250 V.
    pub pack_nominal_V: f64,
    /// Top speed, 1 to 40 m/s.
    pub top_speed_m_s: f64,
    /// Acceleration at the greatest motor current, 0.1 to 10 m/s².
    pub full_current_m_s2: f64,
    /// Greatest current out of the pack, 0.1 to 1000 A.
    pub max_discharge_A: f64,
    /// Greatest current into the pack, 0 to 1000 A.
    pub max_charge_A: f64,
}

/// What a builder may know of the motors and their controller; `None` takes the default.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct MotorSheet {
    /// How many motors, 1 or 2.
    pub count: Option<u8>,
    /// Turns per minute per volt, 5 to 2000.
    pub kv_rpm_V: Option<f64>,
    /// Winding resistance of each motor at 20 degC, 0.001 to 5 ohm.
    pub winding_ohm: Option<f64>,
    /// Turns of the motor per turn of the wheel, 0.5 to 20.
    pub gear_ratio: Option<f64>,
    /// Greatest current of each motor, 0.1 to 500 A.
    pub max_motor_A: Option<f64>,
    /// Greatest current out of the battery for the whole board, 0.1 to 1000 A.
    pub max_battery_A: Option<f64>,
    /// Greatest current into the battery for the whole board, 0 to 1000 A.
    pub max_regen_A: Option<f64>,
    /// Standby power, 0 to 100 W.
    pub idle_W: Option<f64>,
}

impl BoardSheet {
    /// Whether all values lie in their ranges.
    ///
    /// # Errors
    /// [`OutOfRange`] for the first that does not.
    pub fn check(&self) -> Result<(), OutOfRange> {
        within("mass_kg", self.mass_kg, (1.0, 1000.0))?;
        within("wheel_diameter_m", self.wheel_diameter_m, (0.02, 1.5))?;
        within("rolling_resistance", self.rolling_resistance, (0.0005, 0.3))?;
        within("drag_area_m2", self.drag_area_m2, (0.01, 5.0))?;
        within("drivetrain_efficiency", self.drivetrain_efficiency, (0.05, 1.0))?;
        let series = f64::from(self.series_cells);
        within("series_cells", series, (1.0, 60.0))?;
        within("pack_nominal_V", self.pack_nominal_V, (0.5, 360.0))?;
        within("nominal voltage of a cell", self.pack_nominal_V / series, (0.5, 6.0))?;
        within("top_speed_m_s", self.top_speed_m_s, (1.0, 40.0))?;
        within("full_current_m_s2", self.full_current_m_s2, (0.1, 10.0))?;
        within("max_discharge_A", self.max_discharge_A, (0.01, 400_000.0))?;
        within("max_charge_A", self.max_charge_A, (0.0, 400_000.0))
    }
}

/// More than any motor of such a board takes.
pub(super) const MOST_MOTOR_A: f64 = 1000.0;

/// More than any motor controller of such a board takes from its pack or gives back.
pub(super) const MOST_BATTERY_A: f64 = 1000.0;

impl MotorSheet {
    /// Whether all given values lie in their ranges.
    ///
    /// # Errors
    /// [`OutOfRange`] for the first that does not.
    pub fn check(&self) -> Result<(), OutOfRange> {
        let given = |quantity, value: Option<f64>, range| {
            value.map_or(Ok(()), |value| within(quantity, value, range))
        };
        given("count", self.count.map(f64::from), (1.0, 2.0))?;
        given("kv_rpm_V", self.kv_rpm_V, (5.0, 2000.0))?;
        given("winding_ohm", self.winding_ohm, (0.001, 5.0))?;
        given("gear_ratio", self.gear_ratio, (0.5, 20.0))?;
        given("max_motor_A", self.max_motor_A, (0.1, MOST_MOTOR_A))?;
        given("max_battery_A", self.max_battery_A, (0.1, MOST_BATTERY_A))?;
        given("max_regen_A", self.max_regen_A, (0.0, MOST_BATTERY_A))?;
        given("idle_W", self.idle_W, (0.0, 100.0))
    }
}
