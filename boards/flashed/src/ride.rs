//! A ride as bytes: what a thumb and a radio brought, tick after tick, in differences.
//!
//! ```text
//! head    "ride" | version u8 | board u8 | steps u32 | length of the steps in bytes u32
//! step    mask | time? | thumb? | voltage, current? | whatever else the mask names
//! ```
//!
//! Numbers of a step are `postcard`'s variable-length integers (its wire specification), signed
//! ones in zigzag; each is the difference from the last one of its kind, in the bits of its
//! quantity: nothing is rounded, and a reading that did not change is a byte. A time is left out
//! where it is as long after the step before as that was after its own.

use homestretch::telemetry::Telemetry;
use homestretch::time::Instant;
use homestretch::units::{Amperes, Celsius, Coulombs, Metres, MetresPerSecond, Volts};

use crate::board::Bundled;

/// The first bytes of a ride.
const MARK: [u8; 4] = *b"ride";
/// The version of these bytes; another one is refused.
const VERSION: u8 = 1;
const HEAD: usize = 14;

/// Why bytes are no ride.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NotARide {
    /// They don't begin like one.
    Mark,
    /// Another version.
    Version {
        /// The version found.
        given: u8,
    },
    /// A board that is not bundled.
    Board {
        /// The number found.
        given: u8,
    },
    /// Fewer bytes than it needs.
    Short,
}

/// What came in one tick.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Step {
    /// When.
    pub at: Instant,
    /// What the thumb's sensor read.
    pub thumb: u16,
    /// A frame, where one came.
    pub telemetry: Option<Telemetry>,
}

/// A ride in flash.
#[derive(Clone, Copy, Debug)]
pub struct Ride<'a> {
    board: Bundled,
    steps: u32,
    bytes: &'a [u8],
}

impl<'a> Ride<'a> {
    /// The ride that these bytes begin with; what follows it is not looked at.
    ///
    /// # Errors
    /// [`NotARide`].
    pub fn read(bytes: &'a [u8]) -> Result<Self, NotARide> {
        let (head, rest) = bytes.split_first_chunk::<HEAD>().ok_or(NotARide::Short)?;
        let [m0, m1, m2, m3, version, board, s0, s1, s2, s3, l0, l1, l2, l3] = *head;
        if [m0, m1, m2, m3] != MARK {
            return Err(NotARide::Mark);
        }
        if version != VERSION {
            return Err(NotARide::Version { given: version });
        }
        let known = Bundled::ALL.into_iter().find(|known| known.number() == board);
        let board = known.ok_or(NotARide::Board { given: board })?;
        let length = u32::from_le_bytes([l0, l1, l2, l3]);
        let bytes = usize::try_from(length)
            .ok()
            .and_then(|length| rest.get(..length))
            .ok_or(NotARide::Short)?;
        Ok(Self { board, steps: u32::from_le_bytes([s0, s1, s2, s3]), bytes })
    }

    /// The board that it was ridden on.
    #[must_use]
    pub const fn board(&self) -> Bundled {
        self.board
    }

    /// How many steps it has.
    #[must_use]
    pub const fn len(&self) -> u32 {
        self.steps
    }

    /// Whether it has none.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        self.steps == 0
    }

    /// Its steps; fewer than it says where its bytes are damaged.
    #[must_use]
    pub fn steps(&self) -> Steps<'a> {
        Steps { bytes: self.bytes, left: self.steps, last: Last::default() }
    }
}

/// What a step's mask says is there.
mod mask {
    pub(super) const TIME: u16 = 1;
    pub(super) const THUMB: u16 = 1 << 1;
    pub(super) const FRAME: u16 = 1 << 2;
    pub(super) const SPEED: u16 = 1 << 3;
    pub(super) const DISTANCE: u16 = 1 << 4;
    pub(super) const TEMPERATURE: u16 = 1 << 5;
    pub(super) const CELL: u16 = 1 << 6;
    pub(super) const DRAWN: u16 = 1 << 7;
    pub(super) const ELEVATION: u16 = 1 << 8;
    pub(super) const MOTOR: u16 = 1 << 9;
    pub(super) const CONTROLLER: u16 = 1 << 10;
}

/// The readings of the step before, in their bits.
#[derive(Clone, Copy, Debug, Default)]
struct Last {
    at_us: i64,
    gap_us: i64,
    thumb: i64,
    volts: i64,
    amperes: i64,
    speed: i64,
    distance: i64,
    temperature: i64,
    cell: i64,
    drawn: i64,
    elevation: i64,
    motor: i64,
    controller: i64,
}

/// The steps of a ride, one after the other.
#[derive(Clone, Debug)]
pub struct Steps<'a> {
    bytes: &'a [u8],
    left: u32,
    last: Last,
}

/// Takes a number off the front of `bytes` and adds it to `last`; gives the sum.
fn moved(bytes: &mut &[u8], last: &mut i64) -> Option<i64> {
    let (by, rest) = postcard::take_from_bytes::<i64>(bytes).ok()?;
    *bytes = rest;
    *last = last.wrapping_add(by);
    Some(*last)
}

fn narrow(bits: i64) -> Option<i32> {
    i32::try_from(bits).ok()
}

impl Steps<'_> {
    fn step(&mut self) -> Option<Step> {
        let (mask, rest) = postcard::take_from_bytes::<u16>(self.bytes).ok()?;
        self.bytes = rest;
        let (bytes, last) = (&mut self.bytes, &mut self.last);
        if mask & mask::TIME != 0 {
            moved(bytes, &mut last.gap_us)?;
        }
        last.at_us = last.at_us.wrapping_add(last.gap_us);
        if mask & mask::THUMB != 0 {
            moved(bytes, &mut last.thumb)?;
        }
        let telemetry =
            if mask & mask::FRAME == 0 { None } else { Some(frame(bytes, mask, last)?) };
        let at = Instant::from_micros(u64::try_from(last.at_us).ok()?);
        Some(Step { at, thumb: u16::try_from(last.thumb).ok()?, telemetry })
    }
}

fn frame(bytes: &mut &[u8], mask: u16, last: &mut Last) -> Option<Telemetry> {
    let pack_voltage = Volts::from_bits(narrow(moved(bytes, &mut last.volts)?)?);
    let pack_current = Amperes::from_bits(narrow(moved(bytes, &mut last.amperes)?)?);
    let mut frame = Telemetry { pack_voltage, pack_current, ..Telemetry::default() };
    if mask & mask::SPEED != 0 {
        let bits = narrow(moved(bytes, &mut last.speed)?)?;
        frame.speed = Some(MetresPerSecond::from_bits(bits));
    }
    if mask & mask::DISTANCE != 0 {
        frame.distance = Some(Metres::from_bits(moved(bytes, &mut last.distance)?));
    }
    if mask & mask::TEMPERATURE != 0 {
        let bits = narrow(moved(bytes, &mut last.temperature)?)?;
        frame.cell_temperature = Some(Celsius::from_bits(bits));
    }
    if mask & mask::CELL != 0 {
        frame.cell_voltage_min = Some(Volts::from_bits(narrow(moved(bytes, &mut last.cell)?)?));
    }
    if mask & mask::DRAWN != 0 {
        frame.charge_drawn = Some(Coulombs::from_bits(moved(bytes, &mut last.drawn)?));
    }
    if mask & mask::ELEVATION != 0 {
        frame.elevation = Some(Metres::from_bits(moved(bytes, &mut last.elevation)?));
    }
    if mask & mask::MOTOR != 0 {
        let bits = narrow(moved(bytes, &mut last.motor)?)?;
        frame.motor_temperature = Some(Celsius::from_bits(bits));
    }
    if mask & mask::CONTROLLER != 0 {
        let bits = narrow(moved(bytes, &mut last.controller)?)?;
        frame.controller_temperature = Some(Celsius::from_bits(bits));
    }
    Some(frame)
}

impl Iterator for Steps<'_> {
    type Item = Step;

    fn next(&mut self) -> Option<Step> {
        self.left = self.left.checked_sub(1)?;
        self.step()
    }
}

/// The bytes of a ride, of as many of the `steps` as fit into `room` bytes.
///
/// # Errors
/// A time or a reading that has no place in 63 bits.
#[cfg(feature = "write")]
pub fn write(
    board: Bundled,
    steps: impl IntoIterator<Item = Step>,
    room: usize,
) -> Result<std::vec::Vec<u8>, postcard::Error> {
    let (mut body, mut count, mut last) = (std::vec::Vec::new(), 0_u32, Last::default());
    for step in steps {
        let bytes = written(&step, &mut last)?;
        if HEAD + body.len() + bytes.len() > room {
            break;
        }
        body.extend_from_slice(&bytes);
        count += 1;
    }
    let length = u32::try_from(body.len()).unwrap_or(u32::MAX);
    let mut made = std::vec::Vec::from(MARK);
    made.extend([VERSION, board.number()]);
    made.extend(count.to_le_bytes());
    made.extend(length.to_le_bytes());
    made.append(&mut body);
    Ok(made)
}

#[cfg(feature = "write")]
fn written(step: &Step, last: &mut Last) -> Result<std::vec::Vec<u8>, postcard::Error> {
    let at_us =
        i64::try_from(step.at.to_micros()).map_err(|_| postcard::Error::SerializeBufferFull)?;
    let gap_us = at_us.wrapping_sub(last.at_us);
    let thumb = i64::from(step.thumb);
    let (mut mask, mut body) = (0_u16, std::vec::Vec::new());
    let mut put = |bit: u16, now: i64, before: &mut i64| {
        mask |= bit;
        body.extend(postcard::to_stdvec(&now.wrapping_sub(*before))?);
        *before = now;
        Ok::<_, postcard::Error>(())
    };
    if gap_us != last.gap_us {
        put(mask::TIME, gap_us, &mut last.gap_us)?;
    }
    last.at_us = at_us;
    if thumb != last.thumb {
        put(mask::THUMB, thumb, &mut last.thumb)?;
    }
    if let Some(frame) = step.telemetry {
        put(mask::FRAME, i64::from(frame.pack_voltage.to_bits()), &mut last.volts)?;
        put(mask::FRAME, i64::from(frame.pack_current.to_bits()), &mut last.amperes)?;
        let wide = |bits: i32| i64::from(bits);
        let readings = [
            (mask::SPEED, frame.speed.map(|v| wide(v.to_bits())), &mut last.speed),
            (mask::DISTANCE, frame.distance.map(Metres::to_bits), &mut last.distance),
            (
                mask::TEMPERATURE,
                frame.cell_temperature.map(|t| wide(t.to_bits())),
                &mut last.temperature,
            ),
            (mask::CELL, frame.cell_voltage_min.map(|v| wide(v.to_bits())), &mut last.cell),
            (mask::DRAWN, frame.charge_drawn.map(Coulombs::to_bits), &mut last.drawn),
            (mask::ELEVATION, frame.elevation.map(Metres::to_bits), &mut last.elevation),
            (mask::MOTOR, frame.motor_temperature.map(|t| wide(t.to_bits())), &mut last.motor),
            (
                mask::CONTROLLER,
                frame.controller_temperature.map(|t| wide(t.to_bits())),
                &mut last.controller,
            ),
        ];
        for (bit, reading, before) in readings {
            if let Some(now) = reading {
                put(bit, now, before)?;
            }
        }
    }
    let mut bytes = postcard::to_stdvec(&mask)?;
    bytes.append(&mut body);
    Ok(bytes)
}
