//! The laws of the slow limits over any telemetry, and their figures at chosen points.

use super::*;
use crate::throttle::LimitSettings;
use crate::throttle::reasons::Reasons;
use proptest::prelude::*;

fn limits() -> Limits {
    Limits::new(&LimitSettings::standard(12, Amperes::from_whole(40))).unwrap()
}

/// Fresh, warm, half full, riding: nothing is limited.
fn fine() -> Conditions {
    Conditions {
        pack_voltage: Some(Volts::from_whole(44)),
        pack_current: Some(Amperes::from_whole(10)),
        cell_temperature: Some(Celsius::from_whole(25)),
        charge_high: Ratio::from_percent(60),
        speed: Some(MetresPerSecond::from_whole(3)),
        telemetry_age: Some(Duration::from_millis(50)),
    }
}

fn all(conditions: &Conditions) -> Ceilings {
    let limits = limits();
    limits
        .by_speed(limits.by_pack(conditions), conditions)
        .brake_held(limits.standstill(conditions), Reason::Standstill)
}

pub(crate) fn any_conditions() -> impl Strategy<Value = Conditions> {
    // Any bits at all, and those that a pack of twelve cells may have.
    let volts = prop_oneof![any::<i32>(), 30 << 16..52 << 16];
    let amperes = prop_oneof![any::<i32>(), -20 << 16..50 << 16];
    let degrees = prop_oneof![any::<i32>(), -30 << 16..70 << 16];
    let charge = prop_oneof![any::<i32>(), 0..=1 << 24];
    let speed = prop_oneof![any::<i32>(), -2 << 16..8 << 16];
    let age = prop_oneof![any::<u64>(), 0_u64..15_000_000];
    use prop::option::weighted;
    let telemetry = (
        weighted(0.8, volts),
        weighted(0.8, amperes),
        weighted(0.8, degrees),
        weighted(0.8, speed),
    );
    (telemetry, charge, weighted(0.9, age)).prop_map(
        |((volts, amperes, degrees, speed), charge, age)| Conditions {
            pack_voltage: volts.map(Volts::from_bits),
            pack_current: amperes.map(Amperes::from_bits),
            cell_temperature: degrees.map(Celsius::from_bits),
            charge_high: Ratio::from_bits(charge),
            speed: speed.map(MetresPerSecond::from_bits),
            telemetry_age: age.map(Duration::from_micros),
        },
    )
}

#[test]
fn temperature_limits_from_the_first_degree_beyond_the_free_ones() {
    let limits = limits();
    let at = |degrees: Celsius| {
        limits.by_pack(&Conditions { cell_temperature: Some(degrees), ..fine() })
    };
    let (coldest, hottest) = (limits.coldest_free, limits.hottest_free);
    let (colder, hotter) =
        (Celsius::from_bits(coldest.to_bits() - 64), Celsius::from_bits(hottest.to_bits() + 64));
    assert!(at(coldest).reasons() == Reasons::NONE && at(hottest).reasons() == Reasons::NONE);
    assert_eq!(at(colder).reasons(), Reasons::of(Reason::ColdCharge));
    assert_eq!(at(hotter).reasons(), Reasons::of(Reason::HotCharge));
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
    fn law_a_lower_voltage_or_a_higher_current_never_gives_more(
        conditions in any_conditions(), a: i32, b: i32,
    ) {
        let volts = |bits| Conditions { pack_voltage: Some(Volts::from_bits(bits)), ..conditions };
        never_higher(&volts(a.min(b)), &volts(a.max(b)))?;
        let current =
            |bits| Conditions { pack_current: Some(Amperes::from_bits(bits)), ..conditions };
        never_higher(&current(a.max(b)), &current(a.min(b)))?;
    }

    #[test]
    fn law_a_fuller_pack_or_a_higher_speed_never_gives_more_of_what_it_limits(
        conditions in any_conditions(), a: i32, b: i32,
    ) {
        let charge = |bits| Conditions { charge_high: Ratio::from_bits(bits), ..conditions };
        never_higher(&charge(a.max(b)), &charge(a.min(b)))?;
        let at = |bits| all(&Conditions {
            speed: Some(MetresPerSecond::from_bits(bits)), ..conditions
        });
        prop_assert!(at(a.max(b)).drive.share <= at(a.min(b)).drive.share);
        let (slow, fast) = if a.unsigned_abs() < b.unsigned_abs() { (a, b) } else { (b, a) };
        prop_assert!(at(slow).brake.share <= at(fast).brake.share);
    }

    #[test]
    fn law_colder_than_warm_or_hotter_than_warm_never_gives_more(
        conditions in any_conditions(), a: i32, b: i32,
    ) {
        let at = |bits| Conditions { cell_temperature: Some(Celsius::from_bits(bits)), ..conditions };
        let warm = 25 << 16;
        let (colder, cold) = (a.min(b).min(warm), a.max(b).min(warm));
        never_higher(&at(colder), &at(cold))?;
        let (hot, hotter) = (a.min(b).max(warm), a.max(b).max(warm));
        never_higher(&at(hotter), &at(hot))?;
    }

    #[test]
    fn law_older_data_never_gives_more_drive_nor_takes_the_floor_of_the_brake(
        conditions in any_conditions(), a: u64, b: u64,
    ) {
        let at = |age| limits().by_pack(&Conditions {
            telemetry_age: Some(Duration::from_micros(age)), ..conditions
        });
        prop_assert!(at(a.max(b)).drive.share <= at(a.min(b)).drive.share);
        prop_assert!(at(a.max(b)).brake.share <= at(a.min(b)).brake.share);
        prop_assert!(at(a).brake.share >= limits().floor);
    }

    #[test]
    fn law_a_ceiling_below_one_has_its_reasons_and_an_open_one_has_none(
        conditions in any_conditions(),
    ) {
        let ceilings = all(&conditions);
        for ceiling in [ceilings.drive, ceilings.brake] {
            prop_assert_eq!(ceiling.share < Ratio::ONE, !ceiling.reasons.is_empty());
            prop_assert!(ceiling.share >= Ratio::ZERO && ceiling.share <= Ratio::ONE);
        }
    }
}

#[test]
fn nothing_is_limited_when_all_is_fine() {
    assert_eq!(all(&fine()), Ceilings::OPEN);
}

#[test]
fn each_limit_names_itself_and_leaves_what_it_says() {
    let of = Reasons::of;
    let percent = Ratio::from_percent;
    let drive = |conditions| {
        let ceilings = all(&conditions);
        assert_eq!(ceilings.brake, Ceilings::OPEN.brake);
        (ceilings.drive.share, ceilings.drive.reasons)
    };
    let volts = Some(Volts::from_whole(36));
    let sagged = Conditions { pack_voltage: volts, ..fine() };
    assert_eq!(drive(sagged), (Ratio::ZERO, of(Reason::Sagging)));
    let much = Conditions { pack_current: Some(Amperes::from_whole(40)), ..fine() };
    assert_eq!(drive(much), (Ratio::ZERO, of(Reason::DischargeCurrent)));
    let fast = Conditions { speed: Some(MetresPerSecond::from_milli(5555)), ..fine() };
    assert_eq!(drive(fast), (Ratio::ZERO, of(Reason::TopSpeed)));
    let unmeasured = Conditions { pack_voltage: None, ..fine() };
    assert_eq!(drive(unmeasured), (percent(40), of(Reason::StaleTelemetry)));

    let brake = |conditions| {
        let ceilings = all(&conditions);
        assert_eq!(ceilings.drive, Ceilings::OPEN.drive);
        (ceilings.brake.share, ceilings.brake.reasons)
    };
    let full = Conditions { charge_high: Ratio::ONE, ..fine() };
    assert_eq!(brake(full), (percent(30), of(Reason::NearlyFull)));
    let frozen = Conditions { cell_temperature: Some(Celsius::from_whole(0)), ..fine() };
    assert_eq!(brake(frozen), (percent(30), of(Reason::ColdCharge)));
    let standing = Conditions { speed: Some(MetresPerSecond::ZERO), ..fine() };
    assert_eq!(brake(standing), (Ratio::ZERO, of(Reason::Standstill)));

    let hot = all(&Conditions { cell_temperature: Some(Celsius::from_whole(60)), ..fine() });
    assert_eq!(hot.drive.reasons, of(Reason::HotPack));
    assert_eq!(hot.brake.reasons, of(Reason::HotCharge));
    let arctic = all(&Conditions { cell_temperature: Some(Celsius::from_whole(-20)), ..fine() });
    assert_eq!((arctic.drive.share, arctic.drive.reasons), (percent(40), of(Reason::ColdPack)));
}

#[test]
fn data_goes_stale_in_two_pieces() {
    let at = |millis| {
        let age = Some(Duration::from_millis(millis));
        all(&Conditions { telemetry_age: age, ..fine() })
    };
    let percent = Ratio::from_percent;
    assert_eq!(at(1000), Ceilings::OPEN);
    assert_eq!(at(3000).drive.share, percent(40));
    assert_eq!(at(3000).brake.share, percent(30));
    assert_eq!(at(10_000).drive.share, Ratio::ZERO);
    assert_eq!(at(1_000_000).brake.share, percent(30));
    let never = all(&Conditions { telemetry_age: None, ..fine() });
    assert_eq!((never.drive.share, never.brake.share), (Ratio::ZERO, percent(30)));
}

#[test]
fn a_board_that_stood_when_last_heard_of_keeps_its_brake() {
    let at = |age| {
        let speed = Some(MetresPerSecond::ZERO);
        limits().standstill(&Conditions { speed, telemetry_age: age, ..fine() })
    };
    assert_eq!(at(Some(Duration::from_millis(1000))), Ratio::ZERO);
    assert_eq!(at(Some(Duration::from_millis(1001))), Ratio::ONE);
    assert_eq!(at(None), Ratio::ONE);
    let unknown = Conditions { speed: None, ..fine() };
    assert_eq!(limits().standstill(&unknown), Ratio::ONE);
}
