//! The loop from thumb to wheel and back, without a radio: the library's throttle and receiver before the
//! plant.
//!
//! As in `world`: the plant and the receiver step a hundred times a second, the hand ticks fifty times,
//! telemetry comes ten times. What is left out is what a radio and sensors do, so that the same thumb is the
//! same ride, and what is felt is the settings' own.

use homestretch::receiver::{Command, Measured, Receiver, Sender};
use homestretch::throttle::{Conditions, Demand, Hand, Reasons, Settings, Throttle};
use homestretch::time::{Duration, Instant};
use homestretch::units::{Amperes, Celsius, MetresPerSecond, Ratio, Volts};

use super::machine::Standing;
use crate::plant::{STEP_S, Vehicle};

/// Steps of the plant in a tick of the hand, and in a frame of telemetry.
const STEPS_PER_TICK: u32 = 2;
const STEPS_PER_FRAME: u32 = 10;
const STEP_US: u64 = 10_000;

/// So long the thumb rests before a trial: twice what arming wants, and what the link takes for whole.
const RESTS_FOR_STEPS: u32 = 120;

const SENDER: Sender = Sender { hand: 0, start: 1 };

/// What a step came to.
#[derive(Clone, Copy, Debug)]
pub struct Felt {
    /// Since the trial began, s.
    pub time_s: f64,
    /// What the hand asks, m/s² by the board file's mass, drive positive.
    pub demand_m_s2: f64,
    /// Of the board, m/s².
    pub acceleration_m_s2: f64,
    /// Of the board, m/s.
    pub speed_m_s: f64,
    /// Of each motor, driving positive.
    pub motor_A: f64,
    /// Out of the pack.
    pub pack_A: f64,
    /// Why the demand is no more.
    pub reasons: Reasons,
}

/// A board with its settings, rolling.
#[derive(Clone, Debug)]
pub struct Trial<'s> {
    settings: &'s Settings,
    throttle: Throttle,
    receiver: Receiver,
    board: Standing,
    demand: Option<Demand>,
    share: Option<f64>,
    steps: u32,
    clock_us: u64,
    pack_V: f64,
    pack_A: f64,
}

impl<'s> Trial<'s> {
    /// `board` rolling at `speed_m_s`, its thumb at rest for long enough to be believed.
    #[must_use]
    pub fn rolling(board: &Standing, settings: &'s Settings, speed_m_s: f64) -> Self {
        let mut board = board.clone();
        board.vehicle = board.vehicle.at_speed(speed_m_s);
        let pack_V = board.pack.voltage_V();
        let mut trial = Self {
            settings,
            throttle: Throttle::new(),
            receiver: Receiver::new(),
            board,
            demand: None,
            share: None,
            steps: 0,
            clock_us: 0,
            pack_V,
            pack_A: 0.0,
        };
        for _ in 0..RESTS_FOR_STEPS {
            trial.hand(0.0);
            trial.board_end();
            trial.steps += 1;
        }
        trial.steps = 0;
        trial
    }

    /// One step of the plant with the thumb at -1, full brake, to 1.
    pub fn step(&mut self, thumb: f64) -> Felt {
        self.hand(thumb);
        self.board_end();
        let Standing { vehicle, pack, road, .. } = &mut self.board;
        let drawn = vehicle.step(self.share, 0.0, pack.source(), road);
        self.pack_V = pack.step(drawn.battery_current_A);
        self.pack_A = drawn.battery_current_A;
        self.steps += 1;
        Felt {
            time_s: f64::from(self.steps) * STEP_S,
            demand_m_s2: self.demand.map_or(0.0, |demand| demand.acceleration.to_f64()),
            acceleration_m_s2: vehicle.acceleration_m_s2(),
            speed_m_s: vehicle.speed_m_s(),
            motor_A: drawn.motor_current_A,
            pack_A: drawn.battery_current_A,
            reasons: self.demand.map_or(Reasons::NONE, |demand| demand.reasons),
        }
    }

    /// The speed that the library allows, m/s.
    #[must_use]
    pub fn speed_limit_m_s(&self) -> f64 {
        self.throttle.speed_limit().to_f64()
    }

    /// Way since the trial began, m.
    #[must_use]
    pub fn distance_m(&self) -> f64 {
        self.board.vehicle.distance_m()
    }

    /// The throttle, for a look inside.
    #[must_use]
    pub const fn throttle(&self) -> &Throttle {
        &self.throttle
    }

    fn hand(&mut self, thumb: f64) {
        if !self.steps.is_multiple_of(STEPS_PER_TICK) {
            return;
        }
        if self.steps.is_multiple_of(STEPS_PER_FRAME) {
            let heard = conditions(&self.board, &self.board.vehicle, (self.pack_V, self.pack_A));
            self.throttle.hear(&heard, self.settings);
        }
        let now = Instant::from_micros(self.clock_us);
        let hand = hand(self.settings, thumb);
        self.demand = Some(self.throttle.tick(now, &hand, Some(Duration::ZERO), self.settings));
    }

    fn board_end(&mut self) {
        let command = self
            .demand
            .filter(|_| self.steps.is_multiple_of(STEPS_PER_TICK))
            .map(|demand| Command::of(&demand, SENDER));
        let measured = Measured {
            pack_voltage: Volts::from_f64(self.pack_V),
            speed: MetresPerSecond::from_f64(self.board.vehicle.shown_speed_m_s()),
        };
        let now = Instant::from_micros(self.clock_us);
        let order = self.receiver.tick(now, command.as_ref(), &measured, self.settings);
        self.share = Some(order.share.to_f64());
        self.clock_us += STEP_US;
    }
}

/// A thumb at -1 to 1, as its sensor has it; the first pace.
pub(super) fn hand(settings: &Settings, thumb: f64) -> Hand {
    let ratio = Ratio::from_f64(thumb).unwrap_or(Ratio::ZERO);
    Hand::from(settings.parts().calibration.count_for(ratio))
}

/// What telemetry says of a board.
pub(super) fn conditions(
    board: &Standing,
    vehicle: &Vehicle,
    (pack_V, pack_A): (f64, f64),
) -> Conditions {
    Conditions {
        pack_voltage: Volts::from_f64(pack_V),
        pack_current: Amperes::from_f64(pack_A),
        cell_temperature: Celsius::from_f64(board.pack.cell_temperature_degC()),
        motor_temperature: Celsius::from_f64(vehicle.winding_degC()),
        controller_temperature: None,
        charge: board.charge,
        charge_high: board.charge_high,
        speed: MetresPerSecond::from_f64(vehicle.shown_speed_m_s()),
    }
}
