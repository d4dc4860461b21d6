//! The closed loop: plant, sensors, radio and rider around the very handheld that is flashed.
//!
//! ```text
//! route ─► rider ─► thumb ─► handheld ─► radio ─► receiver ─► motor controller ─► wheels ─► road
//!                               ▲                                   │
//!                             radio ◄──────── sensors ◄──────────── pack
//! ```
//!
//! The plant and the receiver step a hundred times a second; the hand ticks and sends fifty times;
//! telemetry comes at the sensors' own rate. Between the two ends fly the very frames that a radio
//! would carry, sealed (`link`). What breaks lies between them (`faults`). A seed is a ride: the same one on every machine. Everything can be
//! cloned, so that a ride can be gone on with in two ways.
//! Takes a [`Setup`]; used by `campaign` and `cli`. Writes nothing, reads no clock.

mod board_end;
mod course;
mod ending;
mod hand;
mod plain_stop;
mod refusals;
mod seal;
mod second_hand;
mod setup;
mod talk;
mod watch;

pub use course::Pattern;
pub use ending::Ending;
pub use refusals::Refusals;
pub use setup::{Air, Setup, WeldFailure, WorldError};
pub use watch::{Violation, Violations};

use homestretch::handheld::Output;
use homestretch::range::WayHome;
use homestretch::receiver::{Measured as BoardMeasured, Order};
use homestretch::store::Life;
use homestretch::throttle::{Hand, Settings};
use homestretch::units::{MetresPerSecond, Ratio, Volts};

use crate::board_file::BoardFile;
use crate::faults::{Air as OnAir, End, Faults};
use crate::plant::pack::Pack;
use crate::plant::radio::{Frame, Radio};
use crate::plant::rider::{Action, Rider};
use crate::plant::{Road, Vehicle, air_density_kg_m3};
use crate::ride::{Measured, RideRow};
use crate::route::Here;
use crate::sensors::Sensors;

use board_end::BoardEnd;
use course::Course;
use ending::{DriveLeft, Try};
use hand::HandInWorld;
use plain_stop::PlainStop;
use seal::Seal;
use second_hand::SecondHand;
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

/// A step of the plant in microseconds.
const STEP_US: u64 = 10_000;

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
    hand: HandInWorld<'b>,
    board_end: BoardEnd<'b>,
    second_hand: Option<SecondHand>,
    on_air: OnAir,
    /// What was heard last: room that is used again.
    frames: Vec<Frame>,
    faults: Faults,
    pace: u8,
    /// The hand is away from its radio: what it sends reaches nobody.
    hand_is_gone: bool,
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
    /// Out of the pack's terminals since the beginning.
    energy_drawn_J: f64,
    /// Motor current over the greatest, and the acceleration that the greatest stands for.
    motor_share: f64,
    /// Where the pack begins to hold the drive back, under load.
    soften_V: f64,
    full_current_m_s2: f64,
    drive_left: DriveLeft,
    plain_stop: PlainStop,
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
        let seal = Seal::new(setup.seal, seed);
        let faults = Faults::new(&setup.faults, seed);
        let second_hand =
            faults.has_another_hand().then(|| SecondHand::new(seal.clone())).flatten();
        let density = air_density_kg_m3(setup.air.temperature_degC, setup.air.pressure_Pa);
        let road = Road { air_density_kg_m3: density, ..Road::default() };
        Ok(Self {
            hand: HandInWorld::new(board, life, seal.clone()),
            board_end: BoardEnd::new(&board.throttle, seal),
            second_hand,
            on_air: OnAir::new(&faults, seed),
            frames: Vec::new(),
            faults,
            pace: setup.pace,
            hand_is_gone: false,
            throttle: &board.throttle,
            rider: Rider::new(setup.rider, seed)?,
            radio: Radio::new(&setup.radio, seed)?,
            sensors: Sensors::new(&setup.sensors, seed)?,
            here: course.here(0.0),
            pack_current_A: 0.0,
            pack_voltage_V: pack.voltage_V(),
            energy_drawn_J: 0.0,
            motor_share: 0.0,
            soften_V: board.board.pack().soften_below.to_f64(),
            full_current_m_s2: parts.full_current_acceleration.to_f64(),
            watch: Watch::new(board),
            pack,
            vehicle,
            course,
            road,
            air: setup.air,
            weld: setup.weld,
            cell_voltages: setup.cell_voltages,
            tick: 0,
            drive_left: DriveLeft::default(),
            plain_stop: PlainStop::new(board.board.pack().stop_below.to_f64()),
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
        let mut slot = self.faults.radio(time_s, self.radio.slot());
        slot.command &= !self.hand_is_gone;
        let due = self.sense(time_s, action.thumb);
        self.board_tells(time_s, due.as_ref(), slot.telemetry);
        let clock_us = whole_micros(self.faults.hand_clock_s(time_s));
        let power = self.faults.hand(time_s);
        let starts = self.hand.starts();
        let lives = self.hand.lives(power, (self.tick * TICK_US, clock_us));
        if self.hand.starts() != starts {
            self.watch.hand_starts();
        }
        let told = self.hand_hears(lives);
        let row = self.row((time_s, action.thumb), told.as_ref(), due.is_some());
        self.hand_sends(lives, (time_s, action.thumb), row.as_ref(), slot.command);
        let order = self.step(time_s, action.foot_m_s2);
        self.tick += 1;
        let speed_m_s = self.vehicle.speed_m_s();
        self.drive_left = self.drive_left.after(&Try {
            thumb: action.thumb,
            lets_go: action.lets_go,
            speed_m_s,
            wish_m_s: self.course.wish_m_s(),
            heard: slot.command && slot.telemetry && lives && order.is_some(),
            pack_is_low: self.pack_voltage_V < self.soften_V,
        });
        self.plain_stop.look(self.pack_voltage_V, self.vehicle.distance_m());
        self.watch.look(&Scene {
            output: self.hand.output(),
            thumb: action.thumb,
            hand_lives: lives,
            taken: self.board_end.taken(),
            order: order.as_ref(),
            pack: &self.pack,
            pack_voltage_V: self.pack_voltage_V,
            pack_current_A: self.pack_current_A,
            vehicle: &self.vehicle,
            push_m_s2: self.motor_share * self.full_current_m_s2,
            grade: self.here.grade,
        });
        self.board_end.forget();
        Moment { time_s, output: *self.hand.output(), row, action }
    }

    /// What the hand's own converters read, and the pace that was chosen.
    fn hand_now(&mut self, time_s: f64, thumb: f64) -> Hand {
        let calibration = &self.throttle.parts().calibration;
        let thumb = Ratio::from_f64(thumb).unwrap_or(Ratio::ZERO);
        let count = calibration.count_for(thumb);
        let count = self.faults.thumb(time_s, count, calibration.counts().full_scale);
        let battery = self.faults.hand_battery_V(time_s).and_then(Volts::from_f64);
        Hand { thumb: count, pace: self.faults.pace(time_s).unwrap_or(self.pace), battery }
    }

    fn look_at_road(&mut self) {
        self.here = self.course.here(self.vehicle.distance_m());
        let Here { grade, surface, headwind_m_s, .. } = self.here;
        self.road.grade = grade;
        self.road.friction = surface.friction();
        self.road.rolling_factor = surface.rolling_factor();
        self.road.headwind_m_s = headwind_m_s + self.air.headwind_m_s;
    }

    /// The board from this tick to the next: what its end last put out, if anything.
    fn step(&mut self, time_s: f64, foot_m_s2: f64) -> Option<Order> {
        let foot_brake_N = foot_m_s2 * self.vehicle.parts().body.mass_kg();
        let (mut charge, mut volts, mut watts) = (0.0, 0.0, 0.0);
        let power = self.faults.board(time_s);
        let mut order = None;
        for step in 0..u64::from(STEPS_PER_TICK) {
            let measured = BoardMeasured {
                pack_voltage: Some(Volts::from_bits(nearest_bits(self.pack_voltage_V))),
                speed: Some(MetresPerSecond::from_bits(nearest_bits(
                    self.vehicle.shown_speed_m_s(),
                ))),
            };
            let now_us = self.tick * TICK_US + step * STEP_US;
            self.on_air.heard(&self.faults, now_us, End::Board, &mut self.frames);
            let starts = self.board_end.starts();
            order = self.board_end.tick(power, now_us, &self.frames, &measured);
            if self.board_end.starts() != starts {
                self.watch.board_starts();
            }
            let pulse = order.map(|order: Order| order.share.to_f64());
            let source = self.pack.source();
            let drawn = self.vehicle.step(pulse, foot_brake_N, source, &self.road);
            self.motor_share = drawn.motor_current_A / self.vehicle.parts().controller.max_motor_A;
            charge += drawn.battery_current_A;
            let terminal_V = self.pack.step(drawn.battery_current_A);
            volts += terminal_V;
            watts += terminal_V * drawn.battery_current_A;
        }
        self.energy_drawn_J += watts / f64::from(STEPS_PER_TICK * TICKS_PER_S);
        self.pack_current_A = charge / f64::from(STEPS_PER_TICK);
        self.pack_voltage_V = volts / f64::from(STEPS_PER_TICK);
        order
    }

    /// What the board's sensors say in this tick, where a frame is due.
    fn sense(&mut self, time_s: f64, thumb: f64) -> Option<RideRow> {
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
            motor_temperature_degC: Some(self.vehicle.winding_degC()),
            controller_temperature_degC: None,
            speed_m_s: Some(self.vehicle.shown_speed_m_s()),
            distance_m: Some(self.vehicle.shown_distance_m()),
            elevation_m: None,
            thumb: Some(thumb),
            link_ok: true,
        };
        let mut row = self.sensors.sense(RideRow { measured, true_soc: None })?;
        self.faults.telemetry(time_s, &mut row.measured);
        Some(row)
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

    /// The way home, as the handheld has it.
    #[must_use]
    pub fn way_home(&self) -> WayHome {
        self.hand.handheld().way_home()
    }

    /// The rider turns here, and tells the handheld so: the way leads back to its beginning.
    pub fn turn_home(&mut self) {
        self.course.turn(self.vehicle.distance_m());
        self.hand.turn_home();
    }

    /// Another pace is chosen, by its number.
    pub fn choose_pace(&mut self, number: u8) {
        self.pace = number;
    }

    /// Whether what the hand sends reaches nobody, from now on.
    pub fn hand_is_gone(&mut self, gone: bool) {
        self.hand_is_gone = gone;
    }

    /// What the board's end last put out; nothing before that, and while it is off.
    #[must_use]
    pub const fn order(&self) -> Option<Order> {
        self.board_end.order()
    }

    /// What has to outlive the ride.
    #[must_use]
    pub fn life(&self) -> Option<Life> {
        self.hand.life()
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

    /// Energy out of the pack's terminals since the ride began, J.
    #[must_use]
    pub const fn energy_drawn_J(&self) -> f64 {
        self.energy_drawn_J
    }

    /// What the handheld thinks that a metre takes, J.
    #[must_use]
    pub fn per_metre_J(&self) -> f64 {
        self.hand.per_metre_J()
    }

    /// Where a controller that only knows the stop voltage would have ended the ride: the pack had
    /// stood below it for half a second. Nothing where it never has.
    #[must_use]
    pub const fn plain_stop_m(&self) -> Option<f64> {
        self.plain_stop.at_m()
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

    /// The speed that the handheld allows by now, for its brake, and that of the pace that is ridden in.
    #[must_use]
    pub fn speed_limits_m_s(&self) -> (f64, f64) {
        let parts = self.throttle.parts();
        let pace = parts.paces.pace(self.pace).top_speed.min(parts.limits.top_speed.end);
        (self.hand.handheld().throttle().speed_limit().to_f64(), pace.to_f64())
    }

    /// How often a demand for drive had to wait for a neutral thumb after a silence.
    #[must_use]
    pub const fn lockouts(&self) -> u32 {
        self.board_end.lockouts()
    }

    /// What the hand's and the board's end of the link have refused.
    #[must_use]
    pub fn refused(&self) -> [Refusals; 2] {
        [self.hand.refused(), self.board_end.refused()]
    }

    /// What should not have happened, so far.
    #[must_use]
    pub const fn violations(&self) -> &Violations {
        self.watch.violations()
    }
}

/// A reading in steps of 2^-16; those that don't fit stay at the end.
#[allow(clippy::cast_possible_truncation, reason = "a cast of this kind saturates")]
fn nearest_bits(reading: f64) -> i32 {
    (reading * 65_536.0).round() as i32
}

/// Seconds as whole microseconds, of either sign.
#[allow(clippy::cast_possible_truncation, reason = "a day has far fewer than 2^53 microseconds")]
fn whole_micros(seconds: f64) -> i64 {
    (seconds * 1e6).round() as i64
}

#[cfg(test)]
mod tests;
