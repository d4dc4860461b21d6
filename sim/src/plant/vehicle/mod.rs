//! The whole board with its rider: state, and what can be read from it.
//!
//! Made of [`Parts`]; moved by `step`, which is where the parts meet.

#[cfg(test)]
mod laws;
mod step;
#[cfg(test)]
mod tests;

use crate::plant::STEP_S;
use crate::plant::axle::Drive;
use crate::plant::body::Body;
use crate::plant::gear::Gear;
use crate::plant::ledger::EnergyLedger;
use crate::plant::motor::{Motor, Warmth, torque_constant_N_m_A};
use crate::plant::motor_controller::MotorController;
use crate::plant::motor_controller::command::Held;
use crate::plant::range::{OutOfRange, nearest, within};
use crate::plant::road::Slope;
use crate::plant::wheels::{Grip, Wheels};

/// Where such a board is ridden.
const AIR_RANGE_CELSIUS: (f64, f64) = (-50.0, 60.0);

/// All that a board is made of.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Parts {
    /// Rider and board.
    pub body: Body,
    /// The motors.
    pub motor: Motor,
    /// Their controller.
    pub controller: MotorController,
    /// Between motor and wheel.
    pub gear: Gear,
    /// The wheels.
    pub wheels: Wheels,
    /// Temperature of the air, which the motors start at, -50 to 60 degC.
    pub air_degC: f64,
}

impl Parts {
    /// Whether all values lie in their ranges.
    ///
    /// # Errors
    /// [`OutOfRange`] for the first that does not.
    pub fn check(&self) -> Result<(), OutOfRange> {
        self.body.check()?;
        self.motor.check()?;
        self.controller.check()?;
        self.gear.check()?;
        self.wheels.check()?;
        within("air_degC", self.air_degC, AIR_RANGE_CELSIUS)
    }
}

/// What follows from the parts and never changes.
#[derive(Clone, Copy, Debug)]
struct Constants {
    motors: f64,
    /// Turns ampere-seconds of all motors in a step into the mean current of one.
    per_motor_step: f64,
    /// Rider and board.
    mass_kg: f64,
    /// The same with the inertia of the wheels that always roll.
    body_kg: f64,
    /// Driven wheels and rotors as a mass at the rim.
    wheel_kg: f64,
    /// Half the drag area, for the dynamic pressure.
    half_drag_area_m2: f64,
    max_motors_A: f64,
    shown_per_true: f64,
}

/// A board with its rider, moving.
#[derive(Clone, Debug)]
pub struct Vehicle {
    parts: Parts,
    constants: Constants,
    drive: Drive,
    /// Share of the resistance that is the windings'.
    copper_share: f64,
    drive_share: f64,
    brake_share: f64,
    slope_of: (u64, Slope),
    held: Held,
    speed_m_s: f64,
    wheel_m_s: f64,
    slipping: bool,
    acceleration_m_s2: f64,
    distance_m: f64,
    wheel_distance_m: f64,
    climbed_m: f64,
    start_kinetic_J: f64,
    ledger: EnergyLedger,
    warmth: Warmth,
    /// Steps and heat of all motors since their temperatures were last refreshed.
    steps_since: u8,
    copper_then_J: f64,
    iron_then_J: f64,
}

impl Vehicle {
    /// A board at rest whose motors are as warm as the air.
    ///
    /// # Errors
    /// [`OutOfRange`] for the first value that no such board has.
    pub fn new(parts: Parts) -> Result<Self, OutOfRange> {
        parts.check()?;
        let Parts { body, motor, controller, gear, wheels, air_degC } = parts;
        let motors = f64::from(motor.count);
        let radius_m = body.wheel_radius_m();
        let turns_rad_m = gear.ratio / radius_m;
        let per_radius2 = 1.0 / (radius_m * radius_m);
        let constants = Constants {
            motors,
            per_motor_step: 1.0 / (motors * STEP_S),
            mass_kg: body.mass_kg(),
            body_kg: body.mass_kg() + wheels.free_kg_m2 * per_radius2,
            wheel_kg: motors * motor.rotor_kg_m2 * turns_rad_m * turns_rad_m
                + wheels.driven_kg_m2 * per_radius2,
            half_drag_area_m2: 0.5 * body.drag_area_m2,
            max_motors_A: motors * controller.max_motor_A,
            shown_per_true: body.shown_per_true(),
        };
        let drive = Drive {
            force_N_A: torque_constant_N_m_A(motor.kv_rpm_V) * turns_rad_m,
            resistance_ohm: 0.0,
            hysteresis_N: motors * motor.hysteresis_N_m * turns_rad_m,
            eddy_N_s_m: motors * motor.eddy_N_m_s * turns_rad_m * turns_rad_m,
            gear_efficiency: gear.efficiency,
            gear_increase: 1.0 / gear.efficiency,
            emf_V: 0.0,
            loop_ohm: 1.0,
            forward_A: 0.0,
            brake_A: 0.0,
            out_W: 0.0,
            in_W: 0.0,
        };
        let mut vehicle = Self {
            parts,
            constants,
            drive,
            copper_share: 1.0,
            drive_share: 1.0,
            brake_share: 1.0,
            slope_of: (0.0_f64.to_bits(), Slope { sine: 0.0, cosine: 1.0 }),
            held: Held::default(),
            speed_m_s: 0.0,
            wheel_m_s: 0.0,
            slipping: false,
            acceleration_m_s2: 0.0,
            distance_m: 0.0,
            wheel_distance_m: 0.0,
            climbed_m: 0.0,
            start_kinetic_J: 0.0,
            ledger: EnergyLedger::default(),
            warmth: Warmth { winding_degC: air_degC, case_degC: air_degC },
            steps_since: 0,
            copper_then_J: 0.0,
            iron_then_J: 0.0,
        };
        vehicle.refresh_resistance();
        Ok(vehicle)
    }

    /// This board rolling at `speed_m_s` (-50 to 50, else the nearest), its distances and its
    /// ledger begun anew.
    #[must_use]
    pub fn at_speed(mut self, speed_m_s: f64) -> Self {
        self.speed_m_s = nearest(speed_m_s, (-50.0, 50.0));
        self.wheel_m_s = self.speed_m_s;
        self.slipping = false;
        self.acceleration_m_s2 = 0.0;
        self.distance_m = 0.0;
        self.wheel_distance_m = 0.0;
        self.climbed_m = 0.0;
        self.start_kinetic_J = self.kinetic_J();
        self.ledger = EnergyLedger::default();
        self
    }

    /// The air turns `degC` warm (-50 to 60, else the nearest).
    pub fn set_air_degC(&mut self, degC: f64) {
        self.parts.air_degC = nearest(degC, AIR_RANGE_CELSIUS);
    }

    /// True speed of the board, m/s, forward positive.
    #[must_use]
    pub fn speed_m_s(&self) -> f64 {
        self.speed_m_s
    }

    /// Mean acceleration of the last step, m/s².
    #[must_use]
    pub fn acceleration_m_s2(&self) -> f64 {
        self.acceleration_m_s2
    }

    /// True way along the road, m, backward taken off.
    #[must_use]
    pub fn distance_m(&self) -> f64 {
        self.distance_m
    }

    /// Height gained, m, descents taken off.
    #[must_use]
    pub fn climbed_m(&self) -> f64 {
        self.climbed_m
    }

    /// True speed of the driven wheels' rim, m/s.
    #[must_use]
    pub fn wheel_speed_m_s(&self) -> f64 {
        self.wheel_m_s
    }

    /// Speed that the motor controller reports, m/s: that of the driven wheels, by the diameter
    /// it was told.
    #[must_use]
    pub fn shown_speed_m_s(&self) -> f64 {
        self.wheel_m_s * self.constants.shown_per_true
    }

    /// Way that the motor controller reports, m, on the same terms.
    #[must_use]
    pub fn shown_distance_m(&self) -> f64 {
        self.wheel_distance_m * self.constants.shown_per_true
    }

    /// Whether the driven wheels roll.
    #[must_use]
    pub fn grip(&self) -> Grip {
        if self.slipping { Grip::Slipping { wheel_m_s: self.wheel_m_s } } else { Grip::Rolling }
    }

    /// Temperature of the windings, refreshed every 0.2 s.
    #[must_use]
    pub fn winding_degC(&self) -> f64 {
        self.warmth.winding_degC
    }

    /// Temperature of the motors' iron and case, refreshed every 0.2 s.
    #[must_use]
    pub fn case_degC(&self) -> f64 {
        self.warmth.case_degC
    }

    /// The command that the controller acts on, -1 to 1, after what silence does to it.
    #[must_use]
    pub fn applied_share(&self) -> f64 {
        self.held.share
    }

    /// Speed at which the back-EMF alone meets `voltage_V`, m/s.
    #[must_use]
    pub fn no_load_speed_m_s(&self, voltage_V: f64) -> f64 {
        voltage_V / self.drive.force_N_A
    }

    /// Where the energy went since the start.
    #[must_use]
    pub fn ledger(&self) -> &EnergyLedger {
        &self.ledger
    }

    /// What it is made of.
    #[must_use]
    pub fn parts(&self) -> &Parts {
        &self.parts
    }

    fn kinetic_J(&self) -> f64 {
        0.5 * (self.constants.body_kg * self.speed_m_s * self.speed_m_s
            + self.constants.wheel_kg * self.wheel_m_s * self.wheel_m_s)
    }

    /// Brings what depends on the windings' temperature up to date.
    fn refresh_resistance(&mut self) {
        let winding_ohm = self.parts.motor.winding_at_ohm(self.warmth.winding_degC);
        let each_ohm = winding_ohm + self.parts.controller.resistance_ohm;
        self.drive.resistance_ohm = each_ohm / self.constants.motors;
        self.copper_share = winding_ohm / each_ohm;
        self.drive_share = self.parts.controller.drive_heat.share(self.warmth.winding_degC);
        self.brake_share = self.parts.controller.brake_heat.share(self.warmth.winding_degC);
    }
}
