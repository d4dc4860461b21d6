//! `homestretch ride`.

use std::process::{Command, Stdio};
use std::time::Duration;

use super::{Bench, board, examples, exe};

#[test]
fn the_same_seed_is_the_same_ride_byte_for_byte() {
    let bench = Bench::new();
    let ride = |seed: &str, log: &str| {
        let files = ["--log", log, "--estimates", "e.csv", "--plot", "p.svg", "--seed", seed];
        let told = bench.run(&[["ride", "--route", "street.toml"].as_slice(), &files].concat());
        let told = told.success().get_output().stdout.clone();
        (told, bench.read(log), bench.read("e.csv"), bench.read("p.svg"))
    };
    let one = ride("7", "log.csv");
    assert!(one == ride("7", "log.csv"));
    assert!(one.1 != ride("8", "log.csv").1);
}

#[test]
fn a_log_replays_to_the_estimates_of_the_ride() {
    let bench = Bench::new();
    for (route, scenario) in [
        ("routes/mill-lane.toml", "scenarios/autumn-morning.toml"),
        ("routes/towpath.csv", "scenarios/frost.toml"),
    ] {
        let (route, scenario) = (examples().join(route), examples().join(scenario));
        let (route, scenario) = (route.to_str().unwrap(), scenario.to_str().unwrap());
        bench
            .run(&["ride", "--route", route, "--scenario", scenario, "--log", "log.csv"])
            .success();
        let ridden =
            ["ride", "--route", route, "--scenario", scenario, "--estimates", "ridden.csv"];
        bench.run(&ridden).success();
        bench.run(&["replay", "log.csv", "--estimates", "replayed.csv"]).success();
        let (ridden, replayed) = (bench.read("ridden.csv"), bench.read("replayed.csv"));
        assert!(ridden == replayed, "{scenario}");
        assert!(ridden.len() > 100_000);
    }
}

#[test]
fn a_ride_goes_on_with_the_memory_of_the_one_before() {
    let bench = Bench::new();
    let ride = ["ride", "--route", "street.toml", "--memory", "flash"];
    let first = bench.json(&ride);
    let second = bench.json(&ride);
    assert!(bench.path("flash").exists());
    // What the first ride taught of consumption changes the second one's first range.
    assert_ne!(first["first"]["range_km"], second["first"]["range_km"]);
}

#[test]
fn riding_until_empty_tells_the_true_range() {
    let bench = Bench::new();
    std::fs::write(bench.path("low.toml"), "[pack]\ncharge = 0.15\n").unwrap();
    let told =
        bench.json(&["ride", "--route", "street.toml", "--scenario", "low.toml", "--until-empty"]);
    assert_eq!(told["ending"], "no_drive_left");
    let km = told["true_distance_km"].as_f64().unwrap();
    assert!((0.5..12.0).contains(&km), "{km} km");
    assert!(told["true_soc_at_end"].as_f64().unwrap() < 0.12);
}

#[test]
fn a_schedule_is_ridden_scaled_to_the_board() {
    let bench = Bench::new();
    let schedule = examples().join("schedules/wmtc_part1.csv");
    let told = bench.json(&["ride", "--route", schedule.to_str().unwrap()]);
    assert_eq!(told["ending"], "arrived");
    // 4065.9 m at 60 km/h become those of 0.95 times 8.5 m/s; easing and a rider's delay take some.
    let scaled_km = 4.0659 * 0.95 * 8.5 / (60.0 / 3.6);
    let km = told["true_distance_km"].as_f64().unwrap();
    assert!((km / scaled_km - 1.0).abs() < 0.08, "{km} km of {scaled_km}");
}

#[test]
fn a_gpx_track_is_ridden() {
    let bench = Bench::new();
    let track = examples().join("routes/orchard-loop.gpx");
    let told = bench.json(&["ride", "--route", track.to_str().unwrap()]);
    assert_eq!(told["ending"], "arrived");
}

#[test]
fn what_cannot_be_ridden_is_said_before_anything_is_written() {
    let bench = Bench::new();
    let told = |arguments: &[&str]| {
        let out = bench.run(arguments).failure().get_output().clone();
        (out.status.code(), String::from_utf8(out.stderr).unwrap())
    };
    let (code, said) = told(&["ride", "--route", "nowhere.toml", "--log", "l.csv"]);
    assert_eq!(code, Some(1));
    assert!(said.contains("nowhere.toml"), "{said}");
    std::fs::write(bench.path("bad.toml"), "[[segment]]\nlength_m = -5\n").unwrap();
    let (code, said) = told(&["ride", "--route", "bad.toml", "--log", "l.csv"]);
    assert_eq!(code, Some(1));
    assert!(said.contains("length_m") && said.contains("-5"), "{said}");
    std::fs::write(bench.path("weld.toml"), "[weld]\nat_s = 1\ngroup = 11\ncells = 1\n").unwrap();
    let (code, said) = told(&["ride", "--scenario", "weld.toml", "--log", "l.csv"]);
    assert_eq!(code, Some(1));
    assert!(said.contains("11"), "{said}");
    assert_eq!(told(&["ride", "--seed", "soon"]).0, Some(2));
    assert_eq!(told(&["ride", "--laps", "0"]).0, Some(2));
    assert!(!bench.path("l.csv").exists());
}

#[test]
#[cfg(unix)]
fn an_interrupted_ride_writes_what_was_ridden() {
    let bench = Bench::new();
    let child = Command::new(exe())
        .args(["ride", "--route", "street.toml", "--laps", "1000", "--log", "log.csv", "--json"])
        .arg("--board")
        .arg(board())
        .current_dir(&bench.folder)
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    // Not before it rides: however slow the machine is, rows are then on their way to the disk.
    let rides = || {
        let mut files = std::fs::read_dir(&bench.folder).unwrap().flatten();
        files.any(|file| {
            let name = file.file_name();
            name.to_string_lossy().contains("log") && file.metadata().is_ok_and(|is| is.len() > 0)
        })
    };
    for _ in 0..600 {
        if rides() {
            break;
        }
        std::thread::sleep(Duration::from_millis(50));
    }
    assert!(
        Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap().success()
    );
    let out = child.wait_with_output().unwrap();
    assert_eq!(out.status.code(), Some(130));
    let told: serde_json::Value = serde_json::from_slice(&out.stdout).unwrap();
    assert_eq!(told["ending"], "interrupted");
    let rows = bench.read("log.csv").iter().filter(|&&byte| byte == b'\n').count();
    assert_eq!(told["rows"].as_u64().unwrap(), u64::try_from(rows - 1).unwrap());
    bench.run(&["replay", "log.csv"]).success();
}

#[test]
fn a_ride_of_a_campaign_can_be_ridden_alone() {
    let bench = Bench::new();
    bench.run(&["campaign", "--rides", "2", "--range-every", "0", "--out", "rides.csv"]).success();
    let mut rows = csv::Reader::from_reader(std::io::Cursor::new(bench.read("rides.csv")));
    let header = rows.headers().unwrap().clone();
    let at = |name: &str| header.iter().position(|column| column == name).unwrap();
    let row = rows.records().nth(1).unwrap().unwrap();
    let told = bench.json(&["ride", "--drawn", "--seed", &row[at("seed")]]);
    assert_eq!(told["ending"], row[at("ending")]);
    let km = told["true_distance_km"].as_f64().unwrap();
    assert!((km - row[at("distance_km")].parse::<f64>().unwrap()).abs() < 1e-4, "{km}");
}

#[test]
fn a_hill_too_steep_is_no_empty_pack() {
    let bench = Bench::new();
    let hill = "[[segment]]\nlength_m = 200\n[[segment]]\nlength_m = 500\ngrade_percent = 30\n";
    std::fs::write(bench.path("hill.toml"), hill).unwrap();
    let told = bench.json(&["ride", "--route", "hill.toml"]);
    assert_eq!(told["ending"], "stuck");
    assert!(told["true_soc_at_end"].as_f64().unwrap() > 0.9);
}

#[test]
fn a_schedule_that_does_not_begin_at_nothing_is_ridden_all_the_same() {
    let bench = Bench::new();
    let ridden = |from_s: u32| {
        let rows = [(0, 0), (20, 20), (40, 20), (60, 0)];
        let rows = rows.map(|(time_s, km_h)| format!("{},{km_h}\n", time_s + from_s));
        let text = format!("time_s,speed_km_h\n{}", rows.concat());
        std::fs::write(bench.path("schedule.csv"), text).unwrap();
        bench.json(&["ride", "--route", "schedule.csv"])["true_distance_km"].as_f64().unwrap()
    };
    let km = ridden(0);
    assert!(km > 0.15, "{km} km");
    // Times a hundred seconds later round otherwise; a rider makes a hand's breadth of that.
    assert!((ridden(100) - km).abs() < 1e-3);
}
