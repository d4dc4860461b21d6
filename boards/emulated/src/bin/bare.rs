//! Nothing at all: what the start-up code and the line to the host take of the flash.
#![no_std]
#![no_main]

use cortex_m_rt::entry;
use emulated::console::leave;
use panic_never as _;

#[entry]
fn main() -> ! {
    leave(true)
}
