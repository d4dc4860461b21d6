//! Where the energy went, in joules since the start.
//!
//! Kept by `vehicle`. Kinetic energy comes from the speeds themselves, all else from force or
//! current over the step: that the sum meets what the battery gave is a check, not an identity.

/// Cumulative joules by kind. What the vehicle took or stored is positive.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct EnergyLedger {
    /// Given by the battery at its terminals, net of what it took back.
    pub battery_J: f64,
    /// Gained by climbing.
    pub potential_J: f64,
    /// Lost to the air; negative where the wind pushed.
    pub air_J: f64,
    /// Lost to rolling.
    pub rolling_J: f64,
    /// Lost between motor and wheel.
    pub gear_J: f64,
    /// Lost in the windings' resistance.
    pub copper_J: f64,
    /// Lost in the motors' iron.
    pub iron_J: f64,
    /// Lost in the motor controller: its resistance and its standby.
    pub controller_J: f64,
    /// Lost between slipping wheels and road.
    pub slip_J: f64,
    /// Lost under the rider's foot.
    pub foot_brake_J: f64,
    /// Now in the moving board, wheels and rotors, less that at the start.
    pub kinetic_J: f64,
}

impl EnergyLedger {
    /// Adds a step's joules of every kind but the kinetic, which is no sum.
    #[inline(always)]
    pub(crate) fn add(&mut self, step: &Self) {
        self.battery_J += step.battery_J;
        self.potential_J += step.potential_J;
        self.air_J += step.air_J;
        self.rolling_J += step.rolling_J;
        self.gear_J += step.gear_J;
        self.copper_J += step.copper_J;
        self.iron_J += step.iron_J;
        self.controller_J += step.controller_J;
        self.slip_J += step.slip_J;
        self.foot_brake_J += step.foot_brake_J;
    }

    /// All that became of the battery's energy.
    #[must_use]
    pub fn booked_J(&self) -> f64 {
        self.kinetic_J
            + self.potential_J
            + self.air_J
            + self.rolling_J
            + self.gear_J
            + self.copper_J
            + self.iron_J
            + self.controller_J
            + self.slip_J
            + self.foot_brake_J
    }

    /// What the battery gave and no kind explains: rounding, or a fault in the physics.
    #[must_use]
    pub fn unexplained_J(&self) -> f64 {
        self.battery_J - self.booked_J()
    }
}
