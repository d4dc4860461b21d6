use homestretch::throttle::Half;
use proptest::prelude::*;

use super::*;
use crate::route::Surface;
use crate::tuning::{Change, Draft};

const LANTERN: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../examples/boards/lantern.toml");

fn lantern() -> Draft {
    Draft::new(LANTERN, std::fs::read_to_string(LANTERN).unwrap()).unwrap()
}

/// The example board with numbers of its own.
fn tuned(numbers: &[(&str, f64)]) -> Draft {
    let change = |&(key, value): &(&str, f64)| Change::Number { key: key.to_owned(), value };
    lantern().after(&numbers.iter().map(change).collect::<Vec<_>>()).unwrap()
}

/// Settings that every rider bears.
fn gentle() -> Draft {
    tuned(&[
        ("throttle.full_drive_m_s2", 1.4),
        ("throttle.full_brake_m_s2", 2.3),
        ("throttle.drive_on_m_s3", 1.0),
        ("throttle.brake_on_m_s3", 5.0),
    ])
}

fn machine() -> Machine {
    Machine::new(lantern().file()).unwrap()
}

fn usual() -> Stand {
    Stand {
        mass_kg: 88.0,
        charge: 0.5,
        cell_degC: 22.0,
        air_degC: 22.0,
        surface: Surface::Asphalt,
        grade: 0.0,
    }
}

fn law(tried: &BoardFile, id: LawId) -> Law {
    let verdict = verdict(&machine(), tried).unwrap();
    verdict.laws.into_iter().find(|law| law.id == id.words().0).unwrap()
}

#[test]
fn settings_that_all_bear_pass_every_law() {
    let verdict = verdict(&machine(), gentle().file()).unwrap();
    assert!(verdict.passes, "{:#?}", verdict.laws);
    assert_eq!(verdict.laws.len(), LawId::ALL.len());
    assert!(verdict.laws.iter().all(|law| law.found > 0.0 || law.id == "more-thumb"));
    assert!(
        verdict.laws.iter().all(|law| law.r#where.contains("rider, ") || law.r#where == "nowhere")
    );
}

#[test]
fn each_law_breaks_by_settings_that_are_legal() {
    let broken: [(&[(&str, f64)], LawId); 8] = [
        (&[("throttle.full_drive_m_s2", 2.6)], LawId::DriveAcceleration),
        (&[("throttle.drive_on_m_s3", 3.0)], LawId::DriveJerk),
        (&[("throttle.drive_off_s", 0.1)], LawId::LetGoJerk),
        (&[("throttle.full_brake_m_s2", 3.4)], LawId::BrakeAcceleration),
        (&[("throttle.brake_on_m_s3", 9.0)], LawId::BrakeJerk),
        (&[("riders.bear_brake_jerk_m_s3", 1.0)], LawId::BrakeStays),
        (&[("riders.heaviest_kg", 260.0)], LawId::StoppingDistance),
        (&[("throttle.full_current_m_s2", 3.0), ("brake.charge_A", 5.0)], LawId::ChargeCurrent),
    ];
    for (numbers, id) in broken {
        let found = law(tuned(numbers).file(), id);
        assert!(!found.holds, "{numbers:?}: {found:?}");
        assert!(found.found > found.limit);
    }
    // The cells are no number that is tuned, but a file may have others.
    let weak = lantern().text().replace("max_discharge_A = 15", "max_discharge_A = 4");
    let weak = Draft::new(LANTERN, weak).unwrap();
    let found = law(weak.file(), LawId::PackCurrent);
    assert!(!found.holds, "{found:?}");
}

#[test]
fn what_is_found_is_compared_with_its_limit() {
    // The library keeps this one by itself, so that no file can break it.
    let limit = LawId::LetGoTime.limit(lantern().file());
    assert!(holds(0.28, limit) && !holds(0.31, limit));
    let limit = LawId::MoreThumb.limit(lantern().file());
    assert!(holds(0.0, limit) && !holds(0.11, limit));
}

#[test]
fn a_lighter_rider_feels_more_of_the_same_share_of_current() {
    let (machine, board) = (machine(), lantern());
    let settings = &board.file().throttle;
    let full = |mass_kg| {
        let standing = machine.on(&Stand { mass_kg, ..usual() }, settings).unwrap();
        Drum::new(&standing, settings, 2.0).settled(1.0)
    };
    let (light, heavy) = (full(70.0), full(110.0));
    assert!((light.asked_m_s2 - heavy.asked_m_s2).abs() < 1e-9);
    // Push goes by mass; what rolls does not, and air hardly matters at that speed.
    let push = |settled: Settled| settled.felt_m_s2 + 0.017 * 9.80665;
    let ratio = push(light) / push(heavy);
    assert!((ratio - 110.0 / 70.0).abs() < 0.06, "{ratio}");
}

#[test]
fn the_plant_is_the_one_that_was_built_whatever_is_tuned() {
    let machine = machine();
    let stand = usual();
    let faster = tuned(&[("throttle.top_speed_m_s", 12.0), ("throttle.full_current_m_s2", 5.0)]);
    let of = |draft: &Draft| *machine.on(&stand, &draft.file().throttle).unwrap().vehicle.parts();
    assert_eq!(of(&faster), of(&lantern()));
}

#[test]
fn a_thumb_that_goes_on_is_felt_no_faster_than_its_rate_and_comes_to_the_curves_end() {
    let (machine, board) = (machine(), lantern());
    let standing = machine.on(&usual(), &board.file().throttle).unwrap();
    let response = step(&standing, &board.file().throttle, &board.file().riders);
    let most = |list: &[f64]| list.iter().copied().fold(f64::MIN, f64::max);
    // The first tenth has the end of standing friction in it.
    assert!(most(&response.jerk_m_s3) < 1.2 * 1.05, "{}", most(&response.jerk_m_s3));
    assert!((most(&response.demand_m_s2) - 1.6).abs() < 0.01);
    let felt = most(&response.acceleration_m_s2);
    assert!((1.2..1.6).contains(&felt), "{felt}");
    let lists = [&response.thumb, &response.demand_m_s2, &response.speed_m_s];
    assert!(lists.iter().all(|list| list.len() == response.time_s.len()));
    assert!(response.time_s.windows(2).all(|pair| pair[0] < pair[1]));
}

#[test]
fn a_full_pack_takes_the_brake_and_the_speed_and_says_so() {
    let (machine, board) = (machine(), lantern());
    let settings = &board.file().throttle;
    let standing = machine.on(&Stand { charge: 0.999, ..usual() }, settings).unwrap();
    let acting = acting(&standing, settings);
    let of = |id| acting.iter().find(|acting| acting.id == id);
    assert_eq!(of("nearly-full").map(|acting| acting.what), Some("takes brake"));
    assert!(of("weak-brake").is_some_and(|acting| acting.drive_left < Some(0.1)), "{acting:?}");
    assert!(allowed_m_s(&standing, settings) < 4.0);
    let half = machine.on(&usual(), settings).unwrap();
    assert!((allowed_m_s(&half, settings) - 8.5).abs() < 0.01);
}

#[test]
fn the_short_rides_arrive_within_minutes_and_have_figures() {
    let (machine, board) = (machine(), lantern());
    for ride in RIDES {
        let felt = short_ride(&machine, board.file(), (&usual(), ride.id)).unwrap();
        assert!(felt.arrived, "{ride:?}");
        assert!((5.0..40.0).contains(&felt.energy_Wh_km), "{ride:?}: {felt:?}");
        assert!(felt.range_km > 3.0 && felt.mean_speed_m_s > 2.0, "{felt:?}");
    }
    let refused = short_ride(&machine, board.file(), (&usual(), "moon")).unwrap_err();
    assert!(refused.to_string().starts_with("`moon` is no ride; streets, "), "{refused}");
}

#[test]
fn the_same_is_felt_the_same() {
    let (machine, board) = (machine(), lantern());
    let felt = || feel(&machine, board.file(), &usual(), Some("path")).unwrap();
    let json = serde_json::to_value(felt()).unwrap();
    assert_eq!(json, serde_json::to_value(felt()).unwrap());
    let map = &json["thumb"];
    assert_eq!(map["acceleration_m_s2"].as_array().map(Vec::len), Some(5));
    assert_eq!(map["limits"][4][40][0].as_str(), Some("top-speed"));
    assert_eq!(json["step"]["bears"]["jerk_m_s3"], serde_json::json!([-8.0, 1.5]));
    assert!(json["verdict"]["laws"][0]["where"].is_string());
}

#[test]
fn a_stand_is_chosen_by_names_and_others_are_refused_with_those_that_are() {
    let stands = Stands::of(lantern().file());
    let chosen = |rider: &str, grade| StandChosen {
        rider: rider.to_owned(),
        charge: "low".to_owned(),
        air: "cold".to_owned(),
        surface: "wet_paving".to_owned(),
        grade,
    };
    let stand = stands.stand(&chosen("heavy", 0.06)).unwrap();
    assert_eq!((stand.mass_kg, stand.charge, stand.cell_degC), (110.0, 0.08, -5.0));
    assert_eq!(stand.surface, Surface::WetPaving);
    let refused = stands.stand(&chosen("giant", 0.0)).unwrap_err();
    assert_eq!(refused, "`giant` is no rider; light, usual, heavy are");
    assert!(stands.stand(&chosen("light", 0.5)).unwrap_err().contains("-0.3 to 0.3"));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn law_more_thumb_is_never_felt_as_less(
        (one, other, speed_m_s) in (-1.0..1.0_f64, -1.0..1.0_f64, 0.5..8.0_f64),
        (mass_kg, charge, degC) in (60.0..130.0_f64, 0.05..1.0_f64, -10.0..35.0_f64),
    ) {
        let (machine, board) = (machine(), lantern());
        let settings = &board.file().throttle;
        let stand = Stand { mass_kg, charge, cell_degC: degC, air_degC: degC, ..usual() };
        let standing = machine.on(&stand, settings).unwrap();
        let drum = Drum::new(&standing, settings, speed_m_s);
        let felt = |thumb: f64| drum.settled(thumb).felt_m_s2;
        // Limits that chase a sagging pack swing a little.
        prop_assert!(felt(one.min(other)) <= felt(one.max(other)) + 0.1);
    }

    #[test]
    fn law_a_stop_takes_longer_from_a_greater_speed_and_never_longer_for_less_mass(
        (slow, more, mass_kg) in (1.0..5.0_f64, 0.3..3.0_f64, 60.0..110.0_f64),
        heavier_kg in 1.0..40.0_f64,
    ) {
        let (machine, board) = (machine(), lantern());
        let settings = &board.file().throttle;
        let way_m = |mass_kg, speed_m_s| {
            let standing = machine.on(&Stand { mass_kg, ..usual() }, settings).unwrap();
            stop(&standing, settings, speed_m_s).distance_m
        };
        prop_assert!(way_m(mass_kg, slow) < way_m(mass_kg, slow + more));
        // Half a step of the plant at that speed.
        let step_m = 0.01 * slow;
        prop_assert!(way_m(mass_kg, slow) <= way_m(mass_kg + heavier_kg, slow) + step_m);
    }

    #[test]
    fn law_drive_is_gone_within_its_time_of_a_released_thumb(
        (driven_s, mass_kg, speed_m_s) in (0.3..2.5_f64, 60.0..130.0_f64, 0.5..7.0_f64),
    ) {
        let (machine, board) = (machine(), lantern());
        let settings = &board.file().throttle;
        let standing = machine.on(&Stand { mass_kg, ..usual() }, settings).unwrap();
        let mut trial = Trial::rolling(&standing, settings, speed_m_s);
        ride(&mut trial, driven_s, |_| 1.0, |_| true);
        let mut amperes = f64::MAX;
        // Its law, a tick of the hand, and a step.
        ride(&mut trial, 0.3 + 0.02 + 0.01, |_| 0.0, |point| {
            amperes = point.felt.motor_A;
            true
        });
        prop_assert!(amperes < 0.05, "{amperes}");
    }

    #[test]
    fn law_whatever_is_legal_can_be_felt_in_numbers(
        (at, part) in (0..crate::tuning::TUNABLE.len(), 0.0..=1.0_f64),
        (charge, degC, grade) in (0.0..=1.0_f64, -25.0..45.0_f64, -0.2..0.2_f64),
    ) {
        let key = &crate::tuning::TUNABLE[at];
        let (lowest, highest) = key.range();
        let changed = lantern().with_number(key.key, lowest + part * (highest - lowest));
        let Ok(draft) = changed else { return Ok(()) };
        let mass_kg = draft.file().riders.lightest_kg;
        let stand = Stand { mass_kg, charge, cell_degC: degC, air_degC: degC, grade, ..usual() };
        let felt = feel(&machine(), draft.file(), &stand, None).unwrap();
        for response in [&felt.step, &felt.release, &felt.brake] {
            prop_assert!(!response.time_s.is_empty());
            let lists = [&response.acceleration_m_s2, &response.jerk_m_s3, &response.speed_m_s];
            prop_assert!(lists.iter().all(|list| list.iter().all(|number| number.is_finite())));
        }
        let map = felt.thumb.acceleration_m_s2.iter().flatten();
        prop_assert!(map.chain(&felt.thumb.speeds_m_s).all(|number| number.is_finite()));
        prop_assert!(felt.stops.iter().all(|stop| stop.distance_m.is_finite()));
        prop_assert!(felt.verdict.laws.iter().all(|law| law.found.is_finite()));
    }

    #[test]
    fn law_a_curve_that_asks_more_is_felt_as_no_less(
        (end, share) in (0.5..3.0_f64, 0.3..1.0_f64),
    ) {
        let machine = machine();
        let felt = |end: f64| {
            let draft = lantern().with_handles(Half::Drive, &[(0.5, end * 0.3), (1.0, end)]);
            let draft = draft.unwrap();
            let settings = &draft.file().throttle;
            let standing = machine.on(&usual(), settings).unwrap();
            Drum::new(&standing, settings, 2.0).settled(0.8).felt_m_s2
        };
        prop_assert!(felt(end * share) <= felt(end) + 1e-9);
    }
}
