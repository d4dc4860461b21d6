//! Puts the memory of the machine that stands for each core where the linker looks for it.
//!
//! The first part of the flash is the firmware's, the rest holds the ride.

use std::env;
use std::fs;
use std::path::PathBuf;

/// The cores, by target: flash for the firmware, flash for the ride, RAM.
///
/// Memory maps as QEMU emulates them: `microbit` (nRF51822: 256 K, 16 K), `lm3s6965evb` (256 K,
/// 64 K) and `mps2-an386` (4 M of code memory, 4 M of RAM).
const MACHINES: [(&str, u32, u32, u32); 3] = [
    ("thumbv6m-none-eabi", 0x1_A000, 0x2_6000, 0x4000),
    ("thumbv7m-none-eabi", 0x1_A000, 0x2_6000, 0x1_0000),
    ("thumbv7em-none-eabihf", 0x1_A000, 0x2_6000, 0x1_0000),
];

fn main() {
    println!("cargo::rerun-if-changed=build.rs");
    let target = env::var("TARGET").unwrap_or_default();
    let Some((_, firmware, ride, ram)) = MACHINES.into_iter().find(|machine| machine.0 == target)
    else {
        panic!("no machine stands for {target}: {:?} do", MACHINES.map(|machine| machine.0));
    };
    let memory = format!(
        "MEMORY {{\n  FLASH : ORIGIN = 0, LENGTH = {firmware}\n  \
         RIDE : ORIGIN = {firmware}, LENGTH = {ride}\n  \
         RAM : ORIGIN = 0x20000000, LENGTH = {ram}\n}}\n\
         _ride_start = ORIGIN(RIDE);\n_ride_end = ORIGIN(RIDE) + LENGTH(RIDE);\n"
    );
    let out = PathBuf::from(env::var_os("OUT_DIR").expect("cargo sets OUT_DIR"));
    fs::write(out.join("memory.x"), memory).expect("OUT_DIR can be written to");
    println!("cargo::rustc-link-search={}", out.display());
}
