//! The receiver's laws at every phase of the radio's timing, and what it does in the moments that
//! matter.

use super::*;
use crate::throttle::laws::settings;
use proptest::prelude::*;
use std::vec::Vec;

const HAND: Sender = Sender { hand: 7, start: 1 };

fn percent(share: i32) -> Ratio {
    Ratio::from_percent(share)
}

fn command(share: i32) -> Command {
    Command {
        sender: HAND,
        share: percent(share),
        backward: false,
        neutral: share == 0,
        brake_left: Ratio::ONE,
    }
}

/// The receiver and its clock.
#[derive(Clone)]
struct End {
    receiver: Receiver,
    settings: Settings,
    now: Instant,
    measured: Measured,
}

impl End {
    fn new() -> Self {
        Self {
            receiver: Receiver::new(),
            settings: settings(),
            now: Instant::from_millis(1000),
            measured: Measured::default(),
        }
    }

    /// With drive at 40 % (1.6 of 4 m/s²), or braking with 75 % (3 of 4), for as long as that takes.
    fn at(share: i32) -> Self {
        let mut end = Self::new();
        end.tick(20, Some(command(0)));
        for _ in 0..150 {
            end.tick(20, Some(command(share)));
        }
        assert!((end.felt() - f64::from(share) / 25.0).abs() < 1e-3, "{}", end.felt());
        end
    }

    fn tick(&mut self, millis: u64, command: Option<Command>) -> Order {
        self.tick_us(millis * 1000, command)
    }

    fn tick_us(&mut self, micros: u64, command: Option<Command>) -> Order {
        self.now = self.now + Duration::from_micros(micros);
        self.receiver.tick(self.now, command.as_ref(), &self.measured, &self.settings)
    }

    /// What the motors do by now, in m/s².
    fn felt(&self) -> f64 {
        self.receiver.shaping.acceleration().to_f64()
    }

    /// Ticks in silence for so long; the last order.
    fn silent(&mut self, millis: u64) -> Order {
        let mut order = self.tick(20, None);
        for _ in 1..millis.div_euclid(20) {
            order = self.tick(20, None);
        }
        order
    }
}

#[test]
fn drive_is_held_then_falls_and_is_gone_in_time() {
    let mut end = End::at(40);
    // Every 20 ms: the one at 80 still holds, the one at 240 has nothing.
    let felt: Vec<f64> = (0..13)
        .map(|_| {
            end.tick(20, None);
            end.felt()
        })
        .collect();
    assert!(felt[..4].iter().all(|&felt| (felt - 1.6).abs() < 1e-3), "{felt:?}");
    assert!(felt[4..11].windows(2).all(|pair| pair[1] < pair[0]) && felt[4] < 1.6, "{felt:?}");
    assert!(felt[11..].iter().all(|&felt| felt.abs() < 1e-9), "{felt:?}");
    assert_eq!(end.receiver.silent_at(), Some(Instant::from_millis(1000 + 151 * 20 + 250)));
}

#[test]
fn a_brake_is_held_for_a_second_and_then_eased_to_the_boards_own() {
    let mut end = End::at(-75);
    end.silent(1000);
    assert!((end.felt() + 3.0).abs() < 1e-3);
    // 2.5 m/s² at 1 m/s³.
    end.silent(2000);
    assert!((end.felt() + 1.0).abs() < 0.03, "{}", end.felt());
    end.silent(3000);
    assert!((end.felt() + 0.5).abs() < 1e-3);
    end.silent(60_000);
    assert!((end.felt() + 0.5).abs() < 1e-3, "it stays until the board stands");
}

#[test]
fn a_pack_that_takes_nothing_is_not_charged_by_a_board_that_stops_alone() {
    let mut end = End::at(0);
    end.tick(20, Some(Command { brake_left: percent(5), ..command(0) }));
    end.silent(5000);
    // A twentieth of 3 m/s².
    assert!((end.felt() + 0.15).abs() < 1e-3, "{}", end.felt());
    end.tick(20, Some(Command { brake_left: Ratio::ZERO, ..command(0) }));
    assert_eq!(end.silent(5000).share, Ratio::ZERO);
}

#[test]
fn a_brake_that_a_hand_held_is_eased_off_when_it_starts_anew() {
    let mut end = End::at(-75);
    let anew = Command { sender: Sender { start: 2, ..HAND }, neutral: false, ..command(0) };
    let before = end.felt();
    end.tick(20, Some(anew));
    let eased = end.felt() - before;
    assert!(eased > 0.0 && eased <= 0.02 + 1e-4, "{eased}");
}

#[test]
fn a_hand_that_started_anew_and_brakes_is_obeyed_at_brake_on() {
    let mut end = End::at(0);
    end.silent(300);
    let anew = Command { sender: Sender { start: 2, ..HAND }, ..command(-75) };
    for _ in 0..25 {
        end.tick(20, Some(anew));
    }
    assert!((end.felt() + 3.0).abs() < 1e-3, "{}", end.felt());
}

#[test]
fn a_brake_before_a_silence_is_no_measure_for_drive_after_it() {
    let mut end = End::at(-75);
    end.silent(300);
    for _ in 0..45 {
        end.tick(20, Some(command(60)));
        assert!(end.felt() <= 0.0);
    }
}

#[test]
fn a_thumb_that_rests_while_its_drive_still_goes_opens_nothing() {
    let mut end = End::at(40);
    end.silent(1100);
    for share in [38, 25, 12] {
        // The board still brakes by itself a little.
        let order = end.tick(20, Some(Command { neutral: true, ..command(share) }));
        assert!(order.share <= Ratio::ZERO);
        assert_ne!(order.lock, Lock::Open);
    }
    assert_eq!(end.tick(20, Some(command(0))).lock, Lock::Open);
}

#[test]
fn a_frame_that_ends_a_long_gap_in_one_late_tick_finds_no_drive_left() {
    let mut end = End::at(40);
    assert_eq!(end.tick(2000, Some(command(40))).share, Ratio::ZERO);
}

#[test]
fn a_board_that_was_driven_backwards_stops_alone_like_any() {
    let mut end = End::at(0);
    let back = Command { backward: true, neutral: false, ..command(-12) };
    for _ in 0..100 {
        end.tick(20, Some(back));
    }
    let order = end.silent(3000);
    assert!(!order.backward);
    assert!((end.felt() + 0.5).abs() < 1e-3, "{}", end.felt());
}

#[test]
fn a_board_without_a_brake_of_its_own_rolls_out() {
    let mut end = End::at(-75);
    let parts = crate::throttle::Parts {
        silent_brake: MetresPerSecondSquared::ZERO,
        ..*end.settings.parts()
    };
    end.settings = Settings::new(parts).unwrap();
    assert_eq!(end.silent(5000).share, Ratio::ZERO);
}

#[test]
fn after_a_short_silence_drive_returns_at_its_rate_and_not_above_what_it_was() {
    let mut end = End::at(40);
    end.silent(600);
    let mut before = 0.0;
    // 60 % is asked by now; 40 % was the last that was heard.
    for _ in 0..50 {
        end.tick(20, Some(command(60)));
        assert!(end.felt() - before <= 1.2 * 0.02 + 1e-4 && end.felt() <= 1.6 + 1e-4);
        before = end.felt();
    }
    // A second of good frames later it is believed again.
    for _ in 0..150 {
        end.tick(20, Some(command(60)));
    }
    assert!((end.felt() - 2.4).abs() < 1e-3, "{}", end.felt());
}

#[test]
fn a_command_no_larger_than_the_last_one_ends_what_was_held_back() {
    let mut end = End::at(40);
    end.silent(600);
    end.tick(20, Some(command(40)));
    for _ in 0..120 {
        end.tick(20, Some(command(60)));
    }
    assert!(end.felt() > 1.7);
}

#[test]
fn after_a_long_silence_drive_needs_a_neutral_thumb_and_a_brake_does_not() {
    let mut end = End::at(40);
    end.silent(1040);
    for _ in 0..200 {
        let order = end.tick(20, Some(command(40)));
        assert!(order.share <= Ratio::ZERO);
        assert_eq!(order.lock, Lock::Locked { why: LockedBy::Silence });
    }
    for _ in 0..40 {
        end.tick(20, Some(command(-75)));
    }
    assert!((end.felt() + 3.0).abs() < 1e-3);
    assert_eq!(end.tick(20, Some(command(0))).lock, Lock::Open);
    for _ in 0..200 {
        end.tick(20, Some(command(40)));
    }
    assert!((end.felt() - 1.6).abs() < 1e-3);
}

#[test]
fn a_receiver_that_starts_or_whose_clock_steps_back_is_locked() {
    let mut end = End::new();
    for _ in 0..100 {
        assert_eq!(end.tick(20, Some(command(40))).share, Ratio::ZERO);
    }
    let mut end = End::at(40);
    end.now = Instant::from_millis(1);
    let order = end.tick(0, Some(command(40)));
    assert_eq!(order.lock, Lock::Locked { why: LockedBy::ClockSteppedBack });
    for _ in 0..10 {
        end.tick(20, Some(command(40)));
    }
    assert!(end.felt().abs() < 1e-9);
}

#[test]
fn a_clock_that_jumps_ahead_ends_drive_at_once() {
    let mut end = End::at(40);
    assert!(end.tick(3_600_000, None).share <= Ratio::ZERO);
    assert_eq!(end.tick(20, Some(command(40))).lock, Lock::Locked { why: LockedBy::Silence });
}

#[test]
fn a_hand_that_starts_anew_at_full_speed_is_locked_out_until_its_thumb_is_neutral() {
    let mut end = End::at(40);
    let start = Sender { start: 2, ..HAND };
    let anew = |share, neutral| Command { sender: start, neutral, ..command(share) };
    // It was away for 300 ms and asks for nothing before it is armed.
    end.silent(300);
    let order = end.tick(20, Some(anew(0, false)));
    assert_eq!(order.lock, Lock::Locked { why: LockedBy::AnotherStart });
    // Even if it asked at once, nothing would come of it.
    for _ in 0..100 {
        assert_eq!(end.tick(20, Some(anew(40, false))).share, Ratio::ZERO);
    }
    assert_eq!(end.tick(20, Some(anew(0, true))).lock, Lock::Open);
}

#[test]
fn of_two_hands_the_first_is_obeyed_until_it_is_long_gone() {
    let mut end = End::at(40);
    let other = Sender { hand: 8, start: 1 };
    let braking = Command { sender: other, ..command(-75) };
    for _ in 0..200 {
        end.tick(10, Some(command(40)));
        let order = end.tick(10, Some(braking));
        assert!((order.share - percent(40)).magnitude() < Ratio::from_milli(1));
    }
    assert_eq!(end.receiver.strangers(), 200);
    // It is no longer there: the other one gets the board, through neutral.
    end.silent(10_020);
    let order = end.tick(20, Some(Command { sender: other, ..command(40) }));
    assert_eq!(order.lock, Lock::Locked { why: LockedBy::AnotherStart });
    assert_eq!(end.tick(20, Some(Command { sender: other, ..command(0) })).lock, Lock::Open);
}

#[test]
fn a_pack_at_its_stop_voltage_ends_drive_whatever_the_hand_says() {
    let mut end = End::at(40);
    end.measured.pack_voltage = Some(Volts::from_whole(33));
    let mut before = 0.4;
    for _ in 0..26 {
        let order = end.tick(20, Some(command(40)));
        let share = order.share.to_f64();
        // 1.6 of 4 m/s² in half a second.
        assert!(before - share <= 0.4 / 25.0 + 1e-4);
        assert_eq!(order.reasons, Reasons::of(Reason::StopVoltage));
        before = share;
    }
    assert!(before.abs() < 1e-9);
}

#[test]
fn a_brake_at_standstill_fades_where_the_board_measures_its_speed() {
    let mut end = End::at(-75);
    end.measured.speed = Some(MetresPerSecond::ZERO);
    end.silent(700);
    let order = end.tick(20, Some(command(-75)));
    assert_eq!((order.share, order.reasons), (Ratio::ZERO, Reasons::of(Reason::Standstill)));
}

#[test]
fn backwards_is_passed_on_and_turns_only_through_nothing() {
    let mut end = End::at(-75);
    let back = Command { backward: true, ..command(-12) };
    let order = end.tick(20, Some(back));
    assert!(!order.backward && order.share < Ratio::ZERO, "still a brake");
    let turned = (0..60).map(|_| end.tick(20, Some(back))).find(|order| order.backward);
    assert_eq!(turned.map(|order| order.share > percent(-2)), Some(true), "begins at nothing");
    for _ in 0..100 {
        end.tick(20, Some(back));
    }
    assert!((end.felt() + 0.48).abs() < 1e-3);
    assert!(end.silent(260).share == Ratio::ZERO, "and is a drive in a silence");
}

#[test]
fn a_watchdog_is_fed_only_for_ticks_in_time() {
    let mut end = End::new();
    assert!(!end.tick(20, None).feed_watchdog, "the first tick proves nothing");
    assert!(!end.tick(0, None).feed_watchdog, "nor does a clock that stands still");
    assert!(end.tick(20, None).feed_watchdog);
    assert!(end.tick(50, None).feed_watchdog);
    assert!(!end.tick(51, None).feed_watchdog);
    end.now = Instant::from_millis(1);
    assert!(!end.tick(0, None).feed_watchdog);
}

#[test]
fn the_state_is_small() {
    assert!(size_of::<Receiver>() <= 144, "{}", size_of::<Receiver>());
}

/// A frame that arrives at some time between two ticks, or is lost.
#[derive(Clone, Copy, Debug)]
struct Slot {
    /// Microseconds to the tick.
    tick_us: u64,
    /// So long before the tick it arrived.
    waited_us: u64,
    share: i32,
    lost: bool,
}

fn any_slots() -> impl Strategy<Value = Vec<Slot>> {
    // Stretches of good and of lost frames; the thumb stays for a while.
    let stretch = (1_usize..40, prop_oneof![Just(0), -75_i32..=60], prop::bool::weighted(0.4));
    let timing = (1000_u64..=10_000, 0_u64..10_000);
    let stretch = stretch.prop_flat_map(move |(count, share, lost)| {
        let slot = timing.clone().prop_map(move |(tick_us, waited_us)| Slot {
            tick_us,
            waited_us: waited_us.min(tick_us),
            share,
            lost,
        });
        prop::collection::vec(slot, count)
    });
    prop::collection::vec(stretch, 1..20).prop_map(|stretches| stretches.concat())
}

proptest! {
    #[test]
    fn law_after_a_silence_drive_is_zero_by_its_deadline_at_every_phase(slots in any_slots()) {
        let mut end = End::at(40);
        let (mut arrived, mut at_arrival) = (end.now, end.felt());
        for slot in slots {
            let frame = (!slot.lost).then(|| command(slot.share));
            let before = end.felt();
            end.tick_us(slot.tick_us, frame);
            if frame.is_some() {
                let since = end.now.to_micros() - slot.waited_us;
                (arrived, at_arrival) = (Instant::from_micros(since), end.felt());
                continue;
            }
            let silent = end.now.since(arrived).unwrap();
            let drive = end.felt().max(0.0);
            prop_assert!(drive <= before.max(0.0) || silent <= HELD_FOR, "only a frame brings it back");
            prop_assert!(silent <= HELD_FOR || at_arrival <= 0.0 || drive < at_arrival.max(before));
            prop_assert!(silent < GONE_WITHIN || drive <= 0.0, "{silent:?} {drive}");
        }
    }

    #[test]
    fn law_each_rate_is_within_its_limit_for_any_frames(slots in any_slots()) {
        let mut end = End::at(40);
        let mut before = end.felt();
        for slot in slots {
            end.tick_us(slot.tick_us, (!slot.lost).then(|| command(slot.share)));
            let (after, seconds) = (end.felt(), slot.tick_us as f64 / 1e6);
            let slack = 2.0 / 65536.0;
            let (drive, brake) =
                (after.max(0.0) - before.max(0.0), before.min(0.0) - after.min(0.0));
            prop_assert!(drive <= 1.2 * seconds + slack);
            // Twice drive off, or what was held (2.4 m/s² of 60 % at the most) in 150 ms.
            prop_assert!(-drive <= (2.4 / 0.15) * seconds + slack, "{before} {after} {seconds} {slot:?}");
            prop_assert!(brake <= 6.0 * seconds + slack);
            prop_assert!(-brake <= 4.0 * seconds + slack);
            before = after;
        }
    }

    #[test]
    fn law_a_brake_is_never_weakened_by_a_silence_but_gently(
        braked in 30_i32..75, gaps in prop::collection::vec(1000_u64..=20_000, 1..400),
    ) {
        let mut end = End::at(-braked);
        let (began, mut before) = (end.now, end.felt());
        for gap in gaps {
            end.tick_us(gap, None);
            let long = end.now.since(began).is_some_and(|silence| silence > SHORT);
            let eased = end.felt() - before;
            let most = if long { gap as f64 / 1e6 + 1e-4 } else { 0.0 };
            prop_assert!(eased <= most, "{eased}");
            before = end.felt();
        }
    }

    #[test]
    fn law_no_frame_clock_or_measurement_is_too_strange(
        ticks in prop::collection::vec(
            (any::<u64>(), prop::option::of((any::<i32>(), any::<bool>(), any::<bool>(), 0_u16..3)),
             prop::option::of(any::<i32>()), prop::option::of(any::<i32>())),
            1..80,
        ),
    ) {
        let (settings, mut receiver) = (settings(), Receiver::new());
        for (micros, frame, volts, speed) in ticks {
            let frame = frame.map(|(share, backward, neutral, start)| Command {
                sender: Sender { hand: start, start: start.into() },
                share: Ratio::from_bits(share),
                backward,
                neutral,
                brake_left: Ratio::from_bits(share),
            });
            let measured = Measured {
                pack_voltage: volts.map(Volts::from_bits),
                speed: speed.map(MetresPerSecond::from_bits),
            };
            let now = Instant::from_micros(micros);
            let order = receiver.tick(now, frame.as_ref(), &measured, &settings);
            prop_assert!(order.share.magnitude() <= Ratio::ONE);
            prop_assert!(!(order.backward && order.share > Ratio::ZERO));
        }
    }
}
