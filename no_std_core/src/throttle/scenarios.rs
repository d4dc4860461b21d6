//! What the whole throttle does in the moments that matter, ridden tick by tick.

use super::arming::BROKEN_FOR;
use super::laws::{CENTRE, Ride, fine};
use super::*;
use crate::units::{MetresPerSecond, Volts};

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
    let standing = Conditions { speed: Some(MetresPerSecond::ZERO), ..fine() };
    let unknown = Conditions { speed: None, ..fine() };
    let brake = |conditions| {
        let mut ride = Ride::armed();
        let mut demand = ride.tick(10_000, 800, &fine());
        for _ in 0..100 {
            demand = ride.tick(10_000, 800, &conditions);
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
    let deaf = Conditions::default();
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
    let sagged = Conditions { pack_voltage: Some(Volts::from_whole(36)), ..fine() };
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
    let at = |volts| Conditions { pack_voltage: Some(Volts::from_whole(volts)), ..fine() };
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
fn a_pack_above_its_highest_voltage_leaves_the_floor_of_the_brake() {
    let over = Conditions { pack_voltage: Some(Volts::from_whole(52)), ..fine() };
    let mut ride = Ride::armed();
    for _ in 0..100 {
        ride.tick(10_000, 800, &fine());
    }
    let mut demand = ride.tick(10_000, 800, &over);
    for _ in 0..50 {
        demand = ride.tick(10_000, 800, &over);
    }
    let floor = MetresPerSecondSquared::from_milli(-900);
    assert!((demand.acceleration - floor).magnitude().to_bits() <= 2, "{demand:?}");
    assert_eq!(demand.reasons, Reasons::of(Reason::OverVoltage));
}

#[test]
fn the_state_between_two_ticks_is_small() {
    // A handheld has a few kilobytes to keep all it knows in.
    assert!(size_of::<Throttle>() <= 160, "{}", size_of::<Throttle>());
    assert!(size_of::<Settings>() <= 1400, "{}", size_of::<Settings>());
}
