//! The payload of telemetry: what the board tells, in fifteen bytes.
//!
//! ```text
//! byte  0        2        4       7         9                 12    13                 14
//!       voltage  current  charge  distance  speed cell flags  turn  age lock flags     answers
//!       u16      i16      24 bit  u16       12    10   2      u8    3   3    2         u8
//! ```
//!
//! What changes slowly takes turns in byte 12, by the two lowest bits of the frame's counter: the
//! temperatures of cells, motor and motor controller, and how the board hears the hand.
//! Used by `hand` and `board`; `docs/frames.md` states steps and ranges, `steps` knows them.

use super::frame::TELEMETRY_PAYLOAD_BYTES;
use super::refusal::Refused;
use super::steps;
use super::supervision::Tally;
use crate::receiver::{Lock, LockedBy, Order};
use crate::telemetry::Telemetry;
use crate::time::Duration;
use crate::units::{Celsius, Ratio};

/// What the board's end has to tell.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Report {
    /// What was measured; elevation is not told.
    pub telemetry: Telemetry,
    /// How long ago it was measured.
    pub age: Duration,
    /// Whether the hand's drive is obeyed.
    pub lock: Lock,
    /// Whether the board's end takes something from what is commanded.
    pub held_back: bool,
    /// Whether the motor controller tells of a fault.
    pub controller_fault: bool,
}

impl Report {
    /// What was measured `age` ago, beside what the receiver made of the last command.
    #[must_use]
    pub fn new(telemetry: Telemetry, age: Duration, order: &Order) -> Self {
        let held_back = !order.reasons.is_empty();
        Self { telemetry, age, lock: order.lock, held_back, controller_fault: false }
    }
}

/// How the board says that it hears the hand.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct HeardByBoard {
    /// The share of commands that were lost over its last seconds, in sixteenths, rounded up; 15 of
    /// them are that or more.
    pub lost: Ratio,
    /// The longest silence of them, in steps of 80 ms; 1.2 s are that or more.
    pub longest: Duration,
}

/// What byte 12 is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Turn {
    Cells,
    Motor,
    Controller,
    Link,
}

impl Turn {
    pub(super) const fn of(counter: u32) -> Self {
        match counter & 3 {
            0 => Self::Cells,
            1 => Self::Motor,
            2 => Self::Controller,
            _ => Self::Link,
        }
    }

    /// What is said of it.
    pub(super) fn says(self, telemetry: &Telemetry, tally: impl FnOnce() -> Tally) -> u8 {
        let hot = |celsius: Option<_>| celsius.map_or(NO_BYTE, steps::hot_temperature::steps);
        match self {
            Self::Cells => {
                telemetry.cell_temperature.map_or(NO_BYTE, steps::cell_temperature::steps)
            }
            Self::Motor => hot(telemetry.motor_temperature),
            Self::Controller => hot(telemetry.controller_temperature),
            Self::Link => link_byte(&tally()),
        }
    }
}

/// What no sensor has told.
const NO_BYTE: u8 = 255;
const NO_SPEED: i16 = -2048;
const NO_CELL: u16 = 1023;

/// Fields of bytes 9 to 11, from the lowest bit.
mod middle {
    pub(super) const SPEED: u32 = 0xFFF;
    pub(super) const CELL_SHIFT: u32 = 12;
    pub(super) const CELL: u32 = 0x3FF;
    pub(super) const HAS_CHARGE: u32 = 1 << 22;
    pub(super) const HAS_DISTANCE: u32 = 1 << 23;
}

/// Fields of byte 13, from the lowest bit.
mod state {
    pub(super) const AGE: u8 = 7;
    pub(super) const LOCK_SHIFT: u32 = 3;
    pub(super) const LOCK: u8 = 7;
    pub(super) const HELD_BACK: u8 = 1 << 6;
    pub(super) const CONTROLLER_FAULT: u8 = 1 << 7;
}

/// A step of the age: 2^16 µs, 65.5 ms.
const AGE_SHIFT: u32 = 16;
/// What was measured longer ago than six steps is too old to be used.
const TOO_OLD: u8 = 7;

/// What one frame of telemetry says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Told {
    pub(super) voltage: u16,
    pub(super) current: i16,
    /// Of 24 bits.
    pub(super) charge: Option<u32>,
    pub(super) distance: Option<u16>,
    pub(super) speed: Option<i16>,
    pub(super) cell: Option<u16>,
    /// Byte 12: see [`Turn`].
    pub(super) turn: u8,
    age: u8,
    pub(super) lock: Lock,
    pub(super) held_back: bool,
    pub(super) controller_fault: bool,
    /// An eighth of the counter of the newest command that was taken, in eight bits.
    pub(super) answers: u8,
}

impl Told {
    /// What `report` says in a frame.
    pub(super) fn of(report: &Report, turn: u8, answers: u8) -> Self {
        let told = &report.telemetry;
        let age = report.age.to_micros() >> AGE_SHIFT;
        Self {
            voltage: steps::pack_voltage::steps(told.pack_voltage),
            current: steps::pack_current::steps(told.pack_current),
            charge: told.charge_drawn.map(steps::charge::steps),
            distance: told.distance.map(steps::distance::steps),
            speed: told.speed.map(steps::speed::steps),
            cell: told.cell_voltage_min.map(steps::cell_voltage::steps),
            turn,
            age: u8::try_from(age).unwrap_or(TOO_OLD).min(TOO_OLD),
            lock: report.lock,
            held_back: report.held_back,
            controller_fault: report.controller_fault,
            answers,
        }
    }

    /// How long before the frame it was measured, rounded down; nothing where it is too old to be used.
    pub(super) fn age(&self) -> Option<Duration> {
        let steps = Some(self.age).filter(|&age| age < TOO_OLD)?;
        Some(Duration::from_micros(u64::from(steps) << AGE_SHIFT))
    }

    pub(super) fn bytes(&self) -> [u8; TELEMETRY_PAYLOAD_BYTES] {
        let [v0, v1] = self.voltage.to_le_bytes();
        let [c0, c1] = self.current.to_le_bytes();
        let [q0, q1, q2, _] = self.charge.unwrap_or(0).to_le_bytes();
        let [d0, d1] = self.distance.unwrap_or(0).to_le_bytes();
        let speed = u32::from(self.speed.unwrap_or(NO_SPEED).cast_unsigned()) & middle::SPEED;
        let cell = u32::from(self.cell.unwrap_or(NO_CELL)) & middle::CELL;
        let flag = |set: bool, bit: u32| if set { bit } else { 0 };
        let middle = speed
            | (cell << middle::CELL_SHIFT)
            | flag(self.charge.is_some(), middle::HAS_CHARGE)
            | flag(self.distance.is_some(), middle::HAS_DISTANCE);
        let [m0, m1, m2, _] = middle.to_le_bytes();
        let flag = |set: bool, bit: u8| if set { bit } else { 0 };
        let state = (self.age & state::AGE)
            | (lock_code(self.lock) << state::LOCK_SHIFT)
            | flag(self.held_back, state::HELD_BACK)
            | flag(self.controller_fault, state::CONTROLLER_FAULT);
        [v0, v1, c0, c1, q0, q1, q2, d0, d1, m0, m1, m2, self.turn, state, self.answers]
    }

    /// What these bytes say.
    ///
    /// # Errors
    /// A lock that version 1 does not have.
    pub(super) fn read(bytes: &[u8; TELEMETRY_PAYLOAD_BYTES]) -> Result<Self, Refused> {
        let &[v0, v1, c0, c1, q0, q1, q2, d0, d1, m0, m1, m2, turn, state, answers] = bytes;
        let middle = u32::from_le_bytes([m0, m1, m2, 0]);
        // The sign of twelve bits.
        let [s0, s1, ..] = ((middle & middle::SPEED) << 4).to_le_bytes();
        let speed = i16::from_le_bytes([s0, s1]) >> 4;
        let [l0, l1, ..] = ((middle >> middle::CELL_SHIFT) & middle::CELL).to_le_bytes();
        let cell = u16::from_le_bytes([l0, l1]);
        let charge = u32::from_le_bytes([q0, q1, q2, 0]);
        let distance = u16::from_le_bytes([d0, d1]);
        Ok(Self {
            voltage: u16::from_le_bytes([v0, v1]),
            current: i16::from_le_bytes([c0, c1]),
            charge: (middle & middle::HAS_CHARGE != 0).then_some(charge),
            distance: (middle & middle::HAS_DISTANCE != 0).then_some(distance),
            speed: (speed != NO_SPEED).then_some(speed),
            cell: (cell != NO_CELL).then_some(cell),
            turn,
            age: state & state::AGE,
            lock: lock_of((state >> state::LOCK_SHIFT) & state::LOCK)?,
            held_back: state & state::HELD_BACK != 0,
            controller_fault: state & state::CONTROLLER_FAULT != 0,
            answers,
        })
    }
}

const fn lock_code(lock: Lock) -> u8 {
    match lock {
        Lock::Open => 0,
        Lock::Locked { why: LockedBy::Started } => 1,
        Lock::Locked { why: LockedBy::Silence } => 2,
        Lock::Locked { why: LockedBy::AnotherStart } => 3,
        Lock::Locked { why: LockedBy::ClockSteppedBack } => 4,
    }
}

const fn lock_of(code: u8) -> Result<Lock, Refused> {
    let why = match code {
        0 => return Ok(Lock::Open),
        1 => LockedBy::Started,
        2 => LockedBy::Silence,
        3 => LockedBy::AnotherStart,
        4 => LockedBy::ClockSteppedBack,
        _ => return Err(Refused::Nonsense),
    };
    Ok(Lock::Locked { why })
}

/// The cells' temperature in the byte of their turn.
pub(super) fn cells_of(byte: u8) -> Option<Celsius> {
    (byte != NO_BYTE).then(|| steps::cell_temperature::of(byte))
}

/// The temperature in the byte of a motor's or a controller's turn.
pub(super) fn hot_of(byte: u8) -> Option<Celsius> {
    (byte != NO_BYTE).then(|| steps::hot_temperature::of(byte))
}

/// A step of the longest silence.
const SILENCE_STEP_MS: u64 = 80;

fn link_byte(tally: &Tally) -> u8 {
    let lost = tally.lost_sixteenths().min(15);
    // 2^16 / 80 is 819.2.
    let longest = tally.longest.to_millis().min(1 << 12).wrapping_mul(820) >> 16;
    let longest = u8::try_from(longest).unwrap_or(15).min(15);
    lost | (longest << 4)
}

/// What the byte of that turn says.
pub(super) fn heard_by_board(byte: u8) -> HeardByBoard {
    HeardByBoard {
        lost: Ratio::from_bits(i32::from(byte & 15) << (Ratio::FRACTION_BITS - 4)),
        longest: Duration::from_millis(u64::from(byte >> 4).saturating_mul(SILENCE_STEP_MS)),
    }
}

#[cfg(test)]
mod tests {
    use super::super::supervision::{COMMANDS, Supervision};
    use super::*;
    use crate::time::Instant;
    use crate::units::{Amperes, Coulombs, Metres, MetresPerSecond, Volts};
    use proptest::prelude::*;

    #[test]
    fn what_is_not_measured_is_missing_at_the_other_end() {
        let report = Report {
            telemetry: Telemetry { pack_voltage: Volts::from_whole(38), ..Telemetry::default() },
            age: Duration::ZERO,
            lock: Lock::Open,
            held_back: false,
            controller_fault: false,
        };
        let told = Told::read(&Told::of(&report, NO_BYTE, 0).bytes()).unwrap();
        assert_eq!((told.charge, told.distance, told.speed, told.cell), (None, None, None, None));
        assert_eq!(told.voltage, 7600);
        for turn in [Turn::Cells, Turn::Motor, Turn::Controller] {
            assert_eq!(turn.says(&report.telemetry, || unreachable!()), NO_BYTE);
        }
    }

    #[test]
    fn nothing_measured_is_told_as_missing_however_extreme() {
        let telemetry = Telemetry {
            pack_voltage: Volts::MAX,
            pack_current: Amperes::MIN,
            charge_drawn: Some(Coulombs::MIN),
            cell_voltage_min: Some(Volts::MAX),
            cell_temperature: Some(Celsius::from_bits(i32::MAX)),
            motor_temperature: Some(Celsius::from_bits(i32::MAX)),
            controller_temperature: Some(Celsius::from_bits(i32::MIN)),
            speed: Some(MetresPerSecond::MIN),
            distance: Some(Metres::MAX),
            elevation: None,
        };
        let (age, lock) = (Duration::from_secs(1 << 40), Lock::Locked { why: LockedBy::Started });
        let report = Report { telemetry, age, lock, held_back: true, controller_fault: true };
        let told = Told::of(&report, 0, 255);
        assert_eq!(Told::read(&told.bytes()), Ok(told));
        assert!(told.charge.is_some() && told.distance.is_some() && told.cell.is_some());
        assert!(told.speed.is_some() && told.age().is_none());
        assert_ne!(Turn::Cells.says(&telemetry, || unreachable!()), NO_BYTE);
        assert_ne!(Turn::Motor.says(&telemetry, || unreachable!()), NO_BYTE);
    }

    #[test]
    fn how_the_board_hears_is_told_no_better_than_it_is() {
        let told = |lost, longest| {
            let mut supervision = Supervision::new(&COMMANDS);
            supervision.took(Instant::from_millis(10_000), None);
            let heard = Instant::from_millis(10_000 + longest);
            supervision.took(heard, Some(lost));
            heard_by_board(link_byte(&supervision.tally(heard)))
        };
        assert_eq!(told(0, 0), HeardByBoard::default());
        assert_eq!(told(1, 90).lost, Ratio::from_fraction(6, 16));
        assert_eq!(told(1, 90).longest, Duration::from_millis(80));
        assert_eq!(told(100, 4000).lost, Ratio::from_fraction(15, 16));
        assert_eq!(told(100, 4000).longest, Duration::from_millis(1200));
        for step in 0..=15 {
            assert_eq!(told(0, step * 80).longest, Duration::from_millis(step * 80));
        }
    }

    #[test]
    fn an_age_is_told_in_steps_and_then_as_too_old() {
        let age = |millis| {
            let report = Report {
                telemetry: Telemetry::default(),
                age: Duration::from_millis(millis),
                lock: Lock::Open,
                held_back: false,
                controller_fault: false,
            };
            Told::of(&report, 0, 0).age()
        };
        assert_eq!(age(65), Some(Duration::ZERO));
        assert_eq!(age(458), Some(Duration::from_micros(6 << 16)));
        assert_eq!(age(459), None);
    }

    proptest! {
        #[test]
        fn law_bytes_that_are_read_are_those_that_are_written(bytes: [u8; 15]) {
            match Told::read(&bytes) {
                Ok(told) => {
                    let back = told.bytes();
                    prop_assert_eq!(Told::read(&back), Ok(told));
                    // But for counters that are not there, whatever their bytes were.
                    prop_assert_eq!(&back[..4], &bytes[..4]);
                    prop_assert_eq!(&back[9..], &bytes[9..]);
                }
                Err(refused) => prop_assert!(refused == Refused::Nonsense && (bytes[13] >> 3) & 7 > 4),
            }
        }
    }
}
