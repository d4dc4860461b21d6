//! Both ends of the link together: what is heard, what is refused, who is listened to.

mod held_back;

use std::string::ToString as _;
use std::vec::Vec;

use proptest::prelude::*;

use super::*;
use crate::receiver::{Command, HAND_KEPT_FOR, Lock, LockedBy};
use crate::telemetry::Telemetry;
use crate::throttle::{Arming, Demand, Reasons};
use crate::time::{Duration, Instant};
use crate::units::{
    Amperes, Celsius, Coulombs, Metres, MetresPerSecond, MetresPerSecondSquared, Ratio, Volts,
};

/// A memory of session numbers that keeps its word.
#[derive(Clone, Debug, Default)]
struct Memory(u32);

impl SessionStore for Memory {
    type Error = core::convert::Infallible;

    fn largest(&mut self) -> Result<u32, Self::Error> {
        Ok(self.0)
    }

    fn keep(&mut self, number: u32) -> Result<(), Self::Error> {
        self.0 = number;
        Ok(())
    }
}

fn pair(first: u8, hand: u8) -> Pair {
    let bytes = [first, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16];
    Pair::new(Key::new(bytes).unwrap(), hand).unwrap()
}

fn demand(share: i32) -> Demand {
    Demand {
        share: Ratio::from_percent(share),
        backward: false,
        asked: Ratio::ZERO,
        paced: Ratio::ONE,
        acceleration: MetresPerSecondSquared::ZERO,
        reasons: Reasons::NONE,
        armed: Arming::default(),
        neutral: share == 0,
        brake_left: Ratio::ONE,
    }
}

fn report(volts: i32) -> Report {
    Report {
        telemetry: Telemetry {
            pack_voltage: Volts::from_whole(volts),
            pack_current: Amperes::from_whole(-7),
            charge_drawn: Some(Coulombs::from_whole(-90)),
            cell_voltage_min: Some(Volts::from_milli(3655)),
            cell_temperature: Some(Celsius::from_milli(-3500)),
            motor_temperature: Some(Celsius::from_whole(71)),
            controller_temperature: None,
            speed: Some(MetresPerSecond::from_milli(6420)),
            distance: Some(Metres::from_milli(1250)),
            elevation: None,
        },
        age: Duration::from_millis(130),
        lock: Lock::Locked { why: LockedBy::Started },
        held_back: true,
        controller_fault: false,
    }
}

/// Both ends, their memories, and a clock.
struct Ends {
    hand: HandLink,
    board: BoardLink,
    hand_memory: Memory,
    board_memory: Memory,
    now: Instant,
    /// Everything that was ever sent.
    air: Vec<Vec<u8>>,
}

impl Ends {
    /// Just switched on: neither has heard the other.
    fn new() -> Self {
        let (mut hand_memory, mut board_memory) = (Memory(40), Memory(70));
        Self {
            hand: HandLink::new(&pair(1, 0), next_session(&mut hand_memory).unwrap()),
            board: BoardLink::new(&pair(1, 0), next_session(&mut board_memory).unwrap()),
            hand_memory,
            board_memory,
            now: Instant::from_millis(1000),
            air: Vec::new(),
        }
    }

    /// After a second of riding together.
    fn riding() -> Self {
        let mut ends = Self::new();
        ends.exchanges(10, 0);
        ends
    }

    fn exchanges(&mut self, times: u32, share: i32) {
        for _ in 0..times {
            self.exchange(share);
        }
    }

    fn hand_starts(&mut self) {
        self.hand = HandLink::new(&pair(1, 0), next_session(&mut self.hand_memory).unwrap());
    }

    fn board_starts(&mut self) {
        self.board = BoardLink::new(&pair(1, 0), next_session(&mut self.board_memory).unwrap());
    }

    fn wait(&mut self, millis: u64) {
        self.now = self.now + Duration::from_millis(millis);
    }

    fn telemetry(&mut self) -> TelemetryFrame {
        let frame = self.board.seal(self.now, &report(38)).unwrap();
        self.air.push(frame.to_vec());
        frame
    }

    fn command(&mut self, share: i32) -> Option<CommandFrame> {
        let frame = self.hand.seal(&demand(share))?;
        self.air.push(frame.to_vec());
        Some(frame)
    }

    /// A tenth of a second: five commands, one frame of telemetry. What the board obeyed of the last
    /// command, and what the hand heard.
    fn exchange(&mut self, share: i32) -> (Option<Command>, Option<Heard>) {
        let frame = self.telemetry();
        let heard = self.hand.open(self.now, &frame).unwrap_or(None);
        let mut obeyed = None;
        for _ in 0..5 {
            self.wait(20);
            let Some(frame) = self.command(share) else { continue };
            obeyed = self.board.open(self.now, &frame).ok();
        }
        (obeyed, heard)
    }
}

#[test]
fn two_ends_find_each_other_and_what_is_said_is_heard() {
    let mut ends = Ends::new();
    assert!(ends.command(0).is_none(), "a hand says nothing before it has heard the board");
    for _ in 0..2 {
        assert_eq!(ends.exchange(25), (None, None), "a new hand waits for the third call");
    }
    let (obeyed, heard) = ends.exchange(25);
    let obeyed = obeyed.unwrap();
    assert_eq!((obeyed.share, obeyed.neutral), (Ratio::from_percent(25), false));
    assert_eq!((obeyed.sender.hand, obeyed.sender.start), (0, 41));
    assert_eq!(heard, None, "it is a call");
    let mut frames = 0;
    while ends.exchange(0).1.unwrap().telemetry.is_none() {
        frames += 1;
    }
    assert_eq!(frames, 3, "cells, motor and controller take turns");
    let heard = ends.exchange(0).1.unwrap();
    let sent = report(38);
    assert_eq!(heard.telemetry.unwrap().pack_voltage, sent.telemetry.pack_voltage);
    assert_eq!(heard.age, Some(Duration::from_micros(1 << 16)));
    let alike = (heard.lock, heard.held_back, heard.controller_fault);
    assert_eq!(alike, (sent.lock, sent.held_back, sent.controller_fault));
    assert_eq!(heard.heard_by_board, Some(HeardByBoard::default()));
    assert!(heard.commands_since <= 8);
    let (told, sent) = (heard.telemetry.unwrap(), sent.telemetry);
    assert_eq!(
        (told.motor_temperature, told.controller_temperature),
        (sent.motor_temperature, None)
    );
    assert_eq!((told.cell_temperature, told.distance), (sent.cell_temperature, sent.distance));
    assert_eq!(told.charge_drawn, sent.charge_drawn);
    // Nearest steps: 5 mV, 20 mA, 20 mm/s.
    assert_eq!(told.cell_voltage_min.unwrap().to_milli(), 3654);
    assert_eq!(told.pack_current, sent.pack_current);
    assert!((told.speed.unwrap().to_f64() - 6.42).abs() < 1e-4);
    assert_eq!(ends.board.quality(ends.now).sound, Sound::Clear);
    assert_eq!(ends.hand.quality(ends.now).sound, Sound::Clear);
    assert!(ends.board.refused().named().all(|(_, count)| count == 0));
    assert!(ends.hand.refused().named().all(|(_, count)| count == 0));
}

#[test]
fn an_end_without_a_key_says_nothing_and_hears_nobody() {
    let mut ends = Ends::riding();
    let (command, telemetry) = (ends.command(50).unwrap(), ends.telemetry());
    let (mut hand, mut board) = (HandLink::unpaired(), BoardLink::unpaired());
    assert_eq!(board.open(ends.now, &command), Err(Refused::Unpaired));
    assert_eq!(hand.open(ends.now, &telemetry), Err(Refused::Unpaired));
    assert_eq!(board.seal(ends.now, &report(38)), None);
    assert_eq!(hand.seal(&demand(50)), None);
    assert_eq!(board.refused().of(Refused::Unpaired), 1);
}

#[test]
fn nothing_that_was_ever_sent_is_taken_again() {
    let mut ends = Ends::riding();
    ends.hand_starts();
    ends.exchanges(5, 10);
    ends.board_starts();
    ends.exchanges(5, 10);
    let commands = ends.board.refused().named().map(|(_, count)| count).sum::<u32>();
    for frame in ends.air.clone() {
        let refused = ends.board.open(ends.now, &frame).unwrap_err();
        let expected =
            [Refused::Length { given: 32, wanted: 25 }, Refused::EarlierStart, Refused::Repeated];
        assert!(expected.contains(&refused), "{refused}");
        assert!(ends.hand.open(ends.now, &frame).is_err());
    }
    let all = u32::try_from(ends.air.len()).unwrap();
    let counted = ends.board.refused().named().map(|(_, count)| count).sum::<u32>();
    assert_eq!(counted - commands, all);
}

#[test]
fn a_frame_of_each_kind_that_is_no_good_is_named() {
    let mut ends = Ends::riding();
    let (good, telemetry) = (ends.command(50).unwrap(), ends.telemetry());
    let now = ends.now;
    let with = |at: usize, byte: u8| {
        let mut bytes = good;
        bytes[at] = byte;
        bytes
    };
    let board = &mut ends.board;
    let length = |given| Refused::Length { given, wanted: 25 };
    assert_eq!(board.open(now, &good[..24]), Err(length(24)));
    assert_eq!(board.open(now, &[]), Err(length(0)));
    assert_eq!(board.open(now, &telemetry), Err(length(32)));
    assert_eq!(board.open(now, &with(0, 0x48)), Err(Refused::Version { given: 2 }));
    assert_eq!(board.open(now, &with(0, 0x30)), Err(Refused::Kind { given: 2 }));
    assert_eq!(board.open(now, &with(1, good[1] ^ 1)), Err(Refused::AnotherPair));
    assert_eq!(board.open(now, &with(1, good[1] ^ 0x10)), Err(Refused::EarlierStart));
    assert_eq!(board.open(now, &with(2, good[2] - 1)), Err(Refused::EarlierStart));
    assert_eq!(board.open(now, &with(2, good[2] + 1)), Err(Refused::Forged));
    assert_eq!(board.open(now, &with(5, good[5] + 100)), Err(Refused::Forged));
    assert_eq!(board.open(now, &with(0, good[0] | 2)), Err(Refused::Forged), "as another hand");
    assert!(board.open(now, &good).is_ok(), "nothing forged has moved the window");
    assert_eq!(board.open(now, &good), Err(Refused::Repeated));
    let hand = &mut ends.hand;
    assert_eq!(hand.open(now, &good), Err(Refused::Length { given: 25, wanted: 32 }));
    let mut other = telemetry;
    other[0] = (other[0] & 0xE7) | 8;
    assert_eq!(hand.open(now, &other), Err(Refused::Kind { given: 1 }));
    other[0] = telemetry[0] | 4;
    assert_eq!(hand.open(now, &other), Err(Refused::AnotherHand { given: 2 }));
    assert!(hand.open(now, &telemetry).is_ok());
    assert!(Refused::Length { given: 3, wanted: 25 }.to_string().contains("3 bytes"));
}

#[test]
fn another_pair_is_told_by_its_mark_mostly_and_by_its_tag_always() {
    let mut ends = Ends::riding();
    let (mut by_mark, mut by_tag) = (0, 0);
    for first in 2..=255 {
        let mut memory = Memory(ends.board_memory.0 - 1);
        let mut other = BoardLink::new(&pair(first, 0), next_session(&mut memory).unwrap());
        match ends.hand.open(ends.now, &other.seal(ends.now, &report(38)).unwrap()) {
            Err(Refused::AnotherPair) => by_mark += 1,
            // A call of a session that is the present one, and of a counter that was heard.
            Err(Refused::Repeated | Refused::TooOld | Refused::Forged) => by_tag += 1,
            other => panic!("{other:?}"),
        }
    }
    // A sixteenth of 254 is 16; five standard deviations are 19.
    assert!(by_tag < 35 && by_mark + by_tag == 254, "{by_mark} {by_tag}");
}

#[test]
fn a_command_that_was_overtaken_is_not_obeyed_and_was_not_lost() {
    let mut ends = Ends::riding();
    let (first, second) = (ends.command(50).unwrap(), ends.command(0).unwrap());
    assert!(ends.board.open(ends.now, &second).is_ok());
    assert!(ends.board.quality(ends.now).lost > Ratio::ZERO);
    assert_eq!(ends.board.open(ends.now, &first), Err(Refused::Late));
    assert_eq!(ends.board.open(ends.now, &first), Err(Refused::Repeated));
    assert_eq!(ends.board.quality(ends.now).lost, Ratio::ZERO);
}

#[test]
fn a_hand_that_starts_anew_is_called_and_obeyed_with_its_new_start() {
    let mut ends = Ends::riding();
    ends.hand_starts();
    assert!(ends.command(50).is_none());
    let mut obeyed = None;
    let mut tenths = 0;
    while obeyed.is_none() {
        obeyed = ends.exchange(50).0;
        tenths += 1;
    }
    // Two to be missed in, then every other one a call, and three of them wanted.
    assert!(tenths <= 9, "{tenths}");
    assert_eq!(obeyed.unwrap().sender.start, 42);
    assert!(ends.hand.refused().of(Refused::EarlierStart) > 0, "telemetry for its life before");
}

#[test]
fn a_board_that_starts_anew_takes_nothing_of_before_and_finds_its_hand_again() {
    let mut ends = Ends::riding();
    let before = ends.command(50).unwrap();
    ends.board_starts();
    assert_eq!(ends.board.open(ends.now, &before), Err(Refused::EarlierStart));
    assert!(ends.exchange(50).0.is_some(), "the first call is enough");
    assert_eq!(ends.board.open(ends.now, &before), Err(Refused::EarlierStart));
}

#[test]
fn an_old_call_misleads_a_new_hand_only_until_the_board_is_heard() {
    let mut ends = Ends::new();
    let old_calls: Vec<TelemetryFrame> = (0..3).map(|_| ends.telemetry()).collect();
    ends.board_starts();
    ends.hand_starts();
    for call in &old_calls {
        assert_eq!(ends.hand.open(ends.now, call), Ok(None));
    }
    let misled = ends.command(50).unwrap();
    assert_eq!(ends.board.open(ends.now, &misled), Err(Refused::EarlierStart));
    while ends.exchange(50).0.is_none() {}
    assert_eq!(ends.hand.open(ends.now, &old_calls[0]), Err(Refused::EarlierStart));
}

#[test]
fn of_two_hands_with_one_key_the_board_talks_to_the_one_that_rides() {
    let mut ends = Ends::new();
    let mut other_memory = Memory(500);
    let mut other = HandLink::new(&pair(1, 1), next_session(&mut other_memory).unwrap());
    for _ in 0..3 {
        let call = ends.telemetry();
        other.open(ends.now, &call).unwrap();
        ends.hand.open(ends.now, &call).unwrap();
    }
    ends.exchanges(10, 20);
    // The other one is authentic: the receiver decides, and knows it by its number.
    let command = ends.board.open(ends.now, &other.seal(&demand(90)).unwrap()).unwrap();
    assert_eq!((command.sender.hand, command.sender.start), (1, 501));
    let frame = ends.telemetry();
    assert_eq!(other.open(ends.now, &frame), Err(Refused::AnotherHand { given: 0 }));
    assert!(ends.hand.open(ends.now, &frame).unwrap().is_some());
    // Ten seconds later the first one is gone, and calls have told the other that it may answer.
    let gone = ends.now + HAND_KEPT_FOR;
    while ends.now <= gone {
        ends.wait(100);
        let frame = ends.telemetry();
        let _ = other.open(ends.now, &frame);
    }
    ends.board.open(ends.now, &other.seal(&demand(0)).unwrap()).unwrap();
    let frame = ends.telemetry();
    assert!(other.open(ends.now, &frame).unwrap().is_some());
    assert_eq!(ends.hand.open(ends.now, &frame), Err(Refused::AnotherHand { given: 1 }));
}

#[test]
fn a_board_that_starts_anew_is_found_by_the_hand_that_rode_before_a_spare_one() {
    let mut ends = Ends::riding();
    let mut spare = HandLink::new(&pair(1, 1), next_session(&mut Memory(500)).unwrap());
    ends.board_starts();
    let (mut rider, mut other) = (None, None);
    for tenth in 0..20 {
        let frame = ends.telemetry();
        let _ = (spare.open(ends.now, &frame), ends.hand.open(ends.now, &frame));
        ends.wait(20);
        // The spare one sends first, when it sends at all.
        for (link, when) in [(&mut spare, &mut other), (&mut ends.hand, &mut rider)] {
            let taken =
                link.seal(&demand(0)).and_then(|frame| ends.board.open(ends.now, &frame).ok());
            if taken.is_some() && when.is_none() {
                *when = Some(tenth);
            }
        }
        ends.wait(80);
    }
    assert_eq!(rider, Some(0));
    assert_eq!(other, None, "it hears no third call");
}

#[test]
fn a_boards_clock_that_steps_back_leaves_it_with_the_hand_that_rides() {
    let mut ends = Ends::riding();
    let mut other = HandLink::new(&pair(1, 1), next_session(&mut Memory(500)).unwrap());
    ends.board_starts();
    for _ in 0..3 {
        let call = ends.telemetry();
        other.open(ends.now, &call).unwrap();
        ends.hand.open(ends.now, &call).unwrap();
    }
    ends.exchanges(3, 0);
    ends.now = Instant::from_millis(5);
    let _ = ends.board.open(ends.now, &other.seal(&demand(0)).unwrap());
    ends.exchanges(20, 0);
    assert!(ends.exchange(0).1.is_some_and(|heard| heard.telemetry.is_some()));
}

#[test]
fn an_end_that_has_used_up_its_counters_is_silent() {
    let mut ends = Ends::riding();
    ends.hand.next_is(u32::MAX);
    assert!(ends.command(1).is_some());
    assert!(ends.command(1).is_none());
    ends.board.next_is(u32::MAX);
    assert!(ends.board.seal(ends.now, &report(38)).is_some());
    assert!(ends.board.seal(ends.now, &report(38)).is_none());
}

#[test]
fn measurements_too_old_to_be_used_are_not_handed_on() {
    let mut ends = Ends::riding();
    let report = Report { age: Duration::from_secs(1), ..report(38) };
    let frame = ends.board.seal(ends.now, &report).unwrap();
    let heard = ends.hand.open(ends.now, &frame).unwrap().unwrap();
    assert_eq!((heard.telemetry, heard.age), (None, None));
}

#[test]
fn the_states_are_small() {
    assert!(size_of::<HandLink>() <= 240, "{}", size_of::<HandLink>());
    assert!(size_of::<BoardLink>() <= 280, "{}", size_of::<BoardLink>());
}

/// What may happen to a frame or an end.
#[derive(Clone, Copy, Debug)]
enum Event {
    Exchange { lost: bool },
    Replay { which: usize },
    Damage { which: usize, bit: usize },
    HandStarts,
    BoardStarts,
    Wait { millis: u64 },
}

fn any_event() -> impl Strategy<Value = Event> {
    prop_oneof![
        6 => any::<bool>().prop_map(|lost| Event::Exchange { lost }),
        4 => any::<usize>().prop_map(|which| Event::Replay { which }),
        4 => (any::<usize>(), 0_usize..256).prop_map(|(which, bit)| Event::Damage { which, bit }),
        1 => Just(Event::HandStarts),
        1 => Just(Event::BoardStarts),
        1 => (0_u64..12_000).prop_map(|millis| Event::Wait { millis }),
    ]
}

proptest! {
    #[test]
    fn law_only_what_was_sent_is_taken_and_only_once_and_nothing_of_a_board_before_its_start(
        events in prop::collection::vec(any_event(), 1..120),
    ) {
        let mut ends = Ends::new();
        // Frames that may be taken once more: sent, and lost on the way, in this life of both.
        let mut open_commands: Vec<Vec<u8>> = Vec::new();
        for event in events {
            match event {
                Event::Exchange { lost } => {
                    let frame = ends.telemetry();
                    if !lost {
                        let _ = ends.hand.open(ends.now, &frame);
                    }
                    ends.wait(20);
                    if let Some(frame) = ends.command(30) {
                        if lost {
                            open_commands.push(frame.to_vec());
                        } else {
                            let _ = ends.board.open(ends.now, &frame);
                        }
                    }
                }
                Event::Replay { which } if !ends.air.is_empty() => {
                    let frame = ends.air[which % ends.air.len()].clone();
                    let taken = ends.board.open(ends.now, &frame).is_ok();
                    if let Some(at) = open_commands.iter().position(|open| *open == frame) {
                        open_commands.remove(at);
                    } else {
                        prop_assert!(!taken);
                    }
                }
                Event::Damage { which, bit } if !ends.air.is_empty() => {
                    let mut frame = ends.air[which % ends.air.len()].clone();
                    let bit = bit % (frame.len() * 8);
                    frame[bit / 8] ^= 1 << (bit % 8);
                    prop_assert!(ends.board.open(ends.now, &frame).is_err());
                    prop_assert!(ends.hand.open(ends.now, &frame).is_err());
                }
                Event::Replay { .. } | Event::Damage { .. } => {}
                Event::HandStarts => {
                    ends.hand_starts();
                }
                Event::BoardStarts => {
                    ends.board_starts();
                    open_commands.clear();
                }
                Event::Wait { millis } => ends.wait(millis),
            }
        }
    }

    #[test]
    fn law_no_bytes_are_too_strange(
        frames in prop::collection::vec(
            (prop::collection::vec(any::<u8>(), 0..40), any::<u64>(), any::<bool>()), 0..60,
        ),
    ) {
        let mut ends = Ends::riding();
        for (mut bytes, micros, dressed) in frames {
            // As if they were from the right pair, so that more of them get further.
            if dressed && bytes.len() >= 2 {
                bytes.resize(if bytes.len() % 2 == 0 { 25 } else { 32 }, 0);
                let sent = ends.air.iter().rev().find(|sent| sent.len() == bytes.len()).unwrap();
                bytes[..5].copy_from_slice(&sent[..5]);
            }
            let now = Instant::from_micros(micros);
            prop_assert!(ends.board.open(now, &bytes).is_err());
            prop_assert!(ends.hand.open(now, &bytes).is_err());
            prop_assert!(ends.board.seal(now, &report(38)).is_some());
            let _ = (ends.hand.seal(&demand(3)), ends.hand.quality(now), ends.board.quality(now));
        }
    }
}
