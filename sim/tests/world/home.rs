//! `homestretch ride --home`.

use super::{Bench, examples};

#[test]
fn a_rider_who_turns_when_told_to_gets_home_and_reads_what_it_took() {
    let bench = Bench::new();
    std::fs::write(bench.path("low.toml"), "[pack]\ncharge = 0.4\n").unwrap();
    let ride = ["ride", "--route", "street.toml", "--scenario", "low.toml", "--home"];
    let pictures = ["--home-plot", "home.svg", "--home-plot", "home.png"];
    let told = bench.json(&[ride.as_slice(), &pictures].concat());
    assert_eq!(told["ending"], "arrived");
    let home = &told["home"];
    assert_eq!(home["arrived"], true);
    let number = |key: &str| home[key].as_f64().unwrap_or_else(|| panic!("no {key} in {home}"));
    let keys = ["turned_at_s", "word_now_at_km", "took_Wh", "left_at_home_Wh"];
    assert!(keys.into_iter().all(|key| number(key) > 0.0), "{home}");
    // As far back as out.
    let km = told["true_distance_km"].as_f64().unwrap();
    assert!((km - 2.0 * number("turned_at_km")).abs() < 0.02, "{km} km, {home}");
    assert!(number("word_soon_at_km") <= number("word_now_at_km"));
    assert!(number("need_Wh") < number("need_nine_in_ten_Wh"));
    assert!(number("need_Wh") < number("energy_left_Wh"));
    let svg = String::from_utf8(bench.read("home.svg")).unwrap();
    assert!(svg.contains("turn now"));
    assert!(bench.read("home.png").starts_with(b"\x89PNG"));

    let words = bench.run(&ride).success().get_output().stdout.clone();
    let words = String::from_utf8(words).unwrap();
    assert!(words.contains("turned at") && words.contains("home with"), "{words}");
}

#[test]
fn home_is_where_the_ride_begins_whatever_the_memory_says() {
    let bench = Bench::new();
    std::fs::write(bench.path("low.toml"), "[pack]\ncharge = 0.3\n").unwrap();
    let ride = ["ride", "--route", "street.toml", "--scenario", "low.toml", "--home"];
    let ride = [ride.as_slice(), &["--memory", "flash"]].concat();
    for _ in 0..2 {
        let told = bench.json(&ride);
        assert_eq!(told["home"]["arrived"], true, "{told}");
    }
}

#[test]
fn a_ride_without_home_tells_none() {
    let bench = Bench::new();
    assert!(bench.json(&["ride", "--route", "street.toml"]).get("home").is_none());
}

#[test]
fn a_schedule_leads_nowhere_and_bad_usage_is_status_2() {
    let bench = Bench::new();
    let told = |arguments: &[&str]| {
        let out = bench.run(arguments).failure().get_output().clone();
        (out.status.code(), String::from_utf8(out.stderr).unwrap())
    };
    let schedule = examples().join("schedules/wmtc_part1.csv");
    let ride = ["ride", "--route", schedule.to_str().unwrap(), "--home", "--home-plot", "h.svg"];
    let (code, said) = told(&ride);
    assert_eq!(code, Some(1));
    assert!(said.contains("--home") && said.contains("route"), "{said}");
    assert!(!bench.path("h.svg").exists());
    for extra in ["--until-empty", "--laps=2"] {
        assert_eq!(told(&["ride", "--home", extra]).0, Some(2), "{extra}");
    }
    assert_eq!(told(&["ride", "--home-plot", "h.svg"]).0, Some(2));
}
