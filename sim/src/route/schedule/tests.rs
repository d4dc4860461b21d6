use std::path::Path;

use proptest::prelude::*;

use super::*;

fn of(points: &[(f64, f64)]) -> Schedule {
    let points = points.iter().map(|&(time_s, speed_m_s)| Point { time_s, speed_m_s });
    Schedule::new("test", points.collect()).unwrap()
}

#[test]
fn the_speed_is_straight_between_points_and_that_of_the_ends_outside() {
    let schedule = of(&[(0.0, 1.0), (2.0, 5.0), (3.5, 5.0), (10.0, 0.5)]);
    for (at, wanted) in
        [(-5.0, 1.0), (0.0, 1.0), (0.5, 2.0), (2.0, 5.0), (3.0, 5.0), (10.0, 0.5), (99.0, 0.5)]
    {
        assert!((schedule.speed_at(at) - wanted).abs() < 1e-12, "{at}");
    }
    assert!((schedule.speed_at(f64::NAN) - 1.0).abs() < 1e-12);
    assert!((schedule.speed_at(f64::INFINITY) - 0.5).abs() < 1e-12);
}

#[test]
fn duration_distance_and_accelerations_are_those_of_the_drawing() {
    let schedule = of(&[(0.0, 0.0), (4.0, 8.0), (10.0, 8.0), (12.0, 0.0)]);
    assert!((schedule.duration_s() - 12.0).abs() < 1e-12);
    assert!((schedule.distance_m() - (16.0 + 48.0 + 8.0)).abs() < 1e-12);
    assert!((schedule.greatest_acceleration_m_s2() - 2.0).abs() < 1e-12);
    assert!((schedule.greatest_braking_m_s2() - 4.0).abs() < 1e-12);
    assert!((schedule.top_speed_m_s() - 8.0).abs() < 1e-12);
}

#[test]
fn easing_cuts_what_cannot_be_followed_and_nothing_else() {
    let schedule = of(&[(0.0, 0.0), (1.0, 5.0), (2.0, 5.0), (8.0, 5.0), (9.0, 0.0)]);
    let eased = schedule.eased(2.0).unwrap();
    let speeds: Vec<_> = eased.points().iter().map(|point| point.speed_m_s).collect();
    assert_eq!(speeds, [0.0, 2.0, 4.0, 2.0, 0.0]);
    let apart = schedule.eased_apart(10.0, 2.0).unwrap();
    let speeds: Vec<_> = apart.points().iter().map(|point| point.speed_m_s).collect();
    assert_eq!(speeds, [0.0, 5.0, 5.0, 2.0, 0.0]);
    assert_eq!(schedule.eased(5.0).unwrap(), schedule);
}

#[test]
fn points_that_make_no_schedule_are_refused() {
    let refused = |points: &[(f64, f64)]| {
        let points = points.iter().map(|&(time_s, speed_m_s)| Point { time_s, speed_m_s });
        Schedule::new("test", points.collect()).unwrap_err().to_string()
    };
    assert_eq!(refused(&[(0.0, 0.0)]), "the schedule has 1 points; 2 to 100000 are allowed");
    assert_eq!(
        refused(&[(0.0, 0.0), (1.0, -1.0)]),
        "point 2: the speed is -1 m/s; 0 to 70 is allowed"
    );
    assert_eq!(
        refused(&[(0.0, f64::NAN), (1.0, 1.0)]),
        "point 1: the speed is NaN m/s; 0 to 70 is allowed"
    );
    assert_eq!(
        refused(&[(0.0, 0.0), (f64::NAN, 1.0)]),
        "point 2: time_s is NaN; 0 to 172800 is allowed"
    );
    assert_eq!(
        refused(&[(0.0, 0.0), (1.0, 0.0), (1.0, 2.0)]),
        "point 3: time_s is 1; it has to be later than 1, by 0.01 s at least"
    );
}

#[test]
fn a_wish_that_makes_no_sense_is_refused() {
    let schedule = of(&[(0.0, 0.0), (4.0, 8.0)]);
    for wish in [0.0, -1.0, f64::NAN, f64::INFINITY, 1e9] {
        assert!(schedule.scaled_to(wish).is_err() && schedule.eased(wish).is_err(), "{wish}");
    }
    assert_eq!(of(&[(0.0, 0.0), (1.0, 0.0)]).scaled_to(5.0), Err(ScheduleError::StandsStill));
}

#[test]
fn a_table_in_either_unit_is_the_same_schedule() {
    let file = Path::new("town.csv");
    let slow = Schedule::read_csv("time_s,speed_km_h\n0,0\n10,18\n", file).unwrap();
    let fast = Schedule::read_csv("speed_m_s, time_s\n0, 0\n5, 10\n", file).unwrap();
    assert_eq!(slow, fast);
    assert_eq!(slow.name(), "town");
}

#[test]
fn all_faults_of_a_table_come_at_once_with_their_lines() {
    let file = Path::new("t.csv");
    let error = Schedule::read_csv("time_s,speed_m_s\n0,0\n\n1,fast\n2,-3\n2,4\n3\n", file);
    assert_eq!(
        error.unwrap_err().to_string(),
        "t.csv:4: speed_m_s is `fast`; a number is wanted\n\
         t.csv:5: point 2: the speed is -3 m/s; 0 to 70 is allowed\n\
         t.csv:6: point 3: time_s is 2; it has to be later than 2, by 0.01 s at least\n\
         t.csv:7: the row has 1 fields; 2 as in the header are wanted"
    );
    let error = Schedule::read_csv("time_s\n0\n1\n", file).unwrap_err().to_string();
    assert_eq!(error, "t.csv:1: columns time_s and one of speed_m_s, speed_km_h are wanted");
    let error = Schedule::read_csv("", file).unwrap_err().to_string();
    assert_eq!(error, "t.csv: is empty; a header is wanted");
}

fn any_schedule() -> impl Strategy<Value = Schedule> {
    prop::collection::vec((0.01_f64..5.0, 0.0_f64..30.0), 2..120).prop_map(|steps| {
        let mut time_s = 0.0;
        let points = steps.into_iter().map(|(step_s, speed_m_s)| {
            time_s += step_s;
            Point { time_s, speed_m_s }
        });
        Schedule::new("any", points.collect()).unwrap()
    })
}

proptest! {
    #[test]
    fn law_distance_scales_with_the_speed(schedule in any_schedule(), top in 0.1_f64..60.0) {
        prop_assume!(schedule.top_speed_m_s() > 0.1);
        let scaled = schedule.scaled_to(top).unwrap();
        let wanted = schedule.distance_m() * top / schedule.top_speed_m_s();
        // Rounding of a hundred sums.
        prop_assert!((scaled.distance_m() - wanted).abs() <= 1e-12 * wanted.max(1.0) * 100.0);
        prop_assert!((scaled.top_speed_m_s() - top).abs() < 1e-12 * top);
    }

    #[test]
    fn law_easing_keeps_the_limit_and_is_never_faster(
        schedule in any_schedule(),
        limit in 0.05_f64..10.0,
        at in 0.0_f64..1.0,
    ) {
        let eased = schedule.eased(limit).unwrap();
        // A speed of 30 m/s is rounded to 4e-15, over 0.01 s.
        let most = limit + 1e-11;
        prop_assert!(eased.greatest_acceleration_m_s2() <= most);
        prop_assert!(eased.greatest_braking_m_s2() <= most);
        let time_s = at * schedule.duration_s();
        prop_assert!(eased.speed_at(time_s) <= schedule.speed_at(time_s) + 1e-11);
        prop_assert!(eased.distance_m() <= schedule.distance_m() + 1e-9);
    }

    #[test]
    fn law_easing_twice_is_easing_once(schedule in any_schedule(), limit in 0.05_f64..10.0) {
        let once = schedule.eased(limit).unwrap();
        let twice = once.eased(limit).unwrap();
        for (a, b) in once.points().iter().zip(twice.points()) {
            prop_assert!((a.speed_m_s - b.speed_m_s).abs() < 1e-11);
        }
    }

    #[test]
    fn law_the_distance_is_the_integral_of_the_speed(schedule in any_schedule()) {
        let begin = schedule.points()[0].time_s;
        let step_s = schedule.duration_s() / 20_000.0;
        let sum: f64 = (0..20_000_u32)
            .map(|n| schedule.speed_at(begin + (f64::from(n) + 0.5) * step_s) * step_s)
            .sum();
        // The middle rule errs by at most half a cell's area at each of 120 corners.
        let tolerance = 120.0 * 30.0 * step_s;
        prop_assert!((sum - schedule.distance_m()).abs() < tolerance, "{sum}");
    }

    #[test]
    fn law_a_speed_is_never_negative_and_never_above_the_top(
        schedule in any_schedule(),
        bits in prop::num::u64::ANY,
    ) {
        let speed = schedule.speed_at(f64::from_bits(bits));
        prop_assert!((0.0..=schedule.top_speed_m_s() + 1e-12).contains(&speed));
    }
}
