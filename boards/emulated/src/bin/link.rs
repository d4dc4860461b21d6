//! Both ends of the link talk, sealed, through the telemetry of the ride in flash; for counting
//! instructions. What they hear is what was said, or the program ends badly.
#![no_std]
#![no_main]

use cortex_m_rt::entry;
use emulated::console::{Line, leave, say};
use emulated::machine;
use homestretch::link::{BoardLink, CommandFrame, HandLink, Heard, Report, TelemetryFrame};
use homestretch::receiver::{Command, Lock};
use homestretch::throttle::Demand;
use homestretch::time::{Duration, Instant};
use homestretch_flashed::ends::{board_link, demand, hand_link};
use homestretch_flashed::ride::Ride;
use panic_never as _;

#[entry]
fn main() -> ! {
    let Ok(ride) = Ride::read(machine::ride()) else {
        say("no ride in flash\n");
        leave(false)
    };
    let (Some(mut hand), Some(mut board)) = (hand_link(5), board_link(8)) else {
        say("no key or no session\n");
        leave(false)
    };
    let (mut told, mut obeyed, mut before) = (0_u32, 0_u32, 0);
    for step in ride.steps() {
        let Some(telemetry) = step.telemetry else { continue };
        let report = Report {
            telemetry,
            age: Duration::ZERO,
            lock: Lock::Open,
            held_back: false,
            controller_fault: false,
        };
        before = machine::stack();
        let heard = telemetry_there((&mut board, &mut hand), step.at, &report);
        let asked = demand(step.thumb);
        let command = command_there((&mut hand, &mut board), step.at, &asked);
        told = told.wrapping_add(u32::from(heard.and_then(|heard| heard.telemetry).is_some()));
        obeyed = obeyed.wrapping_add(u32::from(command.is_some()));
    }
    Line::of("before").hex(u32::try_from(before).unwrap_or(u32::MAX)).end();
    let size = |bytes: usize| u32::try_from(bytes).unwrap_or(u32::MAX);
    Line::of("hand").hex(size(size_of::<HandLink>())).end();
    Line::of("board").hex(size(size_of::<BoardLink>())).end();
    Line::of("told").hex(told).end();
    Line::of("obeyed").hex(obeyed).end();
    // The first frames only bring the two together.
    leave(told > 100 && obeyed >= told)
}

/// Telemetry sealed and opened: each payload has fifteen bytes.
#[inline(never)]
fn telemetry_there(
    (board, hand): (&mut BoardLink, &mut HandLink),
    now: Instant,
    report: &Report,
) -> Option<Heard> {
    let frame = counted_seal_telemetry(board, now, report)?;
    counted_open_telemetry(hand, now, &frame)
}

#[inline(never)]
fn counted_seal_telemetry(
    board: &mut BoardLink,
    now: Instant,
    report: &Report,
) -> Option<TelemetryFrame> {
    board.seal(now, report)
}

#[inline(never)]
fn counted_open_telemetry(hand: &mut HandLink, now: Instant, bytes: &[u8]) -> Option<Heard> {
    hand.open(now, bytes).ok()?
}

/// A command sealed and opened.
#[inline(never)]
fn command_there(
    (hand, board): (&mut HandLink, &mut BoardLink),
    now: Instant,
    demand: &Demand,
) -> Option<Command> {
    let frame = counted_seal_command(hand, demand)?;
    counted_open_command(board, now, &frame)
}

#[inline(never)]
fn counted_seal_command(hand: &mut HandLink, demand: &Demand) -> Option<CommandFrame> {
    hand.seal(demand)
}

#[inline(never)]
fn counted_open_command(board: &mut BoardLink, now: Instant, bytes: &[u8]) -> Option<Command> {
    board.open(now, bytes).ok()
}
