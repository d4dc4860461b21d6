//! What a builder would use instead of the library: the cell that all of these know, and what they
//! are fed.
//!
//! Each program here lives the ride in flash and calls one function per frame, which is what is
//! counted. They are honest firmwares otherwise: the same profile, the same machine, a heap where
//! a crate asks for one. They may panic; the library may not.
#![no_std]
#![deny(missing_docs)]

use core::panic::PanicInfo;
use core::ptr::addr_of_mut;

use embedded_alloc::LlffHeap;
use emulated::console::{Line, leave, say};
use emulated::machine;
use homestretch_flashed::ride::Ride;

#[global_allocator]
static HEAP: LlffHeap = LlffHeap::empty();

const HEAP_BYTES: usize = 2048;

/// Gives the crates that allocate some room. To be called once, before anything is allocated.
pub fn make_heap() {
    static mut ROOM: [u8; HEAP_BYTES] = [0; HEAP_BYTES];
    // SAFETY: called once, from `main`, before the first allocation; `ROOM` is used by nobody else.
    unsafe { HEAP.init(addr_of_mut!(ROOM) as usize, HEAP_BYTES) }
}

#[panic_handler]
fn panic(_: &PanicInfo<'_>) -> ! {
    say("panicked\n");
    leave(false)
}

/// Seconds from frame to frame that the filters are made for: that of the bundled ride.
pub const STEP_S: f32 = 0.2;

/// Of one cell of the bundled board, in ampere-seconds.
pub const CAPACITY_AS: f32 = 5.153 * 3600.0;

/// The resistance that acts at once and that of the slow branch, in ohms, with its time constant:
/// of the bundled cell at 25 degC and mid-charge, as the project's own textbook filter takes them.
pub const AT_ONCE_OHM: f32 = 0.026;
/// See [`AT_ONCE_OHM`].
pub const SLOW_OHM: f32 = 0.012;
/// How much of the branch's voltage is left after a step: exp(-0.2 s / 35.68 s).
pub const LEFT: f32 = 0.994_41;

/// Standard deviations squared: of the charge's drift in a step, of the branch's, of the voltage.
pub const SOC_DRIFT: f32 = 2.934e-5 * 2.934e-5 * STEP_S;
/// See [`SOC_DRIFT`].
pub const BRANCH_DRIFT: f32 = 7.8e-8;
/// See [`SOC_DRIFT`].
pub const VOLTAGE_NOISE: f32 = 7.5e-2 * 7.5e-2;

/// Resting voltages at twentieths of the charge, of the bundled cell (Chen et al. 2020, as in the
/// library's own table).
pub const RESTING_V: [f32; 21] = [
    2.5, 3.07, 3.24, 3.35, 3.43, 3.49, 3.54, 3.57, 3.60, 3.63, 3.68, 3.73, 3.79, 3.84, 3.89, 3.94,
    4.00, 4.05, 4.08, 4.10, 4.20,
];

/// Resting voltage and slope at a charge, by straight lines.
#[must_use]
#[inline]
pub fn resting(soc: f32) -> (f32, f32) {
    let place = soc.clamp(0.0, 1.0) * 20.0;
    let step = (place as usize).min(19);
    let (low, high) = (RESTING_V[step], RESTING_V[step + 1]);
    let rise = high - low;
    (low + rise * (place - step as f32), rise * 20.0)
}

/// Calls `step` with the current and the voltage of one cell for each frame of the ride in flash,
/// and says what it came to and where the stack stood before the call.
pub fn per_frame(mut step: impl FnMut(f32, f32) -> f32) -> ! {
    let Ok(ride) = Ride::read(machine::ride()) else {
        say("no ride in flash\n");
        leave(false)
    };
    let (mut told, mut before) = (0.0, 0);
    for telemetry in ride.steps().filter_map(|step| step.telemetry) {
        // Bits of volts and amperes, 16 of them behind the point; 11 cells in a row, 2 in a group.
        let volts = telemetry.pack_voltage.to_bits() as f32 / (65536.0 * 11.0);
        let amperes = telemetry.pack_current.to_bits() as f32 / (65536.0 * 2.0);
        before = machine::stack();
        told = step(amperes, volts);
    }
    Line::of("before").hex(before as u32).end();
    // Thousandths, so that whoever reads it can see that all of them do the same job.
    Line::of("told").hex((told * 1000.0) as i32 as u32).end();
    leave(true)
}
