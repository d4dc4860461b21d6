//! The least firmware that uses the whole library: makes a board, takes up a memory, ticks, and
//! writes the memory. What it takes of the flash beyond `bare` is the library as linked.
#![no_std]
#![no_main]

use core::hint::black_box;

use cortex_m_rt::entry;
use emulated::console::leave;
use homestretch::handheld::Handheld;
use homestretch::store::Life;
use homestretch::telemetry::Telemetry;
use homestretch::time::Instant;
use homestretch_flashed::board::Bundled;
use panic_never as _;

#[entry]
fn main() -> ! {
    let board = Bundled::Lantern.board();
    let Ok(board) = &board else { leave(false) };
    let settings = Bundled::Lantern.settings(board);
    let Ok(settings) = &settings else { leave(false) };
    // Whatever is read from outside, the compiler cannot know.
    let record = black_box([0_u8; Life::BYTES]);
    let life = Life::from_bytes(&record).ok();
    let mut handheld = Handheld::new(board, settings, life.as_ref());
    let frame: Option<Telemetry> = black_box(None);
    let output = handheld.tick(black_box(Instant::default()), black_box(0), frame.as_ref());
    black_box(&output);
    black_box(handheld.life().map(|life| life.to_bytes()));
    leave(true)
}
