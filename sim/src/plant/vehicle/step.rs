//! One step of the board: command and limits, road, grip, then what the pack gave and where it went.
//!
//! Calls `axle` once while the wheels roll; where they slip, once for the board and once for the
//! wheels, with the sliding force between. The battery's current comes last, from the mean power
//! of the step: no energy is made or lost between the parts.

use super::Vehicle;
use crate::plant::axle::{Drive, Load, Travel};
use crate::plant::ledger::EnergyLedger;
use crate::plant::range::{greater, nearest};
use crate::plant::road::{Road, Slope};
use crate::plant::source::{Drawn, Source};
use crate::plant::{GRAVITY_M_S2, STEP_S};

/// A foot on the road; more than a rider's weight it never is.
const FOOT_BRAKE_N: (f64, f64) = (0.0, 2000.0);

/// Steps between two looks at what changes slowly: 0.2 s.
const SLOW_STEPS: u8 = 20;

/// Forces on the board in this step.
struct Forces {
    sine: f64,
    rolling_N: f64,
    foot_N: f64,
    /// Air drag is `air_N` + `air_slope_N_s_m` times speed around the speed at the start.
    air_N: f64,
    air_slope_N_s_m: f64,
    push_N: f64,
    /// What the driven wheels can pass to the road.
    grip_N: f64,
}

/// All that is fixed for this step.
struct Scene {
    drive: Drive,
    forces: Forces,
    idle_W: f64,
    source: Source,
}

/// What the board and its driven wheels did, and the heat between wheels and road.
struct Motion {
    body: Travel,
    wheels: Travel,
    slipping: bool,
    slip_J: f64,
}

impl Vehicle {
    /// Moves on by [`STEP_S`]; returns what that took from the pack.
    ///
    /// `command` is the share of the greatest motor current, -1 to 1, negative brakes; `None`
    /// where nothing fresh arrived (no number at all counts as that). `foot_brake_N` resists the
    /// motion, 0 to 2000. `source` is the pack over this step and `road` what lies under the wheels.
    /// Values outside of their range are read as the nearest bound.
    ///
    /// Laws: a brake opposes motion and ends at standstill. There it holds the board on a slope,
    /// as far as torque and grip go, and takes the copper loss of that from the pack. Above the
    /// no-load speed the switches' diodes charge the pack, which no limit prevents.
    pub fn step(
        &mut self,
        command: Option<f64>,
        foot_brake_N: f64,
        source: Source,
        road: &Road,
    ) -> Drawn {
        let source = source.bounded();
        self.refresh_slowly();
        self.held = self.held.after(command, &self.parts.controller);
        let (drive, idle_W) = self.drive_now(source);
        let forces = self.forces(foot_brake_N, &road.bounded());
        let scene = Scene { drive, forces, idle_W, source };
        if !self.slipping {
            let rolled = self.whole(&scene).travel(&scene.drive, self.speed_m_s, STEP_S);
            if self.grips(&rolled, self.speed_m_s, &scene) {
                return self.take(&scene, (&rolled, &rolled), 0.0);
            }
        }
        self.step_apart(&scene)
    }

    /// The rest of a step in which the wheels slip, part from the road or come back to it.
    #[inline(never)]
    fn step_apart(&mut self, scene: &Scene) -> Drawn {
        let motion = if self.slipping {
            self.slide_on(scene)
        } else {
            self.roll(scene, self.speed_m_s, 0.0)
        };
        self.slipping = motion.slipping;
        self.take(scene, (&motion.body, &motion.wheels), motion.slip_J)
    }

    fn refresh_slowly(&mut self) {
        self.steps_since += 1;
        if self.steps_since < SLOW_STEPS {
            return;
        }
        let share = 1.0 / self.constants.motors;
        self.warmth = self.warmth.after(
            &self.parts.motor.heat,
            self.parts.air_degC,
            (self.copper_then_J * share, self.iron_then_J * share),
            f64::from(self.steps_since) * STEP_S,
        );
        self.steps_since = 0;
        self.copper_then_J = 0.0;
        self.iron_then_J = 0.0;
        self.refresh_resistance();
    }

    /// The motors with what they are asked for and allowed, and what the electronics take.
    #[inline]
    fn drive_now(&self, source: Source) -> (Drive, f64) {
        let limits = self.parts.controller.power_limits(source);
        let asked_A = self.held.share * self.constants.max_motors_A;
        let drive = Drive {
            forward_A: greater(asked_A, 0.0) * self.drive_share,
            brake_A: greater(-asked_A, 0.0) * self.brake_share,
            out_W: limits.out_W,
            in_W: limits.in_W,
            emf_V: source.emf_V,
            loop_ohm: self.drive.resistance_ohm + source.resistance_ohm,
            ..self.drive
        };
        (drive, limits.idle_W)
    }

    #[inline]
    fn forces(&mut self, foot_brake_N: f64, road: &Road) -> Forces {
        let bits = road.grade.to_bits();
        if bits != self.slope_of.0 {
            self.slope_of = (bits, road.slope());
        }
        let Slope { sine, cosine } = self.slope_of.1;
        let weight_N = self.constants.mass_kg * GRAVITY_M_S2;
        let load_N = weight_N * cosine;
        let dynamic = self.constants.half_drag_area_m2 * road.air_density_kg_m3;
        let through_m_s = self.speed_m_s + road.headwind_m_s;
        let pressed = dynamic * through_m_s.abs();
        let air_slope_N_s_m = 2.0 * pressed;
        let air_N = pressed * through_m_s - air_slope_N_s_m * self.speed_m_s;
        Forces {
            sine,
            rolling_N: load_N * self.parts.body.rolling_resistance * road.rolling_factor,
            foot_N: nearest(foot_brake_N, FOOT_BRAKE_N),
            air_N,
            air_slope_N_s_m,
            push_N: -weight_N * sine - air_N,
            grip_N: load_N * self.parts.wheels.driven_weight_share * road.friction,
        }
    }

    /// Board and wheels as one.
    fn whole(&self, scene: &Scene) -> Load {
        Load {
            mass_kg: self.constants.body_kg + self.constants.wheel_kg,
            push_N: scene.forces.push_N,
            push_slope_N_s_m: scene.forces.air_slope_N_s_m,
            friction_N: scene.forces.rolling_N + scene.forces.foot_N,
        }
    }

    /// Whether the road could pass on what the wheels passed to it while they rolled.
    fn grips(&self, rolled: &Travel, start_m_s: f64, scene: &Scene) -> bool {
        self.contact_N_s(rolled, start_m_s).abs() <= scene.forces.grip_N * STEP_S
    }

    /// What is left of the gear's force for the road, times time.
    fn contact_N_s(&self, rolled: &Travel, start_m_s: f64) -> f64 {
        rolled.wheel_N_s - self.constants.wheel_kg * (rolled.end_m_s - start_m_s)
    }

    /// Board and wheels as one, from a common speed; where the grip does not last, they part.
    fn roll(&self, scene: &Scene, start_m_s: f64, slip_J: f64) -> Motion {
        let body = self.whole(scene).travel(&scene.drive, start_m_s, STEP_S);
        let rolled = Motion { wheels: body, body, slipping: false, slip_J };
        if self.grips(&body, start_m_s, scene) {
            return rolled;
        }
        let sense = if self.contact_N_s(&body, start_m_s) > 0.0 { 1.0 } else { -1.0 };
        let mut motion = self.slide(scene, sense, (start_m_s, start_m_s));
        if motion.slip_J < 0.0 {
            // The wheels stop sooner than the board or later, within this one step: no slip yet.
            return rolled;
        }
        motion.slip_J += slip_J;
        motion
    }

    /// Wheels that slipped until now: they go on, or meet the road's speed and roll.
    fn slide_on(&self, scene: &Scene) -> Motion {
        let sense = if self.wheel_m_s > self.speed_m_s { 1.0 } else { -1.0 };
        let motion = self.slide(scene, sense, (self.speed_m_s, self.wheel_m_s));
        let still_apart = sense * (motion.wheels.end_m_s - motion.body.end_m_s) > 0.0;
        if still_apart && motion.slip_J >= 0.0 {
            return motion;
        }
        // They would meet within this step: let them meet at its start, by an impulse, and lose
        // what two masses lose that meet and stay together.
        let (body_kg, wheel_kg) = (self.constants.body_kg, self.constants.wheel_kg);
        let apart_m_s = self.wheel_m_s - self.speed_m_s;
        let share = wheel_kg / (body_kg + wheel_kg);
        if share * body_kg * apart_m_s.abs() > scene.forces.grip_N * STEP_S {
            // The motors did it, not the road, which cannot give such an impulse. Its force
            // changes its sign within the step and is left out.
            return self.slide(scene, 0.0, (self.speed_m_s, self.wheel_m_s));
        }
        let common_m_s = self.speed_m_s + share * apart_m_s;
        let lost_J = 0.5 * share * body_kg * apart_m_s * apart_m_s;
        self.roll(scene, common_m_s, lost_J)
    }

    /// Board and wheels apart; the wheels push the board in the direction `sense`, or not at all
    /// where that is zero.
    fn slide(&self, scene: &Scene, sense: f64, (body_m_s, wheel_m_s): (f64, f64)) -> Motion {
        let grip_N = scene.forces.grip_N;
        let contact_N = sense * grip_N;
        let mut board = Load {
            mass_kg: self.constants.body_kg,
            push_N: scene.forces.push_N,
            push_slope_N_s_m: scene.forces.air_slope_N_s_m,
            friction_N: scene.forces.rolling_N + scene.forces.foot_N,
        };
        // Slower wheels can stop the board but not turn it round, so they are friction to it.
        let dragged = sense * body_m_s < 0.0;
        if dragged {
            board.friction_N += grip_N;
        } else {
            board.push_N += contact_N;
        }
        let rim = Load {
            mass_kg: self.constants.wheel_kg,
            push_N: -contact_N,
            push_slope_N_s_m: 0.0,
            friction_N: 0.0,
        };
        let body = board.travel(&Drive::NONE, body_m_s, STEP_S);
        let wheels = rim.travel(&scene.drive, wheel_m_s, STEP_S);
        let lost_by_board_J =
            if dragged { grip_N * body.path_m } else { -contact_N * body.distance_m };
        let slip_J = lost_by_board_J + contact_N * wheels.distance_m;
        let slipping = (wheels.end_m_s - body.end_m_s).abs() > 0.0;
        Motion { body, wheels, slipping, slip_J }
    }

    /// Takes over the new speeds, takes the step's power from the pack and books where it went.
    #[inline(always)]
    fn take(&mut self, scene: &Scene, (body, wheels): (&Travel, &Travel), slip_J: f64) -> Drawn {
        let Scene { drive, forces, idle_W, source } = scene;
        self.acceleration_m_s2 = (body.end_m_s - self.speed_m_s) * (1.0 / STEP_S);
        self.speed_m_s = body.end_m_s;
        self.wheel_m_s = wheels.end_m_s;
        self.distance_m += body.distance_m;
        self.wheel_distance_m += wheels.distance_m;
        let climb_m = forces.sine * body.distance_m;
        self.climbed_m += climb_m;

        let resistive_J = drive.resistance_ohm * wheels.current_A2_s;
        let copper_J = resistive_J * self.copper_share;
        let iron_J = drive.hysteresis_N * wheels.path_m + drive.eddy_N_s_m * wheels.speed_way_m2_s;
        let idle_J = idle_W * STEP_S;
        let power_W = (wheels.magnet_J + resistive_J + idle_J) * (1.0 / STEP_S);
        let battery_current_A = source.current_A(power_W);
        let battery_voltage_V = source.emf_V - source.resistance_ohm * battery_current_A;
        self.copper_then_J += copper_J;
        self.iron_then_J += iron_J;
        self.ledger.add(&EnergyLedger {
            battery_J: battery_voltage_V * battery_current_A * STEP_S,
            potential_J: self.constants.mass_kg * GRAVITY_M_S2 * climb_m,
            air_J: forces.air_N * body.distance_m + forces.air_slope_N_s_m * body.speed_way_m2_s,
            rolling_J: forces.rolling_N * body.path_m,
            gear_J: wheels.gear_J,
            copper_J,
            iron_J,
            controller_J: resistive_J - copper_J + idle_J,
            slip_J,
            foot_brake_J: forces.foot_N * body.path_m,
            kinetic_J: 0.0,
        });
        self.ledger.kinetic_J = self.kinetic_J() - self.start_kinetic_J;
        let motor_current_A = wheels.current_A_s * self.constants.per_motor_step;
        Drawn { battery_current_A, battery_voltage_V, motor_current_A }
    }
}
