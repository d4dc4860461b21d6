//! The laws of the slow limits over any telemetry, and their figures at chosen points.

use super::*;
use crate::throttle::limit_settings::Usual;
use crate::throttle::{Band, LimitSettings, USUAL_BRAKE};
use crate::units::{Kilograms, MetresPerSecondSquared};
use proptest::prelude::*;

/// A pack that takes so much charge that only its state limits the brake.
pub(crate) fn usual_vehicle() -> Usual {
    Usual {
        series: 12,
        greatest_discharge: Amperes::from_whole(40),
        greatest_charge: Amperes::from_whole(40),
        mass: Kilograms::from_whole(60),
    }
}

fn limits() -> Limits {
    Limits::new(&LimitSettings::standard(&usual_vehicle()), USUAL_BRAKE).unwrap()
}

/// A frame and how old it is.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Scene {
    pub(crate) frame: Conditions,
    pub(crate) age: Option<Duration>,
    pub(crate) pace: u8,
}

/// Fresh, warm, half full, riding: nothing is limited.
pub(crate) fn fine() -> Scene {
    let frame = Conditions {
        pack_voltage: Some(Volts::from_whole(44)),
        pack_current: Some(Amperes::from_whole(10)),
        cell_temperature: Some(Celsius::from_whole(25)),
        motor_temperature: Some(Celsius::from_whole(60)),
        controller_temperature: Some(Celsius::from_whole(50)),
        charge: Ratio::from_percent(55),
        charge_high: Ratio::from_percent(60),
        speed: Some(MetresPerSecond::from_milli(2500)),
    };
    Scene { frame, age: Some(Duration::from_millis(50)), pace: 0 }
}

fn frame() -> Conditions {
    fine().frame
}

fn riding() -> Riding {
    let pace = Pace::ALL_OF_IT;
    Riding {
        pace,
        limit: MetresPerSecond::from_milli(5555),
        why: Reason::TopSpeed,
        backward: false,
    }
}

fn outlook(conditions: &Conditions) -> Outlook {
    limits().outlook(conditions, &riding())
}

/// All that a scene leaves, standstill and all.
fn left(scene: &Scene) -> Ceilings {
    let limits = limits();
    let seen = outlook(&scene.frame);
    let slow = limits.by_age(seen.by_pack, scene.age);
    let standstill = if limits.is_fresh(scene.age) { seen.brake_by_speed } else { Ratio::ONE };
    Ceilings { drive: slow.drive.and(seen.by_speed), ..slow }
        .brake_held(standstill, Reason::Standstill)
}

fn all(frame: &Conditions) -> Ceilings {
    left(&Scene { frame: *frame, ..fine() })
}

pub(crate) fn any_frame() -> impl Strategy<Value = Conditions> {
    // Any bits at all, and those that a pack of twelve cells may have.
    let volts = prop_oneof![any::<i32>(), 30 << 16..52 << 16];
    let amperes = prop_oneof![any::<i32>(), -20 << 16..50 << 16];
    let degrees = || prop_oneof![any::<i32>(), -30 << 16..120 << 16];
    let charge = || prop_oneof![any::<i32>(), 0..=1 << 24];
    let speed = prop_oneof![any::<i32>(), -2 << 16..8 << 16];
    use prop::option::weighted;
    let telemetry = (weighted(0.8, volts), weighted(0.8, amperes), weighted(0.8, speed));
    let warmth = (weighted(0.8, degrees()), weighted(0.5, degrees()), weighted(0.5, degrees()));
    (telemetry, warmth, charge(), charge()).prop_map(
        |((volts, amperes, speed), (cells, motor, controller), charge, high)| Conditions {
            pack_voltage: volts.map(Volts::from_bits),
            pack_current: amperes.map(Amperes::from_bits),
            cell_temperature: cells.map(Celsius::from_bits),
            motor_temperature: motor.map(Celsius::from_bits),
            controller_temperature: controller.map(Celsius::from_bits),
            charge: Ratio::from_bits(charge),
            charge_high: Ratio::from_bits(high),
            speed: speed.map(MetresPerSecond::from_bits),
        },
    )
}

pub(crate) fn any_scene() -> impl Strategy<Value = Scene> {
    let age = prop_oneof![any::<u64>(), 0_u64..15_000_000];
    (any_frame(), prop::option::weighted(0.9, age), 0_u8..6).prop_map(|(frame, age, pace)| Scene {
        frame,
        age: age.map(Duration::from_micros),
        pace,
    })
}

#[test]
fn temperature_limits_from_the_first_degree_beyond_the_free_ones() {
    let limits = limits();
    let at = |degrees: Celsius| {
        let frame = Conditions { cell_temperature: Some(degrees), ..frame() };
        limits.charging(&frame).reasons.and(limits.drive_by_pack(&frame).reasons)
    };
    let (coldest, hottest) = (limits.coldest_free, limits.hottest_free);
    let (colder, hotter) =
        (Celsius::from_bits(coldest.to_bits() - 64), Celsius::from_bits(hottest.to_bits() + 64));
    assert!(at(coldest) == Reasons::NONE && at(hottest) == Reasons::NONE);
    assert_eq!(at(colder), Reasons::of(Reason::ColdCharge));
    assert_eq!(at(hotter), Reasons::of(Reason::HotCharge));
}

proptest! {
    #[test]
    fn law_at_the_free_temperatures_no_look_up_would_limit(part in 0_i32..=1 << 16) {
        let limits = limits();
        let (coldest, hottest) = (limits.coldest_free.to_bits(), limits.hottest_free.to_bits());
        let degrees = Celsius::from_bits(crate::math::between::<16>(coldest, hottest, part));
        for ramp in [limits.cold_pack, limits.hot_pack, Some(limits.cold_charge), Some(limits.hot_charge)] {
            prop_assert_eq!(ramp.unwrap().at(degrees), Ratio::ONE);
        }
    }
}

/// Checks that neither ceiling is higher under `worse` than under `better`.
fn never_higher(worse: &Conditions, better: &Conditions) -> Result<(), TestCaseError> {
    let (worse, better) = (all(worse), all(better));
    prop_assert!(worse.drive.share <= better.drive.share);
    prop_assert!(worse.brake.share <= better.brake.share);
    Ok(())
}

proptest! {
    #[test]
    fn law_a_lower_voltage_or_a_higher_current_never_gives_more_drive(
        frame in any_frame(), a: i32, b: i32,
    ) {
        let drive = |frame: Conditions| all(&frame).drive.share;
        let volts = |bits| Conditions { pack_voltage: Some(Volts::from_bits(bits)), ..frame };
        prop_assert!(drive(volts(a.min(b))) <= drive(volts(a.max(b))));
        let current = |bits| Conditions { pack_current: Some(Amperes::from_bits(bits)), ..frame };
        prop_assert!(drive(current(a.max(b))) <= drive(current(a.min(b))));
        let charge = |bits| Conditions { charge: Ratio::from_bits(bits), ..frame };
        prop_assert!(drive(charge(a.min(b))) <= drive(charge(a.max(b))));
    }

    #[test]
    fn law_a_fuller_pack_or_a_higher_speed_never_gives_more_of_what_it_limits(
        frame in any_frame(), a: i32, b: i32,
    ) {
        let charge = |bits| Conditions { charge_high: Ratio::from_bits(bits), ..frame };
        never_higher(&charge(a.max(b)), &charge(a.min(b)))?;
        let at = |bits| Conditions { speed: Some(MetresPerSecond::from_bits(bits)), ..frame };
        prop_assert!(all(&at(a.max(b))).drive.share <= all(&at(a.min(b))).drive.share);
        let (slow, fast) = if a.unsigned_abs() < b.unsigned_abs() { (a, b) } else { (b, a) };
        let (slow, fast) = (outlook(&at(slow)), outlook(&at(fast)));
        prop_assert!(slow.brake_by_speed <= fast.brake_by_speed);
        prop_assert!(slow.by_pack.brake.share >= fast.by_pack.brake.share);
    }

    #[test]
    fn law_what_charges_less_never_leaves_more_speed(frame in any_frame(), a: i32, b: i32) {
        let limit = |bits| {
            outlook(&Conditions { charge_high: Ratio::from_bits(bits), ..frame }).speed_limit
        };
        prop_assert!(limit(a.max(b)) <= limit(a.min(b)));
        prop_assert!(limit(a) >= crate::throttle::pace::WALK);
    }

    #[test]
    fn law_colder_than_warm_or_hotter_than_warm_never_gives_more(
        frame in any_frame(), a: i32, b: i32,
    ) {
        let at = |bits| Conditions { cell_temperature: Some(Celsius::from_bits(bits)), ..frame };
        let warm = 25 << 16;
        let (colder, cold) = (a.min(b).min(warm), a.max(b).min(warm));
        never_higher(&at(colder), &at(cold))?;
        let (hot, hotter) = (a.min(b).max(warm), a.max(b).max(warm));
        never_higher(&at(hotter), &at(hot))?;
        let motor = |bits| Conditions { motor_temperature: Some(Celsius::from_bits(bits)), ..frame };
        never_higher(&motor(a.max(b)), &motor(a.min(b)))?;
        let switches =
            |bits| Conditions { controller_temperature: Some(Celsius::from_bits(bits)), ..frame };
        never_higher(&switches(a.max(b)), &switches(a.min(b)))?;
    }

    #[test]
    fn law_older_data_never_gives_more_and_takes_no_more_of_the_brake_than_is_stated(
        frame in any_frame(), a: u64, b: u64,
    ) {
        let by_pack = outlook(&frame).by_pack;
        let at = |age| limits().by_age(by_pack, Some(Duration::from_micros(age)));
        prop_assert!(at(a.max(b)).drive.share <= at(a.min(b)).drive.share);
        prop_assert!(at(a.max(b)).brake.share <= at(a.min(b)).brake.share);
        prop_assert!(at(a).brake.share >= by_pack.brake.share.min(limits().stale_brake_left));
        prop_assert!(limits().by_age(by_pack, None).drive.share <= at(a).drive.share);
    }

    #[test]
    fn law_a_ceiling_below_one_has_its_reasons_and_an_open_one_has_none(scene in any_scene()) {
        let ceilings = left(&scene);
        for ceiling in [ceilings.drive, ceilings.brake] {
            prop_assert_eq!(ceiling.share < Ratio::ONE, !ceiling.reasons.is_empty());
            prop_assert!(ceiling.share >= Ratio::ZERO && ceiling.share <= Ratio::ONE);
        }
    }

    #[test]
    fn law_a_speed_limit_moves_by_a_metre_per_second_each_second(
        from in 0_i32..10 << 16, to in 0_i32..10 << 16, micros in 0_u32..=100_000,
    ) {
        let (from, to) = (MetresPerSecond::from_bits(from), MetresPerSecond::from_bits(to));
        let after = slid(from, to, micros);
        prop_assert!((after - from).magnitude().to_f64() <= f64::from(micros) / 1e6 + 1e-4);
        prop_assert!(after >= from.min(to) && after <= from.max(to));
        // And it arrives: ten metres per second in no more than ten seconds and a rounding.
        let arrived = (0..102).fold(from, |limit, _| slid(limit, to, 100_000));
        prop_assert_eq!(arrived, to);
    }
}

#[test]
fn nothing_is_limited_when_all_is_fine() {
    assert_eq!(all(&frame()), Ceilings::OPEN);
}

#[test]
fn each_limit_of_drive_names_itself_and_leaves_what_it_says() {
    let of = Reasons::of;
    let percent = Ratio::from_percent;
    let whole = |degrees| Some(Celsius::from_whole(degrees));
    let drive = |frame: Conditions| {
        let Ceiling { share, reasons } = all(&frame).drive;
        (share, reasons)
    };
    let none = Ratio::ZERO;
    let sagged = Conditions { pack_voltage: Some(Volts::from_whole(36)), ..frame() };
    assert_eq!(drive(sagged), (none, of(Reason::Sagging)));
    let much = Conditions { pack_current: Some(Amperes::from_whole(40)), ..frame() };
    assert_eq!(drive(much), (none, of(Reason::DischargeCurrent)));
    let fast = Conditions { speed: Some(MetresPerSecond::from_milli(5555)), ..frame() };
    assert_eq!(drive(fast), (none, of(Reason::TopSpeed)));
    let unmeasured = Conditions { pack_voltage: None, ..frame() };
    assert_eq!(drive(unmeasured), (percent(40), of(Reason::StaleTelemetry)));
    let motor = Conditions { motor_temperature: whole(110), ..frame() };
    assert_eq!(drive(motor), (none, of(Reason::HotMotor)));
    let switches = Conditions { controller_temperature: whole(90), ..frame() };
    assert_eq!(drive(switches), (none, of(Reason::HotController)));
    let last = Conditions { charge: percent(1), ..frame() };
    assert_eq!(drive(last), (percent(50), of(Reason::Reserve)));
    let hot = Conditions { cell_temperature: whole(60), ..frame() };
    assert_eq!(drive(hot), (none, of(Reason::HotPack)));
    let arctic = Conditions { cell_temperature: whole(-20), ..frame() };
    assert_eq!(drive(arctic), (percent(40), of(Reason::ColdPack)));
}

#[test]
fn each_limit_of_charging_names_itself_and_takes_the_whole_brake() {
    let brake = |frame: Conditions| {
        let Ceiling { share, reasons } = all(&frame).brake;
        (share, reasons)
    };
    let (none, of) = (Ratio::ZERO, Reasons::of);
    let whole = |degrees| Some(Celsius::from_whole(degrees));
    let full = Conditions { charge_high: Ratio::ONE, ..frame() };
    assert_eq!(brake(full), (none, of(Reason::NearlyFull)));
    let surging = Conditions { pack_voltage: Some(Volts::from_whole(51)), ..frame() };
    assert_eq!(brake(surging), (none, of(Reason::NearlyFull)));
    let frozen = Conditions { cell_temperature: whole(0), ..frame() };
    assert_eq!(brake(frozen), (none, of(Reason::ColdCharge)));
    let hot = Conditions { cell_temperature: whole(60), ..frame() };
    assert_eq!(brake(hot), (none, of(Reason::HotCharge)));
    let standing = Conditions { speed: Some(MetresPerSecond::ZERO), ..frame() };
    assert_eq!(brake(standing), (none, of(Reason::Standstill)));
    // 44 V times 40 A over 60 kg at 20 m/s is 1.467 m/s² of 3.
    let fast = Conditions { speed: Some(MetresPerSecond::from_whole(20)), ..frame() };
    let (share, reasons) = brake(fast);
    assert!((share.to_f64() - 0.4889).abs() < 1e-3, "{share}");
    assert_eq!(reasons, of(Reason::ChargeCurrent));
}

#[test]
fn a_pack_that_takes_nothing_holds_the_speed_beforehand_and_says_so() {
    let full = Conditions { charge_high: Ratio::ONE, ..frame() };
    let seen = outlook(&full);
    // What 5.555 m/s needs at 1.54 m/s² is 10.02 m, and v² / (2 · 0.177) is that at 1.88 m/s.
    assert!((seen.speed_limit.to_f64() - 1.88).abs() < 0.02, "{}", seen.speed_limit);
    let limited = limits().outlook(&full, &Riding { limit: seen.speed_limit, ..riding() });
    assert_eq!(limited.by_speed.share, Ratio::ZERO);
    assert_eq!(limited.by_speed.reasons, Reasons::of(Reason::WeakBrake));
    assert_eq!(outlook(&frame()).speed_limit, MetresPerSecond::from_milli(5555));
}

#[test]
fn data_goes_stale_in_two_pieces() {
    let at = |millis| left(&Scene { age: Some(Duration::from_millis(millis)), ..fine() });
    let percent = Ratio::from_percent;
    assert_eq!(at(1000), Ceilings::OPEN);
    assert_eq!(at(3000).drive.share, percent(40));
    assert_eq!(at(3000).brake.share, percent(30));
    assert_eq!(at(10_000).drive.share, Ratio::ZERO);
    assert_eq!(at(1_000_000).brake.share, percent(30));
    let never = left(&Scene { age: None, ..fine() });
    assert_eq!((never.drive.share, never.brake.share), (Ratio::ZERO, percent(30)));
}

#[test]
fn a_board_that_stood_when_last_heard_of_keeps_its_brake() {
    let at = |age| {
        let frame = Conditions { speed: Some(MetresPerSecond::ZERO), ..frame() };
        left(&Scene { frame, age, ..fine() }).brake
    };
    assert_eq!(at(Some(Duration::from_millis(1000))).share, Ratio::ZERO);
    assert!(at(Some(Duration::from_millis(1001))).share > Ratio::from_percent(90));
    assert_eq!(at(None).share, Ratio::from_percent(30));
    let unknown = Conditions { speed: None, ..frame() };
    assert_eq!(outlook(&unknown).brake_by_speed, Ratio::ONE);
}

#[test]
fn a_push_start_waits_until_the_board_rolls() {
    let speed = |milli| Some(MetresPerSecond::from_milli(milli));
    let band =
        Band { begin: MetresPerSecond::from_milli(300), end: MetresPerSecond::from_milli(800) };
    let settings =
        LimitSettings { push_start: Some(band), ..LimitSettings::standard(&usual_vehicle()) };
    let limits = Limits::new(&settings, USUAL_BRAKE).unwrap();
    let left = |speed| limits.outlook(&Conditions { speed, ..frame() }, &riding()).by_speed;
    for still in [speed(0), speed(300), speed(-2000), None] {
        let ceiling = left(still);
        assert_eq!(ceiling.share, Ratio::ZERO);
        assert_eq!(ceiling.reasons, Reasons::of(Reason::PushStart));
    }
    assert_eq!(left(speed(800)), Ceiling::OPEN);
}

#[test]
fn the_drive_curve_tapers_with_speed_and_pace() {
    let drive = |milli, pace| {
        let frame = Conditions { speed: Some(MetresPerSecond::from_milli(milli)), ..frame() };
        limits().outlook(&frame, &Riding { pace, ..riding() }).drive.to_f64()
    };
    assert!((drive(2778, Pace::ALL_OF_IT) - 1.0).abs() < 1e-6);
    assert!((drive(5555, Pace::ALL_OF_IT) - 0.7).abs() < 1e-6);
    assert!((drive(5555, Pace::AMBLE) - 0.35).abs() < 1e-6);
}

#[test]
fn full_current_stops_a_usual_board_as_fast_as_is_stated() {
    let greatest = MetresPerSecondSquared::from_whole(3);
    let limits = Limits::new(&LimitSettings::standard(&usual_vehicle()), greatest).unwrap();
    assert_eq!(limits.stopping.speed(Ratio::ONE), MetresPerSecond::from_milli(5555));
}
