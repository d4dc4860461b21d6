use std::fmt::Write as _;

use proptest::prelude::*;

use super::*;

/// Metres of a degree of latitude on the ball.
const DEGREE_M: f64 = super::super::geodesy::EARTH_RADIUS_M * std::f64::consts::PI / 180.0;

/// A track due east along the equator: distance in m, and height where there is one.
fn gpx_of(points: &[(f64, Option<f64>)]) -> String {
    let mut text = String::from(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n\
         <gpx version=\"1.1\" creator=\"test\" xmlns=\"http://www.topografix.com/GPX/1/1\">\n\
         <trk><name>along the equator</name><trkseg>\n",
    );
    for (at_m, height_m) in points {
        let lon = at_m / DEGREE_M;
        let ele = height_m.map_or_else(String::new, |height_m| format!("<ele>{height_m}</ele>"));
        writeln!(text, "<trkpt lat=\"0\" lon=\"{lon}\">{ele}</trkpt>").unwrap();
    }
    text + "</trkseg></trk></gpx>\n"
}

fn read(text: &str, settings: &TrackSettings) -> Result<Route, RouteFileError> {
    Route::read_gpx(text, Path::new("ride.gpx"), settings)
}

/// The height function every `apart_m` over `length_m`, with noise of a standard deviation.
fn track(
    length_m: u32,
    apart_m: u32,
    noise: Option<(f64, u64)>,
    height: impl Fn(f64) -> f64,
) -> Vec<(f64, Option<f64>)> {
    let mut random = noise.map(|(_, seed)| Random(seed));
    (0..=length_m / apart_m)
        .map(|n| {
            let at_m = f64::from(n * apart_m);
            let sd = noise.map_or(0.0, |(sd, _)| sd);
            (at_m, Some(height(at_m) + sd * random.as_mut().map_or(0.0, Random::normal)))
        })
        .collect()
}

/// Source: splitmix64, G. Steele et al., OOPSLA 2014; from memory.
struct Random(u64);

impl Random {
    fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        f64::from(u32::try_from((z ^ (z >> 31)) >> 32).unwrap()) / 4_294_967_296.0
    }

    /// The sum of twelve uniforms is near enough to normal.
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
    }
}

fn raw_climb(points: &[(f64, Option<f64>)]) -> f64 {
    points.windows(2).map(|pair| (pair[1].1.unwrap() - pair[0].1.unwrap()).max(0.0)).sum()
}

/// Two hills of 60 m and 45 m, gentle at foot and top, over 6 km.
fn hills(at_m: f64) -> f64 {
    let hill = |from_m: f64, width_m: f64, height_m: f64| {
        if (from_m..from_m + width_m).contains(&at_m) {
            height_m * (1.0 - libm::cos(2.0 * std::f64::consts::PI * (at_m - from_m) / width_m))
                / 2.0
        } else {
            0.0
        }
    };
    200.0 + hill(500.0, 2000.0, 60.0) + hill(3200.0, 1500.0, 45.0)
}

#[test]
fn a_noisy_flat_track_climbs_almost_nothing() {
    let mut worst: f64 = 0.0;
    // Not the tracks on which the constants were chosen.
    for seed in 1000..1200 {
        let points = track(5000, 10, Some((3.0, seed)), |_| 50.0);
        assert!(raw_climb(&points) > 600.0, "the noise has to be there");
        let route = read(&gpx_of(&points), &TrackSettings::default()).unwrap();
        worst = worst.max(route.climb_m());
    }
    // Of some 850 m that the points add up to. What is left is a straight line through 501 points,
    // whose ends differ by 3 m * sqrt(12 / 501) = 0.46 m, one standard deviation; four of them.
    assert!(worst < 1.9, "{worst} m");
}

#[test]
fn the_climb_of_true_hills_survives() {
    let route = read(&gpx_of(&track(6000, 10, None, hills)), &TrackSettings::default()).unwrap();
    // Without noise only the smoother takes something off: (2 pi 33 / 1500)^4 is 0.04 %, and the
    // bends at the feet have shorter waves.
    assert!((route.climb_m() / 105.0 - 1.0).abs() < 0.01, "{}", route.climb_m());
}

#[test]
fn the_climb_of_true_hills_survives_noise_as_well() {
    let (mut sum, mut worst) = (0.0, 0.0_f64);
    for seed in 0..100 {
        let points = track(6000, 10, Some((3.0, seed)), hills);
        let climb = read(&gpx_of(&points), &TrackSettings::default()).unwrap().climb_m();
        sum += climb / 105.0 - 1.0;
        worst = worst.max((climb / 105.0 - 1.0).abs());
    }
    // What is left of the noise is 0.85 m at the three turning points and twice that at the start:
    // 2.3 m together, and turning points are sought where it is greatest, so that it adds to the
    // climb, some 0.85 m a turn. Mean: 2.5 m of 105 m; worst of a hundred: 2.5 m + 2.6 * 2.3 m.
    assert!((sum / 100.0).abs() < 0.03, "mean {}", sum / 100.0);
    assert!(worst < 0.08, "worst {worst}");
}

#[test]
fn the_length_is_that_of_the_ground_and_the_points_are_even() {
    let route = read(&gpx_of(&track(3000, 10, None, |_| 10.0)), &TrackSettings::default()).unwrap();
    // Degrees are written in decimal digits that read back to the bit.
    assert!((route.length_m() - 3000.0).abs() < 1e-6, "{}", route.length_m());
    assert_eq!(route.name(), "along the equator");
    assert!(route.at(1234.0).heading_deg.is_some_and(|deg| (deg - 90.0).abs() < 1e-9));
}

#[test]
fn a_slope_is_longer_than_its_ground() {
    let route = read(&gpx_of(&track(3000, 10, None, |at_m| at_m * 0.1)), &TrackSettings::default());
    let route = route.unwrap();
    let wanted = 3000.0 * 1.01_f64.sqrt();
    assert!((route.length_m() - wanted).abs() < 1e-3, "{}", route.length_m());
    assert!((route.at(1500.0).grade - 0.1).abs() < 1e-6);
}

#[test]
fn a_wind_over_a_track_blows_by_its_heading() {
    let route = read(&gpx_of(&track(3000, 10, None, |_| 10.0)), &TrackSettings::default()).unwrap();
    let route = route.in_wind(5.0, 90.0).unwrap();
    assert!((route.at(100.0).headwind_m_s - 5.0).abs() < 1e-9);
}

#[test]
fn a_track_without_elevation_is_refused_or_flat_as_wished() {
    let text = gpx_of(&[(0.0, None), (50.0, None), (100.0, None)]);
    let error = read(&text, &TrackSettings::default()).unwrap_err().to_string();
    assert_eq!(error, "ride.gpx: 3 of 3 points have no elevation (`ele`)");
    let flat =
        TrackSettings { without_elevation: WithoutElevation::Flat, ..TrackSettings::default() };
    let route = read(&text, &flat).unwrap();
    assert!(route.climb_m().abs() < 1e-12 && route.at(60.0).grade.abs() < 1e-12);
    assert_eq!(route.notes(), ["3 of 3 points have no elevation (`ele`); taken as flat"]);
}

#[test]
fn a_few_missing_elevations_are_bridged_with_a_note() {
    let mut points = track(2000, 10, None, |at_m| at_m * 0.05);
    for point in points.iter_mut().skip(50).take(40) {
        point.1 = None;
    }
    let route = read(&gpx_of(&points), &TrackSettings::default()).unwrap();
    assert!((route.at(800.0).grade - 0.05).abs() < 1e-6);
    assert_eq!(route.notes()[0], "40 of 201 points have no elevation; bridged");
}

#[test]
fn an_end_without_elevation_is_level() {
    let mut points = track(2000, 10, None, |at_m| at_m * 0.05);
    for point in points.iter_mut().skip(150) {
        point.1 = None;
    }
    let route = read(&gpx_of(&points), &TrackSettings::default()).unwrap();
    // The last height is at 1490 m; the bend there is rounded.
    assert!((route.climb_m() - 74.5).abs() < 1.0, "{}", route.climb_m());
    assert!(route.at(1800.0).grade.abs() < 0.001, "{:?}", route.at(1800.0));
}

#[test]
fn standing_still_adds_neither_way_nor_height() {
    let mut points = track(2000, 10, None, |_| 20.0);
    let pause: Vec<_> = (0..300).map(|n| (1000.0 + 0.3 * f64::from(n % 2), Some(23.0))).collect();
    points.splice(101..101, pause);
    let route = read(&gpx_of(&points), &TrackSettings::default()).unwrap();
    assert!((route.length_m() - 2000.0).abs() < 1.0, "{}", route.length_m());
    assert!(route.climb_m() < 1.0, "{}", route.climb_m());
}

#[test]
fn faults_of_a_track_are_told() {
    let good = gpx_of(&track(100, 10, None, |_| 20.0));
    let told = |text: &str| read(text, &TrackSettings::default()).unwrap_err().to_string();
    let error = told(&good.replacen("</trkpt>", "</trk>", 1));
    assert!(error.starts_with("ride.gpx:4: is no GPX track: "), "{error}");
    let error = told(&good.replacen("<ele>20</ele>", "<ele>20000</ele>", 2));
    assert_eq!(
        error,
        "ride.gpx: segment 1, point 1: ele is 20000; -500 to 9000 is allowed\n\
         ride.gpx: segment 1, point 2: ele is 20000; -500 to 9000 is allowed"
    );
    let error = told(&good.replace("<ele>20</ele>", "<ele>high</ele>"));
    assert!(error.starts_with("ride.gpx:4: is no GPX track: "), "{error}");
    let error = told(&good.replacen("lat=\"0\"", "lat=\"91\"", 1));
    assert!(error.starts_with("ride.gpx:4: is no GPX track: ") && error.contains("91"), "{error}");
    let error = told(&good.replacen("lat=\"0\"", "lat=\"NaN\"", 1));
    assert!(error.contains("NaN") || error.contains("no number"), "{error}");
    let error = told("<gpx version=\"1.1\" creator=\"x\"></gpx>");
    assert_eq!(error, "ride.gpx: has no track (`trk`)");
    let error = told(&gpx_of(&[(0.0, Some(1.0)), (4.0, Some(1.0))]));
    assert_eq!(error, "ride.gpx: the track is 4.0 m long; 10 to 1000000 m is allowed");
}

#[test]
fn settings_out_of_range_are_refused() {
    let settings =
        TrackSettings { spacing_m: 0.0, smoothing_m: f64::NAN, ..TrackSettings::default() };
    let error = read(&gpx_of(&track(100, 10, None, |_| 20.0)), &settings).unwrap_err().to_string();
    assert_eq!(
        error,
        "ride.gpx: settings: spacing_m is 0; 1 to 100 is allowed\n\
         ride.gpx: settings: smoothing_m is NaN; 1 to 200 is allowed"
    );
}

proptest! {
    #[test]
    fn law_a_track_gives_a_road_that_a_road_can_be(
        heights in prop::collection::vec((-500.0_f64..9000.0, 5.0_f64..2000.0), 3..60),
        spacing_m in 1.0_f64..100.0,
        smoothing_m in 1.0_f64..200.0,
    ) {
        let mut at_m = 0.0;
        let points: Vec<_> = heights
            .iter()
            .map(|&(height_m, apart_m)| {
                at_m += apart_m;
                (at_m, Some(height_m))
            })
            .collect();
        let settings = TrackSettings { spacing_m, smoothing_m, ..TrackSettings::default() };
        let Ok(route) = read(&gpx_of(&points), &settings) else { return Ok(()) };
        let steps = 300_u32;
        for n in 0..steps {
            let here = route.at(route.length_m() * f64::from(n) / f64::from(steps));
            prop_assert!(here.grade.abs() <= 0.4 + 1e-9, "{here:?}");
            prop_assert!(here.heading_deg.is_some_and(|deg| (0.0..360.0).contains(&deg)));
        }
    }

    #[test]
    fn law_a_broken_track_is_told_and_never_a_panic(at in 0.0_f64..1.0, what in "[<>/\"a0&;-]{0,3}") {
        let good = gpx_of(&track(100, 10, None, |_| 20.0));
        let cut = cell_of(at * count(good.len()));
        let broken = format!("{}{what}{}", &good[..cut], good.get(cut + what.len()..).unwrap_or(""));
        let _ = read(&broken, &TrackSettings::default());
        let _ = read(&good[..cut], &TrackSettings::default());
    }
}
