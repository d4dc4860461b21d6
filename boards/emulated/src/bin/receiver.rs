//! The least firmware of a board's end: its end of the link, the receiver, the throttle's settings.
#![no_std]
#![no_main]

use core::hint::black_box;

use cortex_m_rt::entry;
use emulated::console::leave;
use homestretch::link::{Pair, Report};
use homestretch::receiver::{Measured, Receiver};
use homestretch::telemetry::Telemetry;
use homestretch::time::{Duration, Instant};
use homestretch_flashed::board::Bundled;
use homestretch_flashed::ends::paired_board_link;
use panic_never as _;

#[entry]
fn main() -> ! {
    let board = Bundled::Lantern.board();
    let Ok(board) = &board else { leave(false) };
    let settings = Bundled::Lantern.settings(board);
    let Ok(settings) = &settings else { leave(false) };
    let pair = Pair::from_bytes(&black_box([0_u8; Pair::BYTES])).ok();
    let mut link = paired_board_link(pair.as_ref(), black_box(1));
    let mut receiver = Receiver::new();
    // Whatever is read from outside, the compiler cannot know.
    let now = black_box(Instant::default());
    let command = link.open(now, black_box(&[0_u8; 25])).ok();
    let order = receiver.tick(now, command.as_ref(), &black_box(Measured::default()), settings);
    let report = Report::new(black_box(Telemetry::default()), Duration::ZERO, &order);
    black_box(link.seal(now, &report));
    black_box(&order);
    leave(true)
}
