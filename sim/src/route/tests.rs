use std::path::Path;

use proptest::prelude::*;

use super::*;

/// Rounding of sums and products of distances of some kilometres, m.
const ROUNDING_M: f64 = 1e-8;

fn segment(length_m: f64, grade_percent: f64) -> Segment {
    Segment {
        length_m,
        slope: Slope::GradePercent(grade_percent),
        surface: Surface::Asphalt,
        speed_wish_m_s: 6.0,
        wind: Wind::Headwind(1.5),
        heading_deg: Some(80.0),
    }
}

fn hill() -> Outline {
    Outline {
        name: "hill".to_owned(),
        start_elevation_m: 100.0,
        segments: vec![segment(200.0, 10.0), segment(55.5, 0.0), segment(150.0, -4.0)],
        stops: vec![Stop { at_m: 200.0, wait_s: 20.0 }, Stop { at_m: 30.0, wait_s: 5.0 }],
        ..Outline::default()
    }
}

fn road(outline: &Outline) -> Route {
    Route::new(outline).unwrap()
}

#[test]
fn a_place_has_the_grade_and_height_of_its_segment() {
    let route = road(&hill());
    let sine = 0.1 / 1.01_f64.sqrt();
    let here = route.at(120.0);
    assert!((here.elevation_m - (100.0 + 120.0 * sine)).abs() < ROUNDING_M, "{here:?}");
    assert!((here.grade - 0.1).abs() < 1e-12);
    assert!((here.slope_sine() - sine).abs() < 1e-12);
    assert!(route.at(230.0).grade.abs() < 1e-12);
    assert!((route.length_m() - 405.5).abs() < ROUNDING_M);
    assert!((route.climb_m() - 200.0 * sine).abs() < ROUNDING_M);
}

#[test]
fn a_segment_begins_where_it_is_said_to() {
    let route = road(&hill());
    assert!(route.at(199.999_999).grade > 0.09);
    assert!(route.at(200.0).grade.abs() < 1e-12);
    assert!(route.at(255.499_999).grade.abs() < 1e-12);
    assert!(route.at(255.5).grade < -0.03);
}

#[test]
fn an_elevation_at_the_end_is_reached() {
    let mut outline = hill();
    outline.segments[1].slope = Slope::EndElevation(117.25);
    let route = road(&outline);
    assert!((route.at(255.5).elevation_m - 117.25).abs() < ROUNDING_M);
}

#[test]
fn a_second_lap_goes_on_from_where_the_first_ended() {
    let route = road(&hill());
    let rise = route.at(405.5).elevation_m - 100.0;
    assert!(rise > 10.0);
    for lap in [1.0, 2.0, 17.0] {
        let here = route.at(lap * 405.5 + 120.0);
        let wanted = route.at(120.0).elevation_m + lap * rise;
        assert!((here.elevation_m - wanted).abs() < 1e-7, "lap {lap}");
        assert!((here.grade - 0.1).abs() < 1e-12);
    }
}

#[test]
fn the_way_back_mirrors_grade_wind_and_heading() {
    let route = road(&hill()).over_and_over(Way::ThereAndBack);
    let (out, back) = (route.at(120.0), route.at(2.0 * 405.5 - 120.0));
    assert!((out.elevation_m - back.elevation_m).abs() < ROUNDING_M);
    assert!((out.grade + back.grade).abs() < 1e-12);
    assert!((out.headwind_m_s + back.headwind_m_s).abs() < 1e-12);
    assert_eq!((out.heading_deg, back.heading_deg), (Some(80.0), Some(260.0)));
    let third = route.at(2.0 * 405.5 + 120.0);
    assert!((third.grade - out.grade).abs() < 1e-12);
}

#[test]
fn stops_are_met_in_order_lap_after_lap() {
    let route = road(&hill());
    let mut met = Vec::new();
    let mut at_m = -1.0;
    for _ in 0..5 {
        let stop = route.next_stop(at_m).unwrap();
        met.push((stop.at_m, stop.wait_s));
        at_m = stop.at_m;
    }
    assert_eq!(
        met,
        [(30.0, 5.0), (200.0, 20.0), (435.5, 5.0), (605.5, 20.0), (841.0, 5.0)],
        "the length is 405.5"
    );
    assert_eq!(route.stops().first().map(|stop| stop.at_m), Some(30.0));
}

#[test]
fn stops_on_the_way_back_are_met_in_reverse() {
    let route = road(&hill()).over_and_over(Way::ThereAndBack);
    let back = route.next_stop(300.0).unwrap();
    assert!((back.at_m - (811.0 - 200.0)).abs() < ROUNDING_M, "{back:?}");
    assert!((back.wait_s - 20.0).abs() < 1e-12);
    let next = route.next_stop(back.at_m).unwrap();
    assert!((next.at_m - (811.0 - 30.0)).abs() < ROUNDING_M, "{next:?}");
    assert!((route.next_stop(next.at_m).unwrap().at_m - (811.0 + 30.0)).abs() < ROUNDING_M);
}

#[test]
fn a_wind_over_all_blows_by_heading() {
    let route = road(&hill()).in_wind(4.0, 80.0).unwrap();
    assert!((route.at(1.0).headwind_m_s - 4.0).abs() < 1e-12);
    let across = road(&hill()).in_wind(4.0, 170.0).unwrap();
    assert!(across.at(1.0).headwind_m_s.abs() < 1e-12);
    assert!(road(&hill()).in_wind(4.0, f64::NAN).is_err());
}

#[test]
fn every_fault_of_an_outline_is_told_at_once() {
    let mut outline = hill();
    outline.segments[0].length_m = -1.0;
    outline.segments[1].speed_wish_m_s = f64::NAN;
    outline.segments[2].slope = Slope::GradePercent(55.0);
    outline.segments[2].wind = Wind::From { wind_m_s: 3.0, from_deg: 400.0 };
    outline.segments[2].heading_deg = None;
    outline.stops[0].wait_s = -2.0;
    let errors = Route::new(&outline).unwrap_err().to_string();
    assert_eq!(
        errors,
        "segment 1: length_m is -1; 1 to 100000 is allowed\n\
         segment 2: speed_wish_m_s is NaN; 0.5 to 40 is allowed\n\
         segment 3: wind_from_deg is 400; 0 to 360 is allowed\n\
         segment 3: heading_deg is missing; wind_from_deg needs it\n\
         segment 3: grade_percent is 55; -40 to 40 is allowed\n\
         stop 1: stop_for_s is -2; 0 to 7200 is allowed"
    );
}

#[test]
fn an_empty_a_too_long_and_a_too_steep_route_are_refused() {
    let empty = Outline::default();
    assert_eq!(Route::new(&empty).unwrap_err().0, [RouteError::Empty]);
    let long = Outline { segments: vec![segment(100_000.0, 0.0); 11], ..Outline::default() };
    let error = Route::new(&long).unwrap_err().to_string();
    assert!(error.contains("1100000 m"), "{error}");
    let mut steep = hill();
    steep.segments[1].slope = Slope::EndElevation(200.0);
    let error = Route::new(&steep).unwrap_err().to_string();
    assert!(
        error.starts_with("segment 2: end_elevation_m is 200; over 55.5 m from 119.9"),
        "{error}"
    );
}

#[test]
fn surfaces_go_by_their_names_and_grip_less_when_wet() {
    for surface in Surface::ALL {
        assert_eq!(Surface::from_name(surface.name()), Some(surface));
        assert!((1.0..=5.0).contains(&surface.rolling_factor()), "{surface:?}");
        assert!((0.05..=0.9).contains(&surface.friction()), "{surface:?}");
    }
    for (dry, wet) in [
        (Surface::Asphalt, Surface::WetAsphalt),
        (Surface::Paving, Surface::WetPaving),
        (Surface::Cobbles, Surface::WetCobbles),
        (Surface::Planks, Surface::WetPlanks),
    ] {
        assert!(wet.friction() < dry.friction() && wet.rolling_factor() > dry.rolling_factor());
    }
}

const TO_WORK: &str = r#"name = "to work"
start_elevation_m = 52
way = "there_and_back"
surface = "paving"
speed_wish_m_s = 5.5
wind_m_s = 3.0
wind_from_deg = 90

[[segment]]
length_m = 350
grade_percent = 2.5
heading_deg = 90

[[segment]]
length_m = 400
end_elevation_m = 50.0
surface = "wet_leaves"
speed_wish_m_s = 4.0
headwind_m_s = -1.0
stop_for_s = 20

[[stop]]
at_m = 120.5
stop_for_s = 15
"#;

fn read(toml: &str) -> Result<Route, RouteFileError> {
    Route::read_toml(toml, Path::new("commute.toml"))
}

fn told(error: &RouteFileError) -> Vec<String> {
    error.to_string().lines().map(str::to_owned).collect()
}

#[test]
fn a_toml_route_has_what_its_file_says() {
    let route = read(TO_WORK).unwrap();
    assert_eq!((route.name(), route.way()), ("to work", Way::ThereAndBack));
    assert!((route.length_m() - 750.0).abs() < ROUNDING_M);
    let (first, second) = (route.at(10.0), route.at(400.0));
    assert_eq!((first.surface, second.surface), (Surface::Paving, Surface::WetLeaves));
    assert!(
        (first.speed_wish_m_s - 5.5).abs() < 1e-12 && (second.speed_wish_m_s - 4.0).abs() < 1e-12
    );
    assert!((first.headwind_m_s - 3.0).abs() < 1e-12 && (second.headwind_m_s + 1.0).abs() < 1e-12);
    assert!((route.at(749.999_999_9).elevation_m - 50.0).abs() < 1e-6);
    assert_eq!(
        route.stops(),
        [Stop { at_m: 120.5, wait_s: 15.0 }, Stop { at_m: 750.0, wait_s: 20.0 }]
    );
}

#[test]
fn a_csv_route_is_the_same_as_its_toml() {
    let csv = "# the way to the mill\nlength_m,grade_percent,end_elevation_m,surface,stop_for_s\n\
               0,,52,,\n350,2.5,,paving,\n\n400,,50,wet_leaves,20\n";
    let route = Route::read_csv(csv, Path::new("mill.csv")).unwrap();
    assert_eq!(route.name(), "mill");
    let by_hand = read(TO_WORK).unwrap();
    for at_m in [0.0, 100.0, 349.0, 351.0, 700.0] {
        let (a, b) = (route.at(at_m), by_hand.at(at_m));
        assert!((a.elevation_m - b.elevation_m).abs() < ROUNDING_M && a.surface == b.surface);
    }
    assert_eq!(route.stops(), [Stop { at_m: 750.0, wait_s: 20.0 }]);
}

#[test]
fn all_faults_of_a_toml_come_at_once_with_their_lines() {
    let broken = TO_WORK
        .replace("length_m = 350", "lenght_m = 350")
        .replace("wet_leaves", "mud")
        .replace("at_m = 120.5", "at_m = \"half\"")
        .replace("headwind_m_s = -1.0", "headwind_m_s = 99");
    assert_eq!(
        told(&read(&broken).unwrap_err()),
        [
            "commute.toml:9: segment 1: length_m is missing",
            "commute.toml:10: segment 1: `lenght_m` is not known; length_m, grade_percent, \
             end_elevation_m, surface, speed_wish_m_s, headwind_m_s, wind_m_s, wind_from_deg, \
             heading_deg, stop_for_s are",
            "commute.toml:17: segment 2: surface is `mud`; one of asphalt, wet_asphalt, concrete, \
             paving, wet_paving, cobbles, wet_cobbles, packed_gravel, planks, wet_planks, grass, \
             wet_leaves, packed_snow, ice is wanted",
            "commute.toml:19: segment 2: headwind_m_s is 99; -40 to 40 is allowed",
            "commute.toml:23: stop 1: at_m is the text \"half\"; a number is wanted",
        ]
    );
}

#[test]
fn what_is_wrong_at_the_top_is_told_at_the_top() {
    let error = read(&TO_WORK.replace("wind_m_s = 3.0", "wind_m_s = 300")).unwrap_err();
    assert_eq!(told(&error), ["commute.toml:6: segment 1: wind_m_s is 300; 0 to 40 is allowed"]);
    let error = read(&TO_WORK.replace("start_elevation_m = 52", "height = 3")).unwrap_err();
    assert!(told(&error)[0].starts_with("commute.toml:2: route: `height` is not known; name, "));
    let error = read(&TO_WORK.replace("wind_from_deg = 90\n", "")).unwrap_err();
    assert_eq!(told(&error), ["commute.toml:6: route: wind_m_s needs wind_from_deg"]);
    let error = read(&TO_WORK.replace("heading_deg = 90", "")).unwrap_err();
    assert!(told(&error)[0].contains(":9: segment 1: heading_deg is missing"), "{error}");
}

#[test]
fn a_stop_beyond_the_end_is_told_where_it_stands() {
    let error = read(&TO_WORK.replace("at_m = 120.5", "at_m = 800")).unwrap_err();
    assert_eq!(told(&error), ["commute.toml:23: stop 1: at_m is 800; 0 to 750 is allowed"]);
    let error = read(&TO_WORK.replace("stop_for_s = 20", "stop_for_s = -20")).unwrap_err();
    assert_eq!(
        told(&error),
        ["commute.toml:20: segment 2: stop_for_s is -20; 0 to 7200 is allowed"]
    );
}

#[test]
fn two_ways_to_say_one_thing_are_refused() {
    let error =
        read(&TO_WORK.replace("grade_percent = 2.5", "grade_percent = 2.5\nend_elevation_m = 60"));
    let told = told(&error.unwrap_err());
    assert_eq!(
        told,
        ["commute.toml:12: segment 1: grade_percent and end_elevation_m; one is wanted"]
    );
}

#[test]
fn broken_syntax_and_files_without_segments_are_refused() {
    assert!(told(&read("name = \n[[segment]\n").unwrap_err())[0].starts_with("commute.toml:1: "));
    assert_eq!(
        told(&read("name = \"x\"").unwrap_err()),
        ["commute.toml: route: it has no segment; at least one is wanted"]
    );
    assert!(told(&read("segment = 3").unwrap_err())[0].contains("list of sections: [[segment]]"));
}

#[test]
fn a_table_tells_every_fault_with_its_line() {
    let csv = "length_m,grade_percent\n\n100,1\n200\n# a note\nfar,1\n300,90\n";
    let error = Route::read_csv(csv, Path::new("r.csv")).unwrap_err();
    assert_eq!(
        told(&error),
        [
            "r.csv:4: the row has 1 fields; 2 as in the header are wanted",
            "r.csv:6: segment 2: length_m is the text \"far\"; a number is wanted",
            "r.csv:7: segment 3: grade_percent is 90; -40 to 40 is allowed",
        ]
    );
    let error = Route::read_csv("length_m,slope\n100,1\n", Path::new("r.csv")).unwrap_err();
    assert!(told(&error)[0].starts_with("r.csv:1: column `slope` is not known; length_m, "));
}

#[test]
fn a_file_is_read_by_its_ending() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("commute.toml");
    std::fs::write(&path, format!("\u{feff}{TO_WORK}")).unwrap();
    assert_eq!(Route::open(&path).unwrap().name(), "to work");
    let error = Route::open(folder.path().join("none.toml")).unwrap_err().to_string();
    assert!(error.contains("none.toml: cannot be read: "), "{error}");
    let error = Route::open(folder.path().join("way.kml")).unwrap_err().to_string();
    assert!(error.contains(".toml, .csv or .gpx, not in `.kml`"), "{error}");
    std::fs::write(&path, b"name = \"\xff\"").unwrap();
    assert!(Route::open(&path).unwrap_err().to_string().ends_with("is not UTF-8 text"));
}

fn any_outline() -> impl Strategy<Value = Outline> {
    let segments = prop::collection::vec((1.0_f64..400.0, -40.0_f64..40.0), 1..30);
    let stops = prop::collection::vec((0.0_f64..1.0, 0.0_f64..60.0), 0..6);
    (segments, stops, prop::bool::ANY).prop_map(|(segments, stops, back)| {
        let length_m: f64 = segments.iter().map(|(length_m, _)| length_m).sum();
        Outline {
            way: if back { Way::ThereAndBack } else { Way::Again },
            segments: segments.into_iter().map(|(l, grade)| segment(l, grade)).collect(),
            stops: stops
                .into_iter()
                .map(|(at, wait_s)| Stop { at_m: at * length_m, wait_s })
                .collect(),
            ..Outline::default()
        }
    })
}

proptest! {
    #[test]
    fn law_elevation_has_no_step_anywhere(
        outline in any_outline(),
        at in -3.0_f64..5.0,
        step_m in 0.0_f64..2.0,
    ) {
        let route = road(&outline);
        for at_m in [at * route.length_m(), at.round() * route.length_m()] {
            for from_m in [at_m, at_m - step_m, at_m - 1e-9] {
                let rise = route.at(from_m + step_m).elevation_m - route.at(from_m).elevation_m;
                // The steepest road of 40 % climbs 0.3714 m a metre.
                prop_assert!(rise.abs() <= 0.372 * step_m + ROUNDING_M, "{rise} over {step_m}");
            }
        }
    }

    #[test]
    fn law_elevation_grows_by_the_sine_of_the_slope(
        outline in any_outline(),
        at in -3.0_f64..5.0,
    ) {
        let route = road(&outline);
        let at_m = at * route.length_m();
        let (from, to) = (route.at(at_m), route.at(at_m + 1e-3));
        prop_assume!((from.grade - to.grade).abs() < 1e-12);
        let sine = (to.elevation_m - from.elevation_m) / 1e-3;
        // A thousandth of a metre between heights of some 1000 m: rounding of 1e-12 / 1e-3.
        prop_assert!((sine - from.slope_sine()).abs() < 1e-6, "{sine} {from:?}");
    }

    #[test]
    fn law_no_distance_at_all_is_a_panic_or_no_number(
        outline in any_outline(),
        bits in prop::num::u64::ANY,
    ) {
        let route = road(&outline);
        let extremes = [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, f64::MAX, f64::MIN, -0.0, 5e-324];
        for at_m in extremes.into_iter().chain([f64::from_bits(bits)]) {
            let here = route.at(at_m);
            prop_assert!(here.elevation_m.is_finite() && here.grade.is_finite(), "{at_m}: {here:?}");
            let _ = route.next_stop(at_m);
        }
    }

    #[test]
    fn law_the_next_stop_is_beyond_and_none_lies_between(
        outline in any_outline(),
        at in -3.0_f64..5.0,
    ) {
        let route = road(&outline);
        let length_m = route.length_m();
        let at_m = at * length_m;
        let mut all = Vec::new();
        for lap in -5_i32..8 {
            for stop in route.stops() {
                let back = route.way() == Way::ThereAndBack && lap % 2 != 0;
                let within = if back { length_m - stop.at_m } else { stop.at_m };
                all.push(f64::from(lap) * length_m + within);
            }
        }
        let wanted = all.into_iter().filter(|&stop| stop > at_m).fold(f64::INFINITY, f64::min);
        match route.next_stop(at_m) {
            Some(stop) => prop_assert!((stop.at_m - wanted).abs() < ROUNDING_M),
            None => prop_assert!(route.stops().is_empty()),
        }
    }

    #[test]
    fn law_the_way_back_ends_at_the_height_of_the_start(outline in any_outline()) {
        let route = road(&outline).over_and_over(Way::ThereAndBack);
        let end = route.at(2.0 * route.length_m()).elevation_m;
        prop_assert!((end - route.at(0.0).elevation_m).abs() < ROUNDING_M);
    }

    #[test]
    fn law_no_text_at_all_makes_a_reader_panic(text in "\\PC{0,200}") {
        let file = Path::new("any");
        let _ = Route::read_toml(&text, file);
        let _ = Route::read_csv(&text, file);
        let _ = Route::read_gpx(&text, file, &TrackSettings::default());
        let _ = Schedule::read_csv(&text, file);
    }
}
