//! A digest that is the same on every machine, and one per stage of a tick.
//!
//! The standard library's `Hash` says which fields make a state; [`Digest`] says what becomes of
//! them: numbers go in by their value, in little-endian order, and a `usize` as 32 bits, so that
//! the width of a machine does not matter.

use core::hash::{Hash, Hasher};

use homestretch::handheld::{Handheld, Output};
use homestretch::receiver::Order;

use crate::board_end::BoardEnd;

/// FNV-1a with 32 bits (offset basis and prime as published by its authors; from memory, checked
/// in a test against their value for the letter `a`).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Digest(u32);

impl Default for Digest {
    fn default() -> Self {
        Self(0x811c_9dc5)
    }
}

impl Digest {
    /// The digest of one thing.
    #[must_use]
    pub fn of(thing: &impl Hash) -> u32 {
        let mut digest = Self::default();
        thing.hash(&mut digest);
        digest.0
    }

    /// Its value so far.
    #[must_use]
    pub const fn value(self) -> u32 {
        self.0
    }
}

/// Numbers by value, whatever the machine's own order and width.
macro_rules! by_value {
    ($($write:ident: $number:ty),*) => {$(
        fn $write(&mut self, number: $number) {
            self.write(&number.to_le_bytes());
        }
    )*};
}

impl Hasher for Digest {
    fn finish(&self) -> u64 {
        u64::from(self.0)
    }

    fn write(&mut self, bytes: &[u8]) {
        self.0 = bytes
            .iter()
            .fold(self.0, |hash, &byte| (hash ^ u32::from(byte)).wrapping_mul(0x0100_0193));
    }

    by_value!(write_u16: u16, write_u32: u32, write_u64: u64, write_u128: u128);
    by_value!(write_i16: i16, write_i32: i32, write_i64: i64, write_i128: i128);

    // Lengths and the numbers of an enum's variants: nothing in a state is longer than 32 bits.
    fn write_usize(&mut self, number: usize) {
        self.write_u32(u32::try_from(number).unwrap_or(u32::MAX));
    }

    fn write_isize(&mut self, number: isize) {
        self.write_i32(i32::try_from(number).unwrap_or(i32::MAX));
    }
}

/// The parts of a tick, each with a digest of its own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stage {
    /// State of charge: its whole state.
    Charge,
    /// Range: its whole state.
    Range,
    /// Throttle: its whole state.
    Throttle,
    /// All that the handheld keeps, those three among it.
    Handheld,
    /// What the tick asked of the motors.
    Demand,
    /// What the tick told the rider.
    Status,
    /// Both ends of the link: their states, and what was heard.
    Link,
    /// The board's end: its state and its order.
    Board,
}

impl Stage {
    /// All stages, in the order in which data passes them.
    pub const ALL: [Self; 8] = [
        Self::Charge,
        Self::Range,
        Self::Throttle,
        Self::Handheld,
        Self::Demand,
        Self::Status,
        Self::Link,
        Self::Board,
    ];

    /// Its name in what is printed.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Charge => "charge",
            Self::Range => "range",
            Self::Throttle => "throttle",
            Self::Handheld => "handheld",
            Self::Demand => "demand",
            Self::Status => "status",
            Self::Link => "link",
            Self::Board => "board",
        }
    }
}

/// A digest per stage over all ticks so far: once it differs, it keeps differing.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Digests([Digest; Stage::ALL.len()]);

impl Digests {
    /// Takes in what a tick made of a handheld, the link and the board's end of it.
    pub fn take(
        &mut self,
        handheld: &Handheld<'_>,
        output: &Output,
        end: &BoardEnd,
        order: &Order,
    ) {
        let [charge, range, throttle, whole, demand, status, link, board] = &mut self.0;
        handheld.charge().hash(charge);
        handheld.range().hash(range);
        handheld.throttle().hash(throttle);
        handheld.hash(whole);
        output.demand.hash(demand);
        output.status.hash(status);
        end.link().hash(link);
        (end.receiver(), order).hash(board);
    }

    /// The values, in the order of [`Stage::ALL`].
    #[must_use]
    pub fn values(&self) -> [u32; Stage::ALL.len()] {
        self.0.map(Digest::value)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn source_the_hash_is_the_published_one() {
        // FNV-1a, 32 bits, of the letter a and of "foobar": the authors' own list, from memory.
        for (text, hash) in [("a", 0xe40c_292c), ("foobar", 0xbf9c_f968)] {
            let mut digest = Digest::default();
            digest.write(text.as_bytes());
            assert_eq!(digest.value(), hash, "{text}");
        }
    }

    #[test]
    fn a_number_counts_by_its_value() {
        let mut by_bytes = Digest::default();
        by_bytes.write(&[1, 2, 0, 0, 7, 0, 0, 0]);
        let mut by_numbers = Digest::default();
        by_numbers.write_usize(0x0201);
        by_numbers.write_isize(7);
        assert_eq!(by_bytes, by_numbers);
    }
}
