//! The frames of another program, after docs/frames.md: the library makes the same bytes and takes them.
//!
//! Source: `frame_vectors.py`, a program that is not the library, with a permutation that is not its.

use std::convert::Infallible;
use std::fs;
use std::path::Path;

use homestretch::link::{
    BoardLink, HandLink, Key, Pair, Refused, Report, SessionStore, next_session,
};
use homestretch::receiver::{Lock, LockedBy};
use homestretch::telemetry::Telemetry;
use homestretch::throttle::{Arming, Demand, Reasons};
use homestretch::time::{Duration, Instant};
use homestretch::units::{
    Amperes, Celsius, Coulombs, Metres, MetresPerSecond, MetresPerSecondSquared, Ratio, Volts,
};
use serde::Deserialize;

#[derive(Deserialize)]
struct Vectors {
    key: String,
    hand: u8,
    hand_session: u32,
    board_session: u32,
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

struct Memory(u32);

impl SessionStore for Memory {
    type Error = Infallible;

    fn largest(&mut self) -> Result<u32, Infallible> {
        Ok(self.0)
    }

    fn keep(&mut self, number: u32) -> Result<(), Infallible> {
        self.0 = number;
        Ok(())
    }
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

// Source: tests/vectors/frames.toml, made by tests/frame_vectors.py with the permutation of the PyPI
// package `ascon` 0.0.9 and a mode written there after NIST SP 800-232.
#[test]
fn source_frames_of_another_program_are_made_and_taken_to_the_bit() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("vectors/frames.toml");
    let vectors: Vectors = toml::from_str(&fs::read_to_string(path).unwrap()).unwrap();
    let key = Key::new(bytes(&vectors.key).try_into().unwrap()).unwrap();
    let pair = Pair::new(key, vectors.hand).unwrap();
    let session = |number: u32| next_session(&mut Memory(number - 1)).unwrap();
    let mut hand = HandLink::new(&pair, session(vectors.hand_session));
    let mut board = BoardLink::new(&pair, session(vectors.board_session));
    let (mut taken, mut told) = (0, None);
    for (vector, at) in vectors.frame.iter().zip(50_u64..) {
        let now = Instant::from_millis(at * 20);
        let expected = bytes(&vector.bytes);
        if vector.sender == "board" {
            assert_eq!(board.seal(now, &report()).unwrap().to_vec(), expected, "{}", vector.bytes);
            told = hand.open(now, &expected).unwrap();
        } else {
            let asked = demand(vector);
            assert_eq!(hand.seal(&asked).unwrap().to_vec(), expected, "{}", vector.bytes);
            let command = board.open(now, &expected).unwrap();
            assert_eq!((command.share, command.brake_left), (asked.share, asked.brake_left));
            assert_eq!((command.backward, command.neutral), (asked.backward, asked.neutral));
            assert_eq!(command.sender.start, vectors.hand_session);
            assert_eq!(board.open(now, &expected), Err(Refused::Repeated));
        }
        taken += 1;
    }
    assert_eq!(taken, 9);
    let (told, sent) = (told.unwrap(), report());
    assert_eq!((told.lock, told.held_back, told.controller_fault), (sent.lock, true, false));
    let telemetry = told.telemetry.unwrap();
    assert_eq!(telemetry.charge_drawn, sent.telemetry.charge_drawn);
    assert_eq!(telemetry.cell_temperature, sent.telemetry.cell_temperature);
    assert_eq!(telemetry.controller_temperature, None);
    assert!((telemetry.pack_voltage.to_f64() - 38.155).abs() < 1e-4);
}
