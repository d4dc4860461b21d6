//! Lives the ride that lies in flash, and says a digest of every state on the way.
//!
//! Started with nothing: a line of digests every hundred ticks. With `closely FROM TO`: one for
//! each of these ticks. With `quietly`: none, but the stack that a tick took and the sizes of what
//! it keeps; for counting instructions.
#![no_std]
#![no_main]

use cortex_m_rt::entry;
use emulated::console::{Line, leave, say};
use emulated::machine::{self, PaintedStack};
use homestretch::board::Board;
use homestretch::handheld::Handheld;
use homestretch::throttle::Settings;
use homestretch_flashed::board_end::BoardEnd;
use homestretch_flashed::conversions;
use homestretch_flashed::digest::{Digest, Digests};
use homestretch_flashed::play::play;
use homestretch_flashed::ride::Ride;
use panic_never as _;

/// A line of digests is said after so many ticks.
const SAY_EVERY: u32 = 100;

#[entry]
fn main() -> ! {
    let mut room = [0; 80];
    let arguments = machine::arguments(&mut room);
    let Ok(ride) = Ride::read(machine::ride()) else {
        say("no ride in flash\n");
        leave(false)
    };
    // Looked at where they are: a name of their own would be a copy of large tables.
    let board = ride.board().board();
    let Ok(board) = &board else {
        say("the ride's board does not build\n");
        leave(false)
    };
    let settings = ride.board().settings(board);
    let Ok(settings) = &settings else {
        say("the ride's settings do not build\n");
        leave(false)
    };
    #[cfg(feature = "a-panic-put-in")]
    if arguments.as_bytes()[machine::stack()] == 0 {
        leave(false)
    }
    let mut words = arguments.split_ascii_whitespace().skip(1);
    match words.next() {
        Some("quietly") => quietly(&ride, board, settings),
        Some("closely") => {
            let mut number = || words.next().and_then(|word| word.parse().ok()).unwrap_or(0);
            let (from, to) = (number(), number());
            with_digests(&ride, board, settings, |tick| (from..=to).contains(&tick));
        }
        _ => with_digests(&ride, board, settings, |tick| tick % SAY_EVERY == 0),
    }
    leave(true)
}

/// Says the digests after each tick that `says`, and of all that does not tick at the end.
#[inline(never)]
fn with_digests(ride: &Ride<'_>, board: &Board, settings: &Settings, says: impl Fn(u32) -> bool) {
    let mut handheld = Handheld::new(board, settings, None);
    let (mut digests, mut last) = (Digests::default(), 0);
    let mut board_end = BoardEnd::default();
    play(ride, &mut handheld, |(tick, now), handheld, output| {
        let order = board_end.after((tick, now), output, settings);
        digests.take(handheld, output, &board_end, &order);
        last = tick;
        if says(tick) {
            say_digests("tick", tick, &digests);
        }
    });
    say_digests("end", last, &digests);
    Line::of("board").hex(Digest::of(board)).end();
    Line::of("settings").hex(Digest::of(settings)).end();
    Line::of("memory").hex(Digest::of(&handheld.life())).end();
    Line::of("conversions").hex(conversions::digest()).end();
}

fn say_digests(word: &str, tick: u32, digests: &Digests) {
    let line = Line::of(word).hex(tick);
    digests.values().into_iter().fold(line, Line::hex).end();
}

/// Only ticks, so that nothing else is counted or on the stack.
#[inline(never)]
fn quietly(ride: &Ride<'_>, board: &Board, settings: &Settings) {
    let mut handheld = Handheld::new(board, settings, None);
    let painted = PaintedStack::new();
    let mut before_tick = 0;
    play(ride, &mut handheld, |_, _, _| before_tick = machine::stack());
    let deepest = painted.deepest();
    let size = |bytes: usize| u32::try_from(bytes).unwrap_or(u32::MAX);
    Line::of("before").hex(size(before_tick)).end();
    Line::of("deepest").hex(size(deepest)).end();
    Line::of("handheld").hex(size(size_of::<Handheld<'_>>())).end();
    Line::of("board").hex(size(size_of::<Board>())).end();
    Line::of("settings").hex(size(size_of::<Settings>())).end();
}
