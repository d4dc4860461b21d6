//! A NOR flash whose power goes at any point, for whatever has to survive that.
//!
//! Of a write some bytes are there, one of them half, the rest not; of an erasure some bits are set and
//! others not, be it barely begun or nearly done. What was cut may also read otherwise each time that it
//! is read, as cells do that were left half-way.

use std::collections::BTreeSet;

use embedded_storage::nor_flash::{
    ErrorType, NorFlash, NorFlashError, NorFlashErrorKind, ReadNorFlash,
};
use rand::{Rng as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;

/// Why the flash did not do as it was told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FlashFault {
    /// The power is gone.
    NoPower,
    /// What was asked is not possible: outside, or not where a step begins.
    Asked,
    /// A bit was to be set without erasing: no flash does that.
    NotErased,
}

impl NorFlashError for FlashFault {
    fn kind(&self) -> NorFlashErrorKind {
        NorFlashErrorKind::Other
    }
}

/// A flash of two pages of `PAGE` bytes, written four bytes at a time.
#[derive(Clone, Debug)]
pub struct Flash<const PAGE: usize> {
    bytes: Vec<u8>,
    /// Bytes whose bits were left half-way: each reads as it likes.
    weak: BTreeSet<usize>,
    /// The power goes after so many steps of a byte each; never where nothing is said.
    steps_left: Option<u32>,
    numbers: ChaCha8Rng,
}

impl<const PAGE: usize> Flash<PAGE> {
    /// An erased flash.
    #[must_use]
    pub fn new(seed: u64) -> Self {
        Self {
            bytes: vec![0xFF; 2 * PAGE],
            weak: BTreeSet::new(),
            steps_left: None,
            numbers: ChaCha8Rng::seed_from_u64(seed),
        }
    }

    /// A step of a byte; whether there is power for all of it.
    fn step(&mut self) -> bool {
        match &mut self.steps_left {
            None => true,
            Some(0) => false,
            Some(left) => {
                *left -= 1;
                *left > 0
            }
        }
    }

    /// From now on the power goes after so many steps of a byte each; never where nothing is said.
    pub const fn power_for(&mut self, steps: Option<u32>) {
        self.steps_left = steps;
    }

    /// Overwrites everything.
    pub fn destroy(&mut self) {
        self.bytes.fill(0x5A);
    }

    /// Whether there still is power.
    #[must_use]
    pub fn has_power(&self) -> bool {
        self.steps_left != Some(0)
    }

    fn random_byte(&mut self) -> u8 {
        self.numbers.next_u32().to_le_bytes()[0]
    }
}

impl<const PAGE: usize> ErrorType for Flash<PAGE> {
    type Error = FlashFault;
}

fn place(from: u32, length: usize, all: usize) -> Result<std::ops::Range<usize>, FlashFault> {
    let from = usize::try_from(from).map_err(|_| FlashFault::Asked)?;
    let range = from..from + length;
    if range.end <= all { Ok(range) } else { Err(FlashFault::Asked) }
}

impl<const PAGE: usize> ReadNorFlash for Flash<PAGE> {
    const READ_SIZE: usize = 1;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), FlashFault> {
        if !self.has_power() {
            return Err(FlashFault::NoPower);
        }
        let range = place(offset, bytes.len(), self.bytes.len())?;
        bytes.copy_from_slice(&self.bytes[range.clone()]);
        if !self.weak.is_empty() {
            for (at, byte) in range.zip(bytes) {
                if self.weak.contains(&at) {
                    *byte ^= self.random_byte() & self.random_byte();
                }
            }
        }
        Ok(())
    }

    fn capacity(&self) -> usize {
        self.bytes.len()
    }
}

impl<const PAGE: usize> NorFlash for Flash<PAGE> {
    const WRITE_SIZE: usize = 4;
    const ERASE_SIZE: usize = PAGE;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), FlashFault> {
        // Nobody is there any more to ask for it.
        if !self.has_power() {
            return Err(FlashFault::NoPower);
        }
        let length = usize::try_from(to.saturating_sub(from)).map_err(|_| FlashFault::Asked)?;
        let range = place(from, length, self.bytes.len())?;
        if !range.start.is_multiple_of(PAGE) || !length.is_multiple_of(PAGE) {
            return Err(FlashFault::Asked);
        }
        // All bytes at once, slowly: when the power goes, each is somewhere on its way.
        for _ in range.clone() {
            if !self.step() {
                // Barely begun, half-way or nearly done.
                let (done, left) = (self.random_byte(), self.random_byte());
                for at in range {
                    let set = self.random_byte() & self.random_byte();
                    let nearly = self.random_byte() < done;
                    self.bytes[at] |= if nearly { 0xFF } else { set };
                    if self.random_byte() < left / 4 {
                        self.weak.insert(at);
                    }
                }
                return Err(FlashFault::NoPower);
            }
        }
        self.bytes[range.clone()].fill(0xFF);
        self.weak.retain(|at| !range.contains(at));
        Ok(())
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), FlashFault> {
        if !self.has_power() {
            return Err(FlashFault::NoPower);
        }
        let range = place(offset, bytes.len(), self.bytes.len())?;
        if !range.start.is_multiple_of(4) || !bytes.len().is_multiple_of(4) {
            return Err(FlashFault::Asked);
        }
        for (at, &byte) in range.zip(bytes) {
            if self.bytes[at] & byte != byte && !self.weak.contains(&at) {
                return Err(FlashFault::NotErased);
            }
            if !self.step() {
                let done = self.random_byte() | byte;
                self.bytes[at] &= done;
                self.weak.insert(at);
                return Err(FlashFault::NoPower);
            }
            self.bytes[at] &= byte;
        }
        Ok(())
    }
}
