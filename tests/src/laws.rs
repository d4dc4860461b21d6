//! The laws of thumb and receiver over very many random ticks: what a property test cannot afford.
//!
//! A stream of ticks is a life: settings, then thumbs, scenes, clocks, losses and restarts, with stretches
//! in which nothing changes, as rides have. Each law is held after each tick, with bounds worked out
//! here. Streams are independent, so that the count does not depend on the number of threads.

use homestretch::receiver::{Command, Measured, Receiver, Sender};
use homestretch::throttle::{
    Calibration, Conditions, Counts, Demand, Hand, Parts, RateSettings, Settings, Throttle, Usual,
};
use homestretch::time::{Duration, Instant};
use homestretch::units::{
    Amperes, Celsius, Kilograms, MetresPerSecond, MetresPerSecondCubed, MetresPerSecondSquared,
    Ratio, Volts,
};
use rand::{Rng as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;
use serde::Serialize;

/// Ticks of one stream.
const STREAM: u64 = 50_000;

/// Names of the laws, in the order of their counts.
pub const LAWS: [&str; 12] = [
    "more thumb is never less demand",
    "drive comes no faster than drive on, or than a hard limit gives it back",
    "drive goes no faster than drive off or a hard limit",
    "a brake comes no faster than brake on, or than a hard limit gives it back",
    "a brake goes no faster than brake off or a hard limit",
    "zero thumb or brake is no drive within its time",
    "drive waits for its pause after a brake",
    "nothing is beyond all there is, and backwards is never forwards",
    "the board's end: drive comes no faster than drive on, or than a hard limit gives it back",
    "the board's end: drive is zero a quarter of a second after the last frame",
    "the board's end: nothing but a frame brings drive back",
    "the board's end: after a long silence or a start, drive waits for a neutral thumb",
];

/// What came of it.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Held {
    /// Ticks lived, each with one of the hand and one or two of the board's end.
    pub ticks: u64,
    /// Ticks with drive at the wheels, to tell that something happened.
    pub driven: u64,
    /// Ticks with a brake at the wheels.
    pub braked: u64,
    /// Ticks with a drive backwards.
    pub backward: u64,
    /// Frames that were lost.
    pub lost: u64,
    /// How often each law was broken.
    pub broken: [u64; LAWS.len()],
}

impl Held {
    fn and(mut self, other: &Self) -> Self {
        self.ticks += other.ticks;
        self.driven += other.driven;
        self.braked += other.braked;
        self.backward += other.backward;
        self.lost += other.lost;
        for (count, more) in self.broken.iter_mut().zip(other.broken) {
            *count += more;
        }
        self
    }

    fn law(&mut self, place: usize, holds: bool) {
        if let Some(count) = self.broken.get_mut(place).filter(|_| !holds) {
            *count += 1;
        }
    }
}

/// Lives `ticks` ticks, rounded up to whole streams.
#[must_use]
pub fn live(ticks: u64, seed: u64) -> Held {
    let streams = ticks.div_ceil(STREAM);
    (0..streams)
        .into_par_iter()
        .map(|stream| Life::new(seed, stream).live())
        .reduce(Held::default, |one, other| one.and(&other))
}

/// One stream.
struct Life {
    numbers: ChaCha8Rng,
    settings: Settings,
    throttle: Throttle,
    receiver: Receiver,
    now_us: u64,
    start: u32,
    thumb: u16,
    scene: Conditions,
    age_us: Option<u64>,
    calm: bool,
    creeps: bool,
    pace: u8,
    loss: u64,
    battery: Option<Volts>,
    held: Held,
    // What the laws remember.
    hand_m_s2: f64,
    board_m_s2: f64,
    idle_us: u64,
    rest_us: u64,
    since_brake_us: u64,
    heard_us: Option<u64>,
    heard_start: Option<u32>,
    needs_neutral: bool,
}

impl Life {
    fn new(seed: u64, stream: u64) -> Self {
        let mut numbers = ChaCha8Rng::seed_from_u64(seed);
        numbers.set_stream(stream);
        let settings = settings(&mut numbers);
        Self {
            settings,
            numbers,
            throttle: Throttle::new(),
            receiver: Receiver::new(),
            now_us: 1_000_000,
            start: 1,
            thumb: 2000,
            scene: Conditions::default(),
            age_us: None,
            calm: true,
            creeps: false,
            pace: 0,
            loss: 0,
            battery: None,
            held: Held::default(),
            hand_m_s2: 0.0,
            board_m_s2: 0.0,
            idle_us: 0,
            rest_us: 0,
            since_brake_us: u64::MAX,
            heard_us: None,
            heard_start: None,
            needs_neutral: true,
        }
    }

    fn below(&mut self, most: u64) -> u64 {
        self.numbers.next_u64() % most.max(1)
    }

    fn between(&mut self, low: i64, high: i64) -> i64 {
        let width = u64::try_from(high - low).unwrap_or(1);
        low + i64::try_from(self.below(width.max(1))).unwrap_or(0)
    }

    fn bits(&mut self, low: i64, high: i64) -> i32 {
        i32::try_from(self.between(low, high)).unwrap_or(0)
    }

    fn live(mut self) -> Held {
        for _ in 0..STREAM {
            self.change();
            self.tick();
        }
        self.held
    }

    /// Now and then something changes; what is absurd comes as well, but seldom.
    fn change(&mut self) {
        if self.below(90) == 0 {
            self.thumb = match self.below(10) {
                0..=2 => 2000,
                3..=4 => 3300,
                5..=6 => 800,
                7..=8 => u16::try_from(self.between(600, 3500)).unwrap_or(2000),
                _ => u16::try_from(self.below(65_536)).unwrap_or(0),
            };
        }
        if self.below(8) == 0 {
            // Mostly a ride on which all is well, or nothing would ever drive.
            if self.below(300) == 0 {
                self.calm = !self.calm;
            }
            self.scene = if self.calm { self.calm_scene() } else { self.any_scene() };
            self.age_us = Some(0);
        }
        match self.below(4000) {
            0 => self.age_us = None,
            1 => self.pace = u8::try_from(self.below(6)).unwrap_or(0),
            2 => self.loss = [0, 0, 2, 5, 10, 10][usize::try_from(self.below(6)).unwrap_or(0)],
            3 => {
                self.throttle = Throttle::new();
                self.start = self.start.wrapping_add(1);
                (self.hand_m_s2, self.idle_us, self.since_brake_us) = (0.0, 0, u64::MAX);
            }
            4 => {
                self.receiver = Receiver::new();
                (self.board_m_s2, self.heard_us, self.needs_neutral) = (0.0, None, true);
                self.heard_start = None;
            }
            5 => self.battery = Some(Volts::from_milli(self.bits(2500, 4300))),
            _ => {}
        }
    }

    /// Nothing limits; half of the time the board stands or creeps, where directions change.
    fn calm_scene(&mut self) -> Conditions {
        if self.below(60) == 0 {
            self.creeps = !self.creeps;
        }
        let speed = if self.creeps { self.bits(-9000, 9000) } else { self.bits(1 << 16, 3 << 16) };
        Conditions {
            pack_voltage: Some(Volts::from_whole(44)),
            pack_current: Some(Amperes::from_whole(5)),
            cell_temperature: Some(Celsius::from_whole(25)),
            charge: Ratio::from_percent(60),
            charge_high: Ratio::from_percent(70),
            speed: Some(MetresPerSecond::from_bits(speed)),
            ..Conditions::default()
        }
    }

    fn any_scene(&mut self) -> Conditions {
        let absurd = self.below(40) == 0;
        let mut one = |low: i64, high: i64| {
            let present = self.below(10) > 0;
            let (low, high) =
                if absurd { (i64::from(i32::MIN), i64::from(i32::MAX)) } else { (low, high) };
            present.then(|| self.bits(low, high))
        };
        Conditions {
            pack_voltage: one(34 << 16, 51 << 16).map(Volts::from_bits),
            pack_current: one(-15 << 16, 45 << 16).map(Amperes::from_bits),
            cell_temperature: one(-10 << 16, 60 << 16).map(Celsius::from_bits),
            motor_temperature: one(10 << 16, 115 << 16).map(Celsius::from_bits),
            controller_temperature: one(10 << 16, 95 << 16).map(Celsius::from_bits),
            charge: Ratio::from_bits(one(0, 1 << 24).unwrap_or(0)),
            charge_high: Ratio::from_bits(one(0, 1 << 24).unwrap_or(1 << 24)),
            speed: one(-1 << 16, 7 << 16).map(MetresPerSecond::from_bits),
        }
    }

    fn tick(&mut self) {
        let step_us = 1000 + self.below(9000);
        let late = self.below(20_000);
        let back = late == 0;
        let step_us = if late == 1 { self.below(3_000_000) } else { step_us };
        self.now_us = if back {
            self.now_us.saturating_sub(self.below(5_000_000))
        } else {
            self.now_us + step_us
        };
        self.age_us = self.age_us.map(|age| age + step_us);
        if self.age_us == Some(step_us) {
            self.throttle.hear(&self.scene, &self.settings);
        }
        let now = Instant::from_micros(self.now_us);
        let age = self.age_us.map(Duration::from_micros);
        let hand = Hand { thumb: self.thumb, pace: self.pace, battery: self.battery };
        let other = Hand { thumb: u16::try_from(self.between(600, 3500)).unwrap_or(0), ..hand };
        let alike = self.throttle.clone().tick(now, &other, age, &self.settings);
        let demand = self.throttle.tick(now, &hand, age, &self.settings);
        self.hand_laws(&demand, (&alike, other.thumb), (step_us, back));
        let sender = Sender { hand: 1, start: self.start };
        let lost = self.below(10) < self.loss;
        self.held.lost += u64::from(lost);
        let command = (!lost).then(|| Command::of(&demand, sender));
        self.board(now, command.as_ref(), (step_us, back));
        self.held.ticks += 1;
    }

    fn hand_laws(&mut self, demand: &Demand, other: (&Demand, u16), (step_us, back): (u64, bool)) {
        let parts = *self.settings.parts();
        let felt = demand.acceleration.to_f64();
        let seconds = if back { 0.0 } else { step_us.min(100_000) as f64 / 1e6 };
        let (alike, thumb) = other;
        let within = |count: u16| (600..=3500).contains(&count);
        if within(self.thumb) {
            let ordered = (self.thumb <= thumb) == (demand.share <= alike.share);
            self.held.law(0, ordered || demand.share == alike.share || self.thumb == thumb);
        }
        let rates = &parts.rates;
        let (drive_full, brake_full) =
            (parts.curves.drive.greatest().to_f64(), parts.curves.brake.greatest().to_f64());
        let off = (drive_full / (rates.drive_off_within.to_millis() as f64 / 1000.0))
            .max(rates.drive_on.to_f64())
            .max(drive_full / 0.5);
        let slack = 1e-3;
        let before = self.hand_m_s2;
        let drive = felt.max(0.0) - before.max(0.0);
        let brake = before.min(0.0) - felt.min(0.0);
        let drive_on = rates.drive_on.to_f64().max(drive_full / 5.0);
        self.held.law(1, drive <= drive_on * seconds + slack);
        self.held.law(2, -drive <= off * seconds + slack);
        // What a hard limit took comes back within a second for all of it.
        let brake_on = rates.brake_on.to_f64().max(brake_full);
        self.held.law(3, brake <= brake_on * seconds + slack);
        let brake_off = rates.brake_off.to_f64().max(brake_full / 0.5).max(off);
        self.held.law(4, -brake <= brake_off * seconds + slack);
        // What the sensor reads: zero, a brake or nothing at all.
        let asks_drive = demand.asked > Ratio::ZERO;
        let step_us = if back { 0 } else { step_us.min(100_000) };
        self.idle_us = if asks_drive { 0 } else { self.idle_us.saturating_add(step_us) };
        self.rest_us = if demand.neutral { self.rest_us.saturating_add(step_us) } else { 0 };
        let gone = rates.drive_off_within.to_micros() + 20_000;
        let driven_back = demand.backward && felt < 0.0;
        let idle = if driven_back { !demand.neutral } else { felt <= 0.0 };
        self.held.law(5, idle || self.idle_us < gone || driven_back && self.rest_us < gone);
        let drives = felt > 0.0;
        self.since_brake_us = if felt < 0.0 && !demand.backward {
            0
        } else {
            self.since_brake_us.saturating_add(step_us)
        };
        self.held.law(6, !drives || self.since_brake_us >= rates.pause.to_micros());
        let sane = demand.share.magnitude() <= Ratio::ONE
            && !(demand.backward && demand.share > Ratio::ZERO);
        self.held.law(7, sane);
        self.held.backward += u64::from(demand.backward && demand.share < Ratio::ZERO);
        self.hand_m_s2 = felt;
    }

    fn board(&mut self, now: Instant, command: Option<&Command>, (step_us, back): (u64, bool)) {
        let measured = Measured { pack_voltage: self.scene.pack_voltage, speed: None };
        let long =
            self.heard_us.is_none_or(|heard| back || self.now_us.saturating_sub(heard) > 1_000_000);
        if let Some(command) = command {
            let anew = self.heard_start.is_some_and(|start| start != command.sender.start);
            self.heard_start = Some(command.sender.start);
            self.needs_neutral |= anew || long && self.heard_us.is_some();
            self.needs_neutral &= !rests(command);
            self.heard_us = Some(self.now_us);
        }
        if back {
            self.needs_neutral |= !command.is_some_and(rests);
            self.heard_us = self.heard_us.map(|_| self.now_us);
        }
        let order = self.receiver.tick(now, command, &measured, &self.settings);
        let full = self.settings.parts().full_current_acceleration.to_f64();
        // A drive backwards is a drive: what is felt counts as one, either way.
        let felt = order.share.to_f64() * full;
        let felt = if order.backward { felt.abs() } else { felt };
        let before = self.board_m_s2;
        let seconds = if back { 0.0 } else { step_us.min(100_000) as f64 / 1e6 };
        let parts = self.settings.parts();
        let given_back = parts.curves.drive.greatest().to_f64() / 5.0;
        let drive_on = parts.rates.drive_on.to_f64().max(given_back);
        let drive = felt.max(0.0) - before.max(0.0);
        self.held.law(8, drive <= drive_on * seconds + 1e-3);
        let silent_us = self.heard_us.map_or(u64::MAX, |heard| self.now_us.saturating_sub(heard));
        self.held.law(9, silent_us < 240_000 || felt <= 0.0);
        self.held.law(10, command.is_some() || silent_us <= 80_000 || drive <= 1e-4);
        self.held.law(11, !self.needs_neutral || felt <= 1e-4 || drive <= 0.0);
        self.held.driven += u64::from(felt > 0.0);
        self.held.braked += u64::from(felt < 0.0 && !order.backward);
        self.board_m_s2 = felt;
    }
}

/// Whether the thumb rests, and no drive is on its way off any more.
fn rests(command: &Command) -> bool {
    let drives = command.share > Ratio::ZERO || command.backward && command.share < Ratio::ZERO;
    command.neutral && !drives
}

/// Settings of a board that there might be.
fn settings(numbers: &mut ChaCha8Rng) -> Settings {
    let mut between = |low: i32, high: i32| {
        let width = u32::try_from(high - low).unwrap_or(1).max(1);
        low + i32::try_from(numbers.next_u32() % width).unwrap_or(0)
    };
    let calibration = Calibration::new(Counts {
        full_scale: 4095,
        low: 800,
        centre: 2000,
        high: 3300,
        deadband: 60,
        hysteresis: 20,
        broken_margin: 200,
        reversed: false,
    });
    let usual = Usual {
        series: 12,
        greatest_discharge: Amperes::from_whole(40),
        greatest_charge: Amperes::from_whole(between(2, 60)),
        mass: Kilograms::from_whole(between(40, 130)),
    };
    let full = MetresPerSecondSquared::from_milli(between(1700, 6000));
    let milli = MetresPerSecondCubed::from_milli;
    let brake_off = between(2000, 8000);
    let rates = RateSettings {
        drive_on: milli(between(300, 3000)),
        drive_off_within: Duration::from_millis(u64::try_from(between(50, 300)).unwrap_or(300)),
        brake_on: milli(between(2000, 12_000)),
        brake_off: milli(brake_off),
        brake_ease: milli(between(300, 2000)),
        pause: Duration::from_millis(u64::try_from(between(0, 800)).unwrap_or(0)),
    };
    let reverse = between(0, 2) == 1;
    let usual = calibration.and_then(|calibration| Settings::standard(calibration, &usual, full));
    let made = usual
        .and_then(|usual| Settings::new(Parts { rates, reverse, ..*usual.parts() }).or(Ok(usual)));
    // The parts above lie within all their bounds: a test lives some streams.
    made.unwrap_or_else(|error| panic!("settings that ought to be possible: {error}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_short_life_keeps_all_laws_and_something_happens_in_it() {
        // Twenty streams: reverse is allowed in half of them.
        let held = live(1_000_000, 1);
        assert_eq!(held.broken, [0; LAWS.len()], "{held:?}");
        assert!(held.driven > 5000 && held.braked > 5000 && held.lost > 5000, "{held:?}");
        assert!(held.backward > 50, "{held:?}");
    }
}
