//! The machine itself: flash that holds a ride, the stack, what the emulator was started with.
//!
//! All that is `unsafe` in these firmwares is here.

use core::ptr::{addr_of, addr_of_mut};

use cortex_m::register::msp;
use cortex_m_semihosting::{nr, syscall};

/// What the stack is painted with; a pattern that no state is likely to hold.
const PAINT: u32 = 0x9e37_79b9;

unsafe extern "C" {
    // Set by `memory.x` and by `cortex-m-rt`'s linker script. Only their addresses mean anything.
    static _ride_start: u8;
    static _ride_end: u8;
    static mut __sheap: u32;
}

/// The part of the flash that the emulator was told to load a ride into.
#[must_use]
pub fn ride() -> &'static [u8] {
    let (start, end) = (addr_of!(_ride_start), addr_of!(_ride_end));
    let length = (end as usize).wrapping_sub(start as usize);
    // SAFETY: `memory.x` sets aside these bytes of flash for a ride and nothing else; they are
    // readable, initialised (by the emulator's loader, or erased) and written by nobody.
    unsafe { core::slice::from_raw_parts(start, length) }
}

/// The stack below whoever asks, painted, so that one can see later how much of it was used.
#[derive(Debug)]
pub struct PaintedStack {
    /// Where the stack stood when it was painted.
    from: usize,
}

/// Room for the painter's own frame and for interrupts that are never on here.
const OWN_FRAME: usize = 64;

impl PaintedStack {
    /// Paints the stack from the end of the static memory up to here.
    #[must_use]
    #[inline(never)]
    pub fn new() -> Self {
        let from = msp::read() as usize;
        let mut word = addr_of_mut!(__sheap);
        while (word as usize) < from.wrapping_sub(OWN_FRAME) {
            // SAFETY: between the end of static memory and the stack pointer, less this function's
            // own frame, lies RAM that nobody uses: there is no heap, no second stack, no interrupt.
            unsafe { word.write_volatile(PAINT) };
            word = word.wrapping_add(1);
        }
        Self { from }
    }

    /// The address of the deepest word that has been written to since.
    #[must_use]
    pub fn deepest(&self) -> usize {
        let mut word = addr_of!(__sheap);
        // SAFETY: reads of aligned words within RAM, up to where the stack stood.
        while (word as usize) < self.from && unsafe { word.read_volatile() } == PAINT {
            word = word.wrapping_add(1);
        }
        word as usize
    }
}

impl Default for PaintedStack {
    fn default() -> Self {
        Self::new()
    }
}

/// Where the stack stands.
#[must_use]
#[inline(always)]
pub fn stack() -> usize {
    msp::read() as usize
}

/// What the emulator was started with, up to 80 bytes of it, and nothing where it does not tell.
#[must_use]
pub fn arguments(room: &mut [u8; 80]) -> &str {
    let mut block = [room.as_mut_ptr() as usize, room.len()];
    // SAFETY: the call's parameter block is an address and the length of the room there, and the
    // host writes no more than that (SYS_GET_CMDLINE of ARM's semihosting specification).
    let failed = unsafe { syscall(nr::GET_CMDLINE, &mut block) };
    let [_, length] = block;
    let told = if failed == 0 { room.get(..length) } else { None };
    told.and_then(|bytes| core::str::from_utf8(bytes).ok()).unwrap_or("").trim_end_matches('\0')
}
