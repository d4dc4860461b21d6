//! What was tuned, as bytes: the record that a firmware reads its settings from.
//!
//! [`WORDS`] numbers of 32 bits, little-endian, in the order of [`Order::tuning`]: a quantity is its bits
//! as the library has them, a time is in microseconds, yes is 1. One order serves both ways, so that what
//! is written and what is read cannot differ; a record that would be written otherwise than it stands is
//! refused. The mark of a tuning is the checksum of its record.

use super::{CHECKSUM, Kind, RecordFault, frame, framed_len, unframed};
use crate::throttle::{
    Band, BatteryLimits, BrakeSettings, Counts, Handle, Handles, Latch, LimitSettings, Pace, Paces,
    RateSettings, Shape, Tuning, Usual, curve::MOST_HANDLES, pace::MOST_PACES,
};
use crate::time::Duration;
use crate::units::{
    Amperes, Celsius, Kilograms, MetresPerSecond, MetresPerSecondCubed, MetresPerSecondSquared,
    Ratio, Volts,
};

/// Numbers in a record.
const WORDS: usize = 116;
const PAYLOAD: usize = 4 * WORDS;

/// A value of one word. What a word cannot be is read as something else, and found out by writing it again.
trait Word: Copy {
    fn word(self) -> i32;
    fn of(word: i32) -> Self;
}

macro_rules! words_of_bits {
    ($($quantity:ty),*) => {$(
        impl Word for $quantity {
            fn word(self) -> i32 {
                self.to_bits()
            }
            fn of(word: i32) -> Self {
                Self::from_bits(word)
            }
        }
    )*};
}
words_of_bits!(
    Amperes,
    Celsius,
    Kilograms,
    MetresPerSecond,
    MetresPerSecondCubed,
    MetresPerSecondSquared,
    Ratio,
    Volts
);

impl Word for u16 {
    fn word(self) -> i32 {
        i32::from(self)
    }
    fn of(word: i32) -> Self {
        Self::try_from(word).unwrap_or(0)
    }
}

impl Word for u32 {
    fn word(self) -> i32 {
        self.cast_signed()
    }
    fn of(word: i32) -> Self {
        word.cast_unsigned()
    }
}

impl Word for bool {
    fn word(self) -> i32 {
        i32::from(self)
    }
    fn of(word: i32) -> Self {
        word == 1
    }
}

impl Word for Duration {
    fn word(self) -> i32 {
        u32::try_from(self.to_micros()).unwrap_or(u32::MAX).cast_signed()
    }
    fn of(word: i32) -> Self {
        Self::from_micros(u64::from(word.cast_unsigned()))
    }
}

/// The order of the words: what is done with each, written or read, is the caller's.
struct Order<F>(F);

impl<F: FnMut(&mut i32)> Order<F> {
    fn word<W: Word>(&mut self, value: &mut W) {
        let mut word = value.word();
        (self.0)(&mut word);
        *value = W::of(word);
    }

    fn words<W: Word, const N: usize>(&mut self, values: [&mut W; N]) {
        for value in values {
            self.word(value);
        }
    }

    fn band<W: Word>(&mut self, band: &mut Band<W>) {
        self.words([&mut band.begin, &mut band.end]);
    }

    fn perhaps<W: Word>(&mut self, band: &mut Option<Band<W>>) {
        let (mut given, nothing) = (band.is_some(), W::of(0));
        let mut there = band.unwrap_or(Band { begin: nothing, end: nothing });
        self.word(&mut given);
        self.band(&mut there);
        *band = given.then_some(there);
    }

    fn latch(&mut self, latch: &mut Latch) {
        self.words([&mut latch.trip, &mut latch.release]);
    }

    /// How many handles, 0 for a blend; then room for all of them.
    fn shape(&mut self, shape: &mut Shape) {
        let nowhere = Handle { thumb: Ratio::ZERO, acceleration: MetresPerSecondSquared::ZERO };
        let mut room = [nowhere; MOST_HANDLES];
        let given = match shape {
            Shape::Blended { blend, greatest } => {
                room[0] = Handle { thumb: *blend, acceleration: *greatest };
                0
            }
            Shape::Through(handles) => {
                for (to, from) in room.iter_mut().zip(handles.as_slice()) {
                    *to = *from;
                }
                handles.as_slice().len()
            }
        };
        let mut count = u16::try_from(given).unwrap_or(0);
        self.word(&mut count);
        for Handle { thumb, acceleration } in &mut room {
            self.word(thumb);
            self.word(acceleration);
        }
        let [Handle { thumb: blend, acceleration: greatest }, ..] = room;
        let through = room.get(..usize::from(count)).filter(|handles| !handles.is_empty());
        *shape = through
            .and_then(Handles::new)
            .map_or(Shape::Blended { blend, greatest }, Shape::Through);
    }

    /// How many paces, then room for all of them.
    fn paces(&mut self, paces: &mut Paces) {
        let nothing = Pace { drive: Ratio::ZERO, top_speed: MetresPerSecond::ZERO };
        let mut room = [nothing; MOST_PACES];
        for (to, from) in room.iter_mut().zip(paces.as_slice()) {
            *to = *from;
        }
        let mut count = u16::try_from(paces.as_slice().len()).unwrap_or(0);
        self.word(&mut count);
        for Pace { drive, top_speed } in &mut room {
            self.word(drive);
            self.word(top_speed);
        }
        let given = room.get(..usize::from(count)).and_then(|given| Paces::new(given).ok());
        *paces = given.unwrap_or_default();
    }

    fn limits(&mut self, limits: &mut LimitSettings) {
        self.band(&mut limits.sagging);
        self.band(&mut limits.discharge_current);
        self.perhaps(&mut limits.cold_pack);
        self.word(&mut limits.cold_pack_drive);
        self.perhaps(&mut limits.hot_pack);
        self.band(&mut limits.hot_motor);
        self.band(&mut limits.hot_controller);
        self.band(&mut limits.reserve);
        self.word(&mut limits.reserve_drive);
        self.word(&mut limits.reserve_speed);
        self.band(&mut limits.top_speed);
        self.band(&mut limits.taper);
        self.word(&mut limits.taper_drive);
        self.perhaps(&mut limits.push_start);
        let BrakeSettings { charge_current, mass, stop_with, beside_motors, without_charging } =
            &mut limits.brake;
        self.word(charge_current);
        self.word(mass);
        self.words([stop_with, beside_motors, without_charging]);
        self.band(&mut limits.nearly_full);
        self.band(&mut limits.near_full_voltage);
        self.band(&mut limits.cold_charge);
        self.band(&mut limits.hot_charge);
        self.band(&mut limits.standstill);
        self.band(&mut limits.stale_soften);
        self.word(&mut limits.stale_drive);
        self.band(&mut limits.stale_stop);
        self.word(&mut limits.stale_brake);
        self.latch(&mut limits.stop_voltage);
        self.latch(&mut limits.over_voltage);
    }

    fn counts(&mut self, counts: &mut Counts) {
        let Counts { full_scale, low, centre, high, deadband, hysteresis, broken_margin, reversed } =
            counts;
        self.words([full_scale, low, centre, high, deadband, hysteresis, broken_margin]);
        self.word(reversed);
    }

    fn rates(&mut self, rates: &mut RateSettings) {
        let RateSettings { drive_on, drive_off_within, brake_on, brake_off, brake_ease, pause } =
            rates;
        self.words([drive_on, brake_on, brake_off, brake_ease]);
        self.words([drive_off_within, pause]);
    }

    fn tuning(&mut self, tuning: &mut Tuning) {
        self.word(&mut tuning.pack_mark);
        self.counts(&mut tuning.counts);
        self.shape(&mut tuning.drive);
        self.shape(&mut tuning.brake);
        self.word(&mut tuning.full_current_acceleration);
        self.rates(&mut tuning.rates);
        self.paces(&mut tuning.paces);
        self.words([&mut tuning.reverse]);
        self.word(&mut tuning.stuck_after);
        self.word(&mut tuning.silent_brake);
        self.words([&mut tuning.hand_battery.warn_below, &mut tuning.hand_battery.walk_below]);
        self.limits(&mut tuning.limits);
    }
}

impl Tuning {
    /// Bytes of the record.
    pub const BYTES: usize = framed_len(PAYLOAD);

    /// The record.
    #[must_use]
    pub fn to_bytes(&self) -> [u8; Self::BYTES] {
        let mut payload = [0; PAYLOAD];
        let mut room = payload.chunks_exact_mut(4);
        let mut written = *self;
        Order(|word: &mut i32| {
            if let Some(to) = room.next() {
                to.copy_from_slice(&word.to_le_bytes());
            }
        })
        .tuning(&mut written);
        let mut record = [0; Self::BYTES];
        frame(Kind::Tuning, &payload, &mut record);
        record
    }

    /// What a record says; whether it fits together is [`Self::settings`] to say.
    ///
    /// # Errors
    /// What makes the bytes no such record; nothing of a bad one is used.
    pub fn from_bytes(bytes: &[u8]) -> Result<Self, RecordFault> {
        let payload = unframed(Kind::Tuning, bytes, PAYLOAD)?;
        let mut words = payload.chunks_exact(4);
        let mut tuning = some();
        Order(|word: &mut i32| {
            let bytes = words.next().and_then(|bytes| bytes.first_chunk::<4>());
            *word = bytes.map_or(0, |bytes| i32::from_le_bytes(*bytes));
        })
        .tuning(&mut tuning);
        let again = tuning.to_bytes();
        if bytes.starts_with(&again) { Ok(tuning) } else { Err(RecordFault::Impossible) }
    }

    /// A number that is another one for another tuning, but for one chance in four thousand million: the
    /// checksum of its record. What is shown as this number on the bench and on the board is the same.
    #[must_use]
    pub fn mark(&self) -> u32 {
        let record = self.to_bytes();
        record.last_chunk::<CHECKSUM>().map_or(0, |checksum| u32::from_le_bytes(*checksum))
    }
}

/// Some tuning, all of which is written over.
fn some() -> Tuning {
    let nothing = MetresPerSecondSquared::ZERO;
    let shape = Shape::Blended { blend: Ratio::ZERO, greatest: nothing };
    let one = Usual {
        series: 1,
        greatest_discharge: Amperes::ZERO,
        greatest_charge: Amperes::ZERO,
        mass: Kilograms::ZERO,
    };
    Tuning {
        pack_mark: 0,
        counts: Counts {
            full_scale: 0,
            low: 0,
            centre: 0,
            high: 0,
            deadband: 0,
            hysteresis: 0,
            broken_margin: 0,
            reversed: false,
        },
        drive: shape,
        brake: shape,
        limits: LimitSettings::standard(&one),
        rates: RateSettings::standard(),
        paces: Paces::default(),
        reverse: false,
        stuck_after: Duration::ZERO,
        silent_brake: nothing,
        hand_battery: BatteryLimits::USUAL,
        full_current_acceleration: nothing,
    }
}

#[cfg(test)]
mod tests;
