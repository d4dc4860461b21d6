//! The closed loop: plant, sensors, radio and rider around the very handheld that is flashed.
//!
//! ```text
//! route ─► rider ─► thumb ─► handheld ─► radio ─► motor controller ─► wheels ─► road
//!                               ▲                      │
//!                             radio ◄─── sensors ◄─── pack
//! ```
//!
//! The plant steps a hundred times a second; the hand ticks and sends fifty times; telemetry comes
//! at the sensors' own rate. A seed is a ride: the same one on every machine. Everything can be
//! cloned, so that a ride can be gone on with in two ways.
//! Takes a [`Setup`]; used by `campaign` and `cli`. Writes nothing, reads no clock.

mod course;
mod ending;
mod setup;
mod watch;

pub use course::Pattern;
pub use ending::Ending;
pub use setup::{Air, Setup, WeldFailure, WorldError};
pub use watch::{Violation, Violations};

use homestretch::handheld::{Handheld, Output};
use homestretch::store::Life;
use homestretch::throttle::Settings;
use homestretch::time::Instant;
use homestretch::units::Ratio;

use crate::board_file::BoardFile;
use crate::plant::pack::Pack;
use crate::plant::radio::Radio;
use crate::plant::rider::{Action, Rider};
use crate::plant::{Road, Vehicle, air_density_kg_m3};
use crate::replay::{telemetry, tick_through};
use crate::ride::{Measured, RideRow};
use crate::route::Here;
use crate::sensors::Sensors;

use course::Course;
use ending::{DriveLeft, Try};
use watch::{Scene, Watch};

/// Ticks of the hand each second.
pub const TICKS_PER_S: u32 = 50;

/// Steps of the plant in a tick.
const STEPS_PER_TICK: u32 = 2;

/// The road under the board is looked up ten times a second: in a tenth it moves by less than what
/// routes resolve.
const TICKS_PER_PLACE: u64 = 5;

/// A tick in microseconds.
const TICK_US: u64 = 20_000;

/// What came of one tick.
#[derive(Clone, Debug)]
pub struct Moment {
    /// Seconds since the handheld was switched on.
    pub time_s: f64,
    /// What the handheld made of it.
    pub output: Output,
    /// The telemetry frame that was due, as it arrived or did not, with the truth beside it;
    /// nothing where none was due.
    pub row: Option<RideRow>,
    /// What the rider did.
    pub action: Action,
}

/// A ride in progress.
#[derive(Clone, Debug)]
pub struct World<'b> {
    handheld: Handheld<'b>,
    throttle: &'b Settings,
    pack: Pack,
    vehicle: Vehicle,
    rider: Rider,
    radio: Radio,
    sensors: Sensors,
    course: Course,
    road: Road,
    here: Here,
    air: Air,
    weld: Option<WeldFailure>,
    cell_voltages: bool,
    tick: u64,
    /// Current out of the pack since the tick before, mean of its steps.
    pack_current_A: f64,
    pack_voltage_V: f64,
    /// Motor current over the greatest, and the acceleration that the greatest stands for.
    motor_share: f64,
    /// Where the pack begins to hold the drive back, under load.
    soften_V: f64,
    full_current_m_s2: f64,
    drive_left: DriveLeft,
    watch: Watch,
}

impl<'b> World<'b> {
    /// The moment before a ride: the rider on the board, all at rest, the handheld just switched
    /// on with what its memory holds.
    ///
    /// # Errors
    /// [`WorldError`] for the first part of the setup that cannot be.
    pub fn new(
        board: &'b BoardFile,
        setup: &Setup,
        life: Option<&Life>,
        seed: u64,
    ) -> Result<Self, WorldError> {
        let pack = setup.pack(seed)?;
        let vehicle = setup.vehicle()?;
        let parts = board.throttle.parts();
        let course = Course::new(setup.pattern.clone(), setup.laps);
        let density = air_density_kg_m3(setup.air.temperature_degC, setup.air.pressure_Pa);
        let road = Road { air_density_kg_m3: density, ..Road::default() };
        Ok(Self {
            handheld: Handheld::new(&board.board, &board.throttle, life),
            throttle: &board.throttle,
            rider: Rider::new(setup.rider, seed)?,
            radio: Radio::new(&setup.radio, seed)?,
            sensors: Sensors::new(&setup.sensors, seed)?,
            here: course.here(0.0),
            pack_current_A: 0.0,
            pack_voltage_V: pack.voltage_V(),
            motor_share: 0.0,
            soften_V: board.board.pack().soften_below.to_f64(),
            full_current_m_s2: parts.full_current_acceleration.to_f64(),
            watch: Watch::new(&board.board, parts.limits.top_speed.end.to_f64()),
            pack,
            vehicle,
            course,
            road,
            air: setup.air,
            weld: setup.weld,
            cell_voltages: setup.cell_voltages,
            tick: 0,
            drive_left: DriveLeft::default(),
        })
    }

    /// One tick of the hand, and the plant up to the next.
    pub fn tick(&mut self) -> Moment {
        let (distance_m, speed_m_s) = (self.vehicle.distance_m(), self.vehicle.speed_m_s());
        let sight = self.course.sight(self.now_s(), distance_m, speed_m_s);
        let action = self.rider.act(sight);
        self.tick_with(action)
    }

    /// The same with a thumb and a foot of one's own instead of the rider's.
    pub fn tick_with(&mut self, action: Action) -> Moment {
        let time_s = self.now_s();
        if let Some(weld) = self.weld.filter(|weld| weld.at_s <= time_s) {
            // Checked when the world was made, so that it cannot fail here.
            let _ = self.pack.fail_weld(weld.group, weld.cells);
            self.weld = None;
        }
        if self.tick.is_multiple_of(TICKS_PER_PLACE) {
            self.look_at_road();
        }
        let slot = self.radio.slot();
        let row = self.sense(time_s, action.thumb, slot.telemetry);
        let frame = row.as_ref().and_then(|row| telemetry(&row.measured));
        let thumb = Ratio::from_f64(action.thumb).unwrap_or(Ratio::ZERO);
        let count = self.throttle.parts().calibration.count_for(thumb);
        let now = Instant::from_micros(self.tick * TICK_US);
        let output = tick_through(&mut self.handheld, now, count, frame.as_ref());
        let command = slot.command.then(|| output.demand.share.to_f64());
        self.step(command, action.foot_m_s2);
        self.tick += 1;
        let speed_m_s = self.vehicle.speed_m_s();
        self.drive_left = self.drive_left.after(&Try {
            thumb: action.thumb,
            speed_m_s,
            wish_m_s: self.course.wish_m_s(),
            heard: slot.command && slot.telemetry,
            pack_is_low: self.pack_voltage_V < self.soften_V,
        });
        self.watch.look(&Scene {
            output: &output,
            thumb: action.thumb,
            heard_command: slot.command,
            pack: &self.pack,
            pack_voltage_V: self.pack_voltage_V,
            pack_current_A: self.pack_current_A,
            vehicle: &self.vehicle,
            push_m_s2: self.motor_share * self.full_current_m_s2,
            grade: self.here.grade,
        });
        Moment { time_s, output, row, action }
    }

    fn look_at_road(&mut self) {
        self.here = self.course.here(self.vehicle.distance_m());
        let Here { grade, surface, headwind_m_s, .. } = self.here;
        self.road.grade = grade;
        self.road.friction = surface.friction();
        self.road.rolling_factor = surface.rolling_factor();
        self.road.headwind_m_s = headwind_m_s + self.air.headwind_m_s;
    }

    /// The plant from this tick to the next.
    fn step(&mut self, command: Option<f64>, foot_m_s2: f64) {
        let foot_brake_N = foot_m_s2 * self.vehicle.parts().body.mass_kg();
        let (mut charge, mut volts) = (0.0, 0.0);
        let mut fresh = command;
        for _ in 0..STEPS_PER_TICK {
            let source = self.pack.source();
            let drawn = self.vehicle.step(fresh.take(), foot_brake_N, source, &self.road);
            self.motor_share = drawn.motor_current_A / self.vehicle.parts().controller.max_motor_A;
            charge += drawn.battery_current_A;
            volts += self.pack.step(drawn.battery_current_A);
        }
        self.pack_current_A = charge / f64::from(STEPS_PER_TICK);
        self.pack_voltage_V = volts / f64::from(STEPS_PER_TICK);
    }

    /// The telemetry of this tick, where a frame is due.
    fn sense(&mut self, time_s: f64, thumb: f64, link_ok: bool) -> Option<RideRow> {
        let due = self.sensors.is_due(time_s);
        if !due && !self.sensors.counts_all() {
            return None;
        }
        let lowest_V = (due && self.cell_voltages).then(|| self.pack.group_voltages_V().0);
        let measured = Measured {
            time_s,
            pack_voltage_V: Some(self.pack_voltage_V),
            pack_current_A: Some(self.pack_current_A),
            charge_drawn_Ah: None,
            cell_voltage_min_V: lowest_V,
            cell_temperature_degC: Some(self.pack.cell_temperature_degC()),
            speed_m_s: Some(self.vehicle.shown_speed_m_s()),
            distance_m: Some(self.vehicle.shown_distance_m()),
            elevation_m: None,
            thumb: Some(thumb),
            link_ok,
        };
        let mut row = self.sensors.sense(RideRow { measured, true_soc: None })?;
        row.true_soc = Some(self.true_soc());
        // A frame has digits, as a log has: what is replayed is what was lived.
        Some(row.as_written())
    }

    /// Seconds since the handheld was switched on.
    #[must_use]
    #[allow(clippy::cast_precision_loss, reason = "a ride has far fewer than 2^53 ticks")]
    pub fn now_s(&self) -> f64 {
        self.tick as f64 / f64::from(TICKS_PER_S)
    }

    /// How the ride has ended; nothing while it goes on.
    #[must_use]
    pub fn ending(&self) -> Option<Ending> {
        if self.course.arrived() { Some(Ending::Arrived) } else { self.drive_left.ending() }
    }

    /// How long the way is; nothing where the ride goes on without end, or is one by time.
    #[must_use]
    pub fn length_m(&self) -> Option<f64> {
        self.course.length_m()
    }

    /// Makes the ride go on past its end, the same pattern over and over.
    pub fn ride_on(&mut self) {
        self.course.ride_on();
    }

    /// What has to outlive the ride.
    #[must_use]
    pub fn life(&self) -> Option<Life> {
        self.handheld.life()
    }

    /// True charge: 0 where a group was drawn below empty, a little over 1 where a full pack was
    /// charged.
    #[must_use]
    pub fn true_soc(&self) -> f64 {
        self.pack.true_soc().clamp(0.0, 1.1)
    }

    /// The true pack.
    #[must_use]
    pub const fn pack(&self) -> &Pack {
        &self.pack
    }

    /// The true vehicle.
    #[must_use]
    pub const fn vehicle(&self) -> &Vehicle {
        &self.vehicle
    }

    /// The road under it.
    #[must_use]
    pub const fn here(&self) -> &Here {
        &self.here
    }

    /// What should not have happened, so far.
    #[must_use]
    pub const fn violations(&self) -> &Violations {
        self.watch.violations()
    }
}

#[cfg(test)]
mod tests;
