//! What the whole throttle does in the moments that matter, ridden tick by tick.

use super::arming::BROKEN_FOR;
use super::laws::{CENTRE, Ride, fine};
use super::limits::tests::Scene;
use super::*;
use crate::units::Celsius;
use std::vec::Vec;

/// A frame like the fine one but for what `change` does to it.
fn but(change: impl FnOnce(&mut Conditions)) -> Scene {
    let mut scene = fine();
    change(&mut scene.frame);
    scene
}

#[test]
fn a_broken_thumb_holds_the_brake_for_a_moment_and_then_eases_it() {
    let mut ride = Ride::armed();
    for _ in 0..100 {
        ride.tick(10_000, 800, &fine());
    }
    let (three, mut last) = (MetresPerSecondSquared::from_whole(-3), ride.tick(10_000, 0, &fine()));
    assert_eq!(last.acceleration, three);
    assert_eq!(last.reasons, Reasons::of(Reason::BrokenThumb));
    let mut held = 0;
    while last.acceleration == three {
        last = ride.tick(10_000, 0, &fine());
        held += 10;
    }
    // It counts as broken at the tick that completes the stated time.
    assert_eq!(held, BROKEN_FOR.to_millis());
    let mut eased = 1;
    while last.acceleration < MetresPerSecondSquared::ZERO {
        last = ride.tick(10_000, 0, &fine());
        eased += 1;
    }
    // 3 m/s² at 1 m/s³ are three seconds.
    assert!((299..=301).contains(&eased), "{eased}");
}

#[test]
fn a_spark_in_the_thumbs_wire_costs_neither_brake_nor_arming() {
    let mut ride = Ride::armed();
    for tick in 0..100 {
        let raw = if tick == 50 { 4095 } else { 800 };
        ride.tick(10_000, raw, &fine());
    }
    let demand = ride.tick(10_000, 800, &fine());
    assert_eq!(demand.acceleration, MetresPerSecondSquared::from_whole(-3));
    assert!(demand.armed.is_armed());
}

#[test]
fn braking_begins_within_fifty_milliseconds_of_drive_reaching_zero() {
    let mut ride = Ride::armed();
    for _ in 0..300 {
        ride.tick(10_000, 3300, &fine());
    }
    let mut demand = ride.tick(10_000, 800, &fine());
    while demand.share > Ratio::ZERO {
        demand = ride.tick(10_000, 800, &fine());
    }
    for _ in 0..5 {
        demand = ride.tick(10_000, 800, &fine());
    }
    assert!(demand.share < Ratio::ZERO);
}

#[test]
fn a_brake_at_standstill_fades_to_nothing_and_an_unknown_speed_keeps_it() {
    let standing = but(|frame| frame.speed = Some(MetresPerSecond::ZERO));
    let unknown = but(|frame| frame.speed = None);
    let brake = |scene: Scene| {
        let mut ride = Ride::armed();
        let mut demand = ride.tick(10_000, 800, &fine());
        for _ in 0..100 {
            demand = ride.tick(10_000, 800, &scene);
        }
        demand
    };
    assert_eq!(brake(standing).share, Ratio::ZERO);
    assert_eq!(brake(standing).reasons, Reasons::of(Reason::Standstill));
    assert_eq!(brake(unknown).acceleration, MetresPerSecondSquared::from_whole(-3));
}

#[test]
fn a_late_tick_disarms_and_moves_no_further_than_a_tenth_of_a_second() {
    let mut ride = Ride::armed();
    for _ in 0..300 {
        ride.tick(10_000, 3300, &fine());
    }
    let demand = ride.tick(5_000_000, 3300, &fine());
    assert!(!demand.armed.is_armed());
    assert_eq!(demand.reasons, Reasons::of(Reason::NotArmed));
    // A third of 1.6 m/s² went, and a rounding.
    let two_thirds = MetresPerSecondSquared::from_fraction(16, 15);
    assert!((demand.acceleration - two_thirds).magnitude().to_bits() <= 2);
}

#[test]
fn drive_without_any_telemetry_is_none_and_braking_is_left() {
    let deaf = Scene { frame: Conditions::default(), age: None, ..fine() };
    let mut ride = Ride::new();
    for _ in 0..60 {
        ride.tick(10_000, CENTRE, &deaf);
    }
    let mut demand = ride.tick(10_000, 3300, &deaf);
    for _ in 0..100 {
        demand = ride.tick(10_000, 3300, &deaf);
    }
    assert_eq!((demand.share, demand.reasons), (Ratio::ZERO, Reasons::of(Reason::StaleTelemetry)));
    for _ in 0..100 {
        demand = ride.tick(10_000, 800, &deaf);
    }
    // The floor: 0.3 of 3 m/s², and a rounding.
    let floor = MetresPerSecondSquared::from_milli(-900);
    assert!((demand.acceleration - floor).magnitude().to_bits() <= 2, "{demand:?}");
}

#[test]
fn a_pack_that_sags_takes_drive_gently_and_gives_it_back_more_gently() {
    let sagged = but(|frame| frame.pack_voltage = Some(Volts::from_whole(36)));
    let mut ride = Ride::armed();
    let mut before = ride.tick(10_000, 3300, &fine());
    for _ in 0..300 {
        before = ride.tick(10_000, 3300, &fine());
    }
    // All in a second, of 1.6 m/s²; then all in two. Two roundings of 2^-16.
    let (fall, rise) = (1.6 / 100.0 + 2.0 / 65536.0, 1.6 / 200.0 + 2.0 / 65536.0);
    for _ in 0..101 {
        let demand = ride.tick(10_000, 3300, &sagged);
        assert!((before.acceleration - demand.acceleration).to_f64() <= fall);
        assert_eq!(demand.reasons, Reasons::of(Reason::Sagging));
        before = demand;
    }
    assert_eq!(before.share, Ratio::ZERO);
    for _ in 0..199 {
        let demand = ride.tick(10_000, 3300, &fine());
        assert!((demand.acceleration - before.acceleration).to_f64() <= rise);
        assert_eq!(demand.reasons, Reasons::of(Reason::Sagging));
        before = demand;
    }
    for _ in 0..3 {
        before = ride.tick(10_000, 3300, &fine());
    }
    assert_eq!((before.acceleration, before.reasons), (USUAL_DRIVE, Reasons::NONE));
}

#[test]
fn a_stop_voltage_ends_drive_within_half_a_second_and_waits_for_its_release() {
    let at = |volts| but(|frame| frame.pack_voltage = Some(Volts::from_whole(volts)));
    let mut ride = Ride::armed();
    for _ in 0..300 {
        ride.tick(10_000, 3300, &fine());
    }
    let mut demand = ride.tick(10_000, 3300, &at(33));
    assert!(demand.share > Ratio::ZERO);
    for _ in 0..50 {
        demand = ride.tick(10_000, 3300, &at(33));
    }
    assert_eq!(demand.share, Ratio::ZERO);
    assert_eq!(demand.reasons.strongest(), Some(Reason::StopVoltage));
    // It trips at 33.6 V and lets go at 38.4 V.
    for _ in 0..500 {
        demand = ride.tick(10_000, 3300, &at(38));
    }
    assert_eq!(demand.share, Ratio::ZERO);
    for _ in 0..600 {
        demand = ride.tick(10_000, 3300, &at(44));
    }
    assert_eq!((demand.acceleration, demand.reasons), (USUAL_DRIVE, Reasons::NONE));
}

#[test]
fn a_pack_above_its_highest_voltage_takes_the_brake_within_half_a_second_and_says_so() {
    let over = but(|frame| frame.pack_voltage = Some(Volts::from_whole(52)));
    let mut ride = Ride::armed();
    for _ in 0..100 {
        ride.tick(10_000, 800, &fine());
    }
    let mut before = ride.tick(10_000, 800, &over);
    for _ in 0..50 {
        let demand = ride.tick(10_000, 800, &over);
        // 3 m/s² in half a second, never at once; two roundings.
        let eased = (demand.acceleration - before.acceleration).to_f64();
        assert!(eased <= 0.06 + 2.0 / 65536.0, "{eased}");
        assert!(demand.reasons.contains(Reason::OverVoltage));
        before = demand;
    }
    assert_eq!(before.share, Ratio::ZERO);
}

#[test]
fn a_frozen_pack_takes_the_brake_in_a_second_and_holds_the_speed() {
    let frozen = but(|frame| frame.cell_temperature = Some(Celsius::from_whole(-5)));
    let mut ride = Ride::armed();
    for _ in 0..100 {
        ride.tick(10_000, 800, &fine());
    }
    for _ in 0..101 {
        ride.tick(10_000, 800, &frozen);
    }
    let demand = ride.tick(10_000, 800, &frozen);
    assert_eq!((demand.share, demand.reasons), (Ratio::ZERO, Reasons::of(Reason::ColdCharge)));
    // Told whether or not anybody brakes.
    assert!(ride.throttle().speed_limit() < MetresPerSecond::from_whole(2));
    assert_eq!(ride.throttle().ceilings().brake.share, Ratio::ZERO);
}

#[test]
fn a_change_of_pace_while_riding_is_gentle_both_ways() {
    let slower = Scene { pace: 1, ..fine() };
    let mut ride = Ride::armed();
    for _ in 0..300 {
        ride.tick(10_000, 3300, &fine());
    }
    let mut before = ride.tick(10_000, 3300, &fine());
    // Half of 1.6 m/s² goes in half a second and comes back in a whole one.
    let (fall, rise) = (1.6 / 100.0 + 2.0 / 65536.0, 1.6 / 200.0 + 2.0 / 65536.0);
    for _ in 0..100 {
        let demand = ride.tick(10_000, 3300, &slower);
        assert!((before.acceleration - demand.acceleration).to_f64() <= fall);
        assert_eq!(demand.reasons, Reasons::NONE);
        before = demand;
    }
    assert!((before.acceleration.to_f64() - 0.8).abs() < 1e-3);
    for _ in 0..102 {
        let demand = ride.tick(10_000, 3300, &fine());
        assert!((demand.acceleration - before.acceleration).to_f64() <= rise);
        before = demand;
    }
    assert_eq!(before.acceleration, USUAL_DRIVE);
}

#[test]
fn a_pace_holds_the_speed_and_comes_down_to_it_by_a_metre_per_second_each_second() {
    let at = |milli, pace| {
        let frame = Conditions { speed: Some(MetresPerSecond::from_milli(milli)), ..fine().frame };
        Scene { frame, pace, ..fine() }
    };
    let mut ride = Ride::armed();
    for _ in 0..300 {
        ride.tick(10_000, 3300, &at(4700, 0));
    }
    // From 5.56 to 3.33 m/s in 2.2 s: at 4.7 m/s drive begins to go after 0.06 s and is gone after 0.86.
    let mut ticks = 0;
    while ride.tick(10_000, 3300, &at(4700, 1)).share > Ratio::ZERO {
        ticks += 1;
    }
    assert!((84..=90).contains(&ticks), "{ticks}");
    let demand = ride.tick(10_000, 3300, &at(4700, 1));
    assert_eq!(demand.reasons, Reasons::of(Reason::TopSpeed));
}

#[test]
fn a_spent_hand_battery_warns_and_then_walks_home() {
    let mut ride = Ride::armed();
    let run = |ride: &mut Ride, milli, ticks| {
        let mut demand = ride.tick_hand(10_000, 3300, milli);
        for _ in 1..ticks {
            demand = ride.tick_hand(10_000, 3300, milli);
        }
        demand
    };
    assert_eq!(run(&mut ride, 3700, 400).acceleration, USUAL_DRIVE);
    assert_eq!(run(&mut ride, 3500, 301).acceleration, USUAL_DRIVE);
    assert_eq!(ride.throttle().hand_battery(), HandBattery::Low);
    let demand = run(&mut ride, 3300, 1000);
    assert_eq!(ride.throttle().hand_battery(), HandBattery::Spent);
    // 2.5 m/s is faster than a walk.
    assert_eq!((demand.share, demand.reasons), (Ratio::ZERO, Reasons::of(Reason::HandBattery)));
}

#[test]
fn a_stuck_thumb_loses_drive_gently_and_has_to_be_neutral() {
    let mut ride = Ride::armed();
    let mut before = ride.tick(10_000, 3300, &fine());
    for _ in 0..6000 {
        before = ride.tick(100_000, 3300, &fine());
    }
    let mut ticks = 0;
    while before.share > Ratio::ZERO {
        let demand = ride.tick(10_000, 3300, &fine());
        assert!(
            (before.acceleration - demand.acceleration).to_f64() <= 1.6 / 100.0 + 2.0 / 65536.0
        );
        before = demand;
        ticks += 1;
    }
    assert!((99..=105).contains(&ticks), "{ticks}");
    assert_eq!(before.reasons, Reasons::of(Reason::StuckThumb));
    // A thumb that only moves is not believed; one that lets go is.
    for raw in [3200, 2500, 3300] {
        assert_eq!(ride.tick(10_000, raw, &fine()).share, Ratio::ZERO);
    }
    ride.tick(10_000, CENTRE, &fine());
    for _ in 0..500 {
        before = ride.tick(10_000, 3300, &fine());
    }
    assert_eq!(before.acceleration, USUAL_DRIVE);
}

#[test]
fn noise_of_the_converter_asks_for_nothing_and_moves_a_demand_by_its_own_size() {
    let mut ride = Ride::armed();
    // Counts of the calibration: 60 of deadband, 20 of hysteresis.
    for tick in 0..1000_u16 {
        let demand = ride.tick(10_000, CENTRE + tick * 37 % 160 - 80, &fine());
        assert_eq!((demand.share, demand.neutral), (Ratio::ZERO, true));
    }
    let noisy = |tick: u16| 2900 + tick * 37 % 40 - 20;
    for tick in 0..300 {
        ride.tick(10_000, noisy(tick), &fine());
    }
    let settled: Vec<f64> = (0..300)
        .map(|tick| ride.tick(10_000, noisy(tick), &fine()).acceleration.to_f64())
        .collect();
    let (least, most) =
        (settled.iter().copied().fold(9.0, f64::min), settled.iter().copied().fold(0.0, f64::max));
    // Forty counts of 1240 are 3.2 % of the way, and the curve is nowhere steeper than twice that.
    assert!(most - least < 1.6 * 0.065, "{least} to {most}");
}

#[test]
fn a_board_that_stands_is_driven_backwards_at_a_walk_and_not_before() {
    let at = |milli| but(|frame| frame.speed = Some(MetresPerSecond::from_milli(milli)));
    let mut ride = Ride::armed();
    // Braked to a stand: the brake's half stays a brake for as long as it is held.
    for _ in 0..300 {
        assert!(!ride.tick(10_000, 800, &at(0)).backward);
    }
    for _ in 0..101 {
        ride.tick(10_000, CENTRE, &at(0));
    }
    let mut demand = ride.tick(10_000, 800, &at(0));
    for _ in 0..200 {
        demand = ride.tick(10_000, 800, &at(-500));
    }
    assert!(demand.backward);
    // Three tenths of the drive curve.
    assert!((demand.acceleration.to_f64() + 0.48).abs() < 1e-3, "{demand:?}");
    // Half way through its fade: half of it is left.
    for _ in 0..200 {
        demand = ride.tick(10_000, 800, &at(-1300));
    }
    assert!((demand.acceleration.to_f64() + 0.24).abs() < 1e-3, "{demand:?}");
    for _ in 0..200 {
        demand = ride.tick(10_000, 800, &at(-1700));
    }
    assert_eq!((demand.share, demand.reasons), (Ratio::ZERO, Reasons::of(Reason::TopSpeed)));
    // Let go: a brake again, which works on a board that rolls backwards.
    for _ in 0..40 {
        demand = ride.tick(10_000, CENTRE, &at(-1700));
    }
    assert!(!demand.backward);
    for _ in 0..100 {
        demand = ride.tick(10_000, 800, &at(-1700));
    }
    assert!(!demand.backward && demand.acceleration < MetresPerSecondSquared::from_whole(-2));
}

#[test]
fn a_brake_from_full_drive_follows_the_worked_examples() {
    // Drive of 1.6 m/s² is gone in 0.3 s; 3 m/s² at 6 m/s³ take half a second more.
    let mut ride = Ride::armed();
    for _ in 0..300 {
        ride.tick(1000, 3300, &fine());
    }
    for _ in 0..2000 {
        ride.tick(1000, 3300, &fine());
    }
    let millis_until = |ride: &mut Ride, raw, reached: &dyn Fn(f64) -> bool| {
        (1..5000).find(|_| reached(ride.tick(1000, raw, &fine()).acceleration.to_f64()))
    };
    let gone = millis_until(&mut ride, 800, &|felt| felt <= 0.0).unwrap();
    let full = millis_until(&mut ride, 800, &|felt| felt <= -3.0).unwrap();
    assert!((299..=301).contains(&gone) && (499..=501).contains(&full), "{gone} {full}");
}

#[test]
fn the_state_between_two_ticks_is_small() {
    // A handheld has a few kilobytes to keep all it knows in.
    assert!(size_of::<Throttle>() <= 160, "{}", size_of::<Throttle>());
    assert!(size_of::<Settings>() <= 1600, "{}", size_of::<Settings>());
}
