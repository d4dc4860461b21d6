//! The frames of another program, after docs/frames.md: the library makes the same bytes and takes them.
//!
//! Source: `frame_vectors.py`, a program that is not the library, with a permutation that is not its.

use std::fs;
use std::path::Path;

use homestretch::link::{BoardLink, HandLink, Heard, Key, Pair, Refused, Report, next_session};
use homestretch::receiver::{Command, Lock, LockedBy};
use homestretch::telemetry::Telemetry;
use homestretch::throttle::{Arming, Demand, Reasons};
use homestretch::time::{Duration, Instant};
use homestretch::units::{
    Amperes, Celsius, Coulombs, Metres, MetresPerSecond, MetresPerSecondSquared, Ratio, Volts,
};
use homestretch_checks::restarts::Sure;
use serde::Deserialize;

#[derive(Deserialize)]
struct Vectors {
    key: String,
    exchange: Vec<Exchange>,
}

#[derive(Deserialize)]
struct Exchange {
    hand: u8,
    hand_session: u32,
    board_session: u32,
    /// Fiftieths of a second before the first of these frames, in which both sent as they do here.
    before: u32,
    /// Whether the board measures what `report` says, or next to nothing.
    measured: bool,
    frame: Vec<Vector>,
}

#[derive(Deserialize)]
struct Vector {
    sender: String,
    bytes: String,
    #[serde(default)]
    share: i32,
    #[serde(default)]
    brake_left: i32,
    #[serde(default)]
    backward: u8,
    #[serde(default)]
    neutral: u8,
}

fn bytes(hex: &str) -> Vec<u8> {
    let digit = |at: usize| u8::from_str_radix(&hex[at..at + 2], 16).unwrap();
    (0..hex.len()).step_by(2).map(digit).collect()
}

/// What the vectors' board measures, as their maker says it in words.
fn report() -> Report {
    Report {
        telemetry: Telemetry {
            pack_voltage: Volts::from_milli(38_155),
            pack_current: Amperes::from_milli(-7040),
            charge_drawn: Some(Coulombs::from_whole(-90)),
            cell_voltage_min: Some(Volts::from_milli(3655)),
            cell_temperature: Some(Celsius::from_milli(-3500)),
            motor_temperature: Some(Celsius::from_whole(71)),
            controller_temperature: None,
            speed: Some(MetresPerSecond::from_milli(6420)),
            distance: Some(Metres::from_milli(1250)),
            elevation: None,
        },
        age: Duration::from_millis(130),
        lock: Lock::Locked { why: LockedBy::Started },
        held_back: true,
        controller_fault: false,
    }
}

fn demand(vector: &Vector) -> Demand {
    Demand {
        share: Ratio::from_fraction(vector.share, 16_384),
        backward: vector.backward != 0,
        asked: Ratio::ZERO,
        paced: Ratio::ONE,
        acceleration: MetresPerSecondSquared::ZERO,
        reasons: Reasons::NONE,
        armed: Arming::default(),
        neutral: vector.neutral != 0,
        brake_left: Ratio::from_fraction(vector.brake_left, 128),
    }
}

/// What the second exchange's board measures: a voltage and a current beyond what a frame holds.
fn little() -> Report {
    Report {
        telemetry: Telemetry {
            pack_voltage: Volts::from_milli(401_500),
            pack_current: Amperes::from_whole(-700),
            ..Telemetry::default()
        },
        age: Duration::from_secs(2),
        lock: Lock::Locked { why: LockedBy::ClockSteppedBack },
        held_back: false,
        controller_fault: true,
    }
}

/// Both ends of an exchange, and their time.
struct Ends {
    hand: HandLink,
    board: BoardLink,
    at: u64,
    report: Report,
}

impl Ends {
    fn new(key: Key, exchange: &Exchange) -> Self {
        let pair = Pair::new(key, exchange.hand).unwrap();
        let session = |number: u32| next_session(&mut Sure::after(number - 1)).unwrap();
        Self {
            hand: HandLink::new(&pair, session(exchange.hand_session)),
            board: BoardLink::new(&pair, session(exchange.board_session)),
            at: 50,
            report: if exchange.measured { report() } else { little() },
        }
    }

    fn now(&self) -> Instant {
        Instant::from_millis(self.at * 20)
    }

    /// The board sends and the hand hears.
    fn told(&mut self) -> ([u8; 32], Option<Heard>) {
        let frame = self.board.seal(self.now(), &self.report).unwrap();
        (frame, self.hand.open(self.now(), &frame).unwrap())
    }

    /// The hand sends and the board hears; then a fiftieth of a second passes.
    fn asked(&mut self, demand: &Demand) -> Option<([u8; 25], Command)> {
        let frame = self.hand.seal(demand)?;
        let command = self.board.open(self.now(), &frame).unwrap();
        assert_eq!(self.board.open(self.now(), &frame), Err(Refused::Repeated));
        Some((frame, command))
    }
}

// Source: tests/vectors/frames.toml, made by tests/frame_vectors.py with the permutation of the PyPI
// package `ascon` 0.0.9 and a mode written there after NIST SP 800-232.
#[test]
fn source_frames_of_another_program_are_made_and_taken_to_the_bit() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("vectors/frames.toml");
    let vectors: Vectors = toml::from_str(&fs::read_to_string(path).unwrap()).unwrap();
    let key = Key::new(bytes(&vectors.key).try_into().unwrap()).unwrap();
    let mut last = Vec::new();
    for exchange in &vectors.exchange {
        let mut ends = Ends::new(key, exchange);
        let any = demand(exchange.frame.iter().find(|vector| vector.sender == "hand").unwrap());
        for _ in 0..exchange.before {
            let _ = (ends.told(), ends.asked(&any));
            ends.at += 1;
        }
        let mut heard = None;
        let mut frames = exchange.frame.iter().peekable();
        while let Some(vector) = frames.next() {
            let (frame, told) = ends.told();
            assert_eq!((vector.sender.as_str(), frame.to_vec()), ("board", bytes(&vector.bytes)));
            heard = told;
            if let Some(vector) = frames.next_if(|vector| vector.sender == "hand") {
                let asks = demand(vector);
                let (frame, command) = ends.asked(&asks).unwrap();
                assert_eq!(frame.to_vec(), bytes(&vector.bytes));
                assert_eq!((command.share, command.brake_left), (asks.share, asks.brake_left));
                assert_eq!((command.backward, command.neutral), (asks.backward, asks.neutral));
                assert_eq!(command.sender.start, exchange.hand_session);
            }
            ends.at += 1;
        }
        last.push(heard.unwrap());
    }
    let [told, little] = last.try_into().unwrap();
    let sent = report();
    assert_eq!((told.lock, told.held_back, told.controller_fault), (sent.lock, true, false));
    let telemetry = told.telemetry.unwrap();
    assert_eq!(telemetry.charge_drawn, sent.telemetry.charge_drawn);
    assert_eq!(telemetry.cell_temperature, sent.telemetry.cell_temperature);
    assert_eq!(telemetry.controller_temperature, None);
    assert!((telemetry.pack_voltage.to_f64() - 38.155).abs() < 1e-4);
    assert_eq!((little.telemetry, little.age, little.controller_fault), (None, None, true));
    assert!(little.commands_since <= 8);
}
