//! The motor controller: what it makes of a command, and the limits that it keeps by itself.
//!
//! Fed by `vehicle`, which asks `command` for the share to apply and `limits` for the power it
//! may take and give. Its current loop is taken as instant: it settles within a step.

pub(crate) mod command;
pub(crate) mod limits;

use crate::plant::range::{OutOfRange, within};

/// A limit that is given up along a straight line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FoldBack {
    /// Up to here (or down to here) all is allowed.
    pub full: f64,
    /// From here on nothing is.
    pub none: f64,
}

impl FoldBack {
    /// The share that is left at `value`, 0 to 1.
    pub(crate) fn share(self, value: f64) -> f64 {
        ((value - self.none) / (self.full - self.none)).clamp(0.0, 1.0)
    }
}

/// The settings of a motor controller, or of two equal ones.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MotorController {
    /// Greatest current of each motor, 0.1 to 500 A; a command of one asks for this.
    pub max_motor_A: f64,
    /// Greatest current out of the battery for the whole board, 0.1 to 1000 A.
    pub max_battery_A: f64,
    /// Greatest current into the battery for the whole board, 0 to 1000 A.
    pub max_regen_A: f64,
    /// Battery voltage at which drive is given up, falling; V.
    pub undervoltage: FoldBack,
    /// Battery voltage at which charging by the brake is given up, rising; V.
    pub overvoltage: FoldBack,
    /// Winding temperature at which drive is given up; degC.
    pub drive_heat: FoldBack,
    /// Winding temperature at which the brake is given up, later than drive; degC.
    pub brake_heat: FoldBack,
    /// Resistance of the switches for each motor, 0 to 1 ohm.
    pub resistance_ohm: f64,
    /// Power that it takes all the time, 0 to 100 W.
    pub idle_W: f64,
    /// Silence after which the last command no longer holds, 0.01 to 10 s.
    pub timeout_s: f64,
    /// Then drive falls to nothing at this rate, 0.1 to 1000 of the full command per second.
    pub drive_ramp_per_s: f64,
    /// Then a brake is eased at this rate, 0.01 to 1000 of the full command per second.
    pub brake_ease_per_s: f64,
}

impl MotorController {
    /// Whether all values lie in their ranges.
    ///
    /// # Errors
    /// [`OutOfRange`] for the first that does not.
    pub fn check(&self) -> Result<(), OutOfRange> {
        within("max_motor_A", self.max_motor_A, (0.1, 1000.0))?;
        within("max_battery_A", self.max_battery_A, (0.1, 1000.0))?;
        within("max_regen_A", self.max_regen_A, (0.0, 1000.0))?;
        // A fold-back needs some width, or the current would have to jump.
        let FoldBack { full, none } = self.undervoltage;
        within("undervoltage.none", none, (1.0, 1000.0))?;
        within("undervoltage.full", full, (none + 0.1, 1000.0))?;
        let FoldBack { full, none } = self.overvoltage;
        within("overvoltage.full", full, (1.0, 1000.0))?;
        within("overvoltage.none", none, (full + 0.1, 1000.0))?;
        let FoldBack { full, none } = self.drive_heat;
        within("drive_heat.full", full, (20.0, 300.0))?;
        within("drive_heat.none", none, (full + 1.0, 300.0))?;
        let FoldBack { full, none } = self.brake_heat;
        within("brake_heat.full", full, (20.0, 300.0))?;
        within("brake_heat.none", none, (full + 1.0, 300.0))?;
        within("resistance_ohm", self.resistance_ohm, (0.0, 1.0))?;
        within("idle_W", self.idle_W, (0.0, 100.0))?;
        within("timeout_s", self.timeout_s, (0.01, 10.0))?;
        within("drive_ramp_per_s", self.drive_ramp_per_s, (0.1, 1000.0))?;
        within("brake_ease_per_s", self.brake_ease_per_s, (0.01, 1000.0))
    }
}
