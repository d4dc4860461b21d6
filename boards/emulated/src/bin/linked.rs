//! The least firmware that uses the whole library and its end of the link: what it takes of the flash
//! beyond `least` is the link, the hand's end, as linked.
#![no_std]
#![no_main]

use core::hint::black_box;

use cortex_m_rt::entry;
use emulated::console::leave;
use homestretch::handheld::Handheld;
use homestretch::link::Pair;
use homestretch::store::Life;
use homestretch::time::Instant;
use homestretch_flashed::board::Bundled;
use homestretch_flashed::ends::paired_hand_link;
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
    let pair = Pair::from_bytes(&black_box([0_u8; Pair::BYTES])).ok();
    let mut link = paired_hand_link(pair.as_ref(), black_box(1));
    let mut handheld = Handheld::new(board, settings, life.as_ref());
    let now = black_box(Instant::default());
    let heard = link.open(now, black_box(&[0_u8; 32])).ok().flatten();
    let frame = heard.and_then(|heard| heard.telemetry);
    let output = handheld.tick(now, black_box(0), frame.as_ref());
    black_box(link.seal(&output.demand));
    black_box(link.quality(now));
    black_box(&output);
    black_box(handheld.life().map(|life| life.to_bytes()));
    leave(true)
}
