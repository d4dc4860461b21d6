//! Good input: what comes out, and what must not matter.

use std::path::Path;

use serde_json::Value;

use super::{Bench, ride};

fn json(bench: &Bench, more: &[&str]) -> Value {
    let assert = bench.replay(&[&["--json"], more].concat()).success();
    serde_json::from_slice(&assert.get_output().stdout).expect("one JSON object and nothing else")
}

#[test]
fn estimates_have_a_row_per_row_of_the_ride() {
    let bench = Bench::new();
    bench.replay(&["--estimates", "e.csv"]).success();
    let text = String::from_utf8(bench.read("e.csv")).unwrap();
    let mut lines = text.lines();
    let header = "time_s,soc,soc_low,soc_high,range_km,range_low_km,capacity_Ah,resistance_scale";
    assert_eq!(lines.next(), Some(header));
    let rows: Vec<Vec<f64>> =
        lines.map(|line| line.split(',').map(|field| field.parse().unwrap()).collect()).collect();
    assert_eq!(rows.len(), 1200);
    for row in rows {
        let [_, soc, low, high, range, range_low, ..] = row[..] else { panic!("{row:?}") };
        assert!(0.0 <= low && low <= soc && soc <= high && high <= 1.0, "{row:?}");
        assert!(0.0 <= range_low && range_low <= range, "{row:?}");
    }
}

#[test]
fn removing_the_truth_changes_no_byte_of_the_estimates() {
    let bench = Bench::new();
    bench.replay(&["--estimates", "with.csv", "--memory", "with.bin"]).success();
    let without: String =
        ride().lines().map(|line| format!("{}\n", line.rsplit_once(',').unwrap().0)).collect();
    assert!(!without.contains("true_soc"));
    bench.put("ride.csv", without);
    bench.replay(&["--estimates", "without.csv", "--memory", "without.bin"]).success();
    assert_eq!(bench.read("with.csv"), bench.read("without.csv"));
    assert_eq!(bench.read("with.bin"), bench.read("without.bin"));
}

#[test]
fn columns_that_nobody_knows_change_nothing() {
    let bench = Bench::new();
    bench.replay(&["--estimates", "plain.csv"]).success();
    let more: String = ride()
        .lines()
        .enumerate()
        .map(|(n, line)| format!("{line},{}\n", if n == 0 { "mood" } else { "fine" }))
        .collect();
    bench.put("ride.csv", more);
    bench.replay(&["--estimates", "more.csv"]).success();
    assert_eq!(bench.read("plain.csv"), bench.read("more.csv"));
}

#[test]
fn what_a_lost_frame_holds_is_not_looked_at() {
    let bench = Bench::new();
    let with_link = |stale: &str| -> String {
        let mut text = String::from("time_s,pack_voltage_V,pack_current_A,link_ok\n");
        for step in 0..200 {
            let (measured, link) = if step % 7 == 3 { (stale, 0) } else { ("38.1,4.0", 1) };
            text.push_str(&format!("{}.{},{measured},{link}\n", step / 10, step % 10));
        }
        text
    };
    bench.put("ride.csv", with_link(","));
    bench.replay(&["--estimates", "empty.csv"]).success();
    bench.put("ride.csv", with_link("12.3,-40"));
    bench.replay(&["--estimates", "stale.csv"]).success();
    assert_eq!(bench.read("empty.csv"), bench.read("stale.csv"));
}

#[test]
fn the_same_ride_gives_the_same_bytes() {
    let bench = Bench::new();
    bench.replay(&["--estimates", "a.csv", "--plot", "a.svg", "--plot", "a.png"]).success();
    bench.replay(&["--estimates", "b.csv", "--plot", "b.svg", "--plot", "b.png"]).success();
    for ending in ["csv", "svg", "png"] {
        assert_eq!(bench.read(&format!("a.{ending}")), bench.read(&format!("b.{ending}")));
    }
    assert_eq!(&bench.read("a.png")[..4], b"\x89PNG");
}

#[test]
fn a_series_of_rides_is_one_life() {
    let bench = Bench::new();
    let first = json(&bench, &["--memory", "m.bin"]);
    let second = json(&bench, &["--memory", "m.bin"]);
    let width = |result: &Value| {
        result["first"]["soc_high"].as_f64().unwrap() - result["first"]["soc_low"].as_f64().unwrap()
    };
    assert!(width(&second) < width(&first), "a memory makes the first estimate surer");
}

#[test]
fn json_is_one_object_with_the_documented_keys() {
    let result = json(&Bench::new(), &[]);
    for key in
        ["ride", "board", "rows", "frames_lost", "duration_s", "first", "last", "against_truth"]
    {
        assert!(result.get(key).is_some(), "{key} is missing: {result}");
    }
    assert_eq!(result["rows"], 1200);
}

#[test]
fn a_thumb_that_was_never_neutral_is_told_to_be_held_back() {
    let assert = Bench::new().replay(&[]).success();
    let text = String::from_utf8_lossy(&assert.get_output().stdout).into_owned();
    assert!(text.contains("thumb held back") && text.contains("not armed"), "{text}");
}

#[test]
fn a_log_of_another_shape_is_imported_and_replays() {
    let bench = Bench::new();
    let theirs: String = std::iter::once("ms;Ubatt;Strom\n".to_owned())
        .chain((0..100).map(|step| format!("{};{};{}\n", step * 100, 38_500 - step, -4)))
        .collect();
    bench.put("theirs.csv", theirs);
    bench.put(
        "mapping.toml",
        "delimiter = \";\"\n[columns.time_s]\nfrom = \"ms\"\nunit = \"ms\"\n\
         [columns.pack_voltage_V]\nfrom = \"Ubatt\"\nscale = 0.001\n\
         [columns.pack_current_A]\nfrom = \"Strom\"\nsign = -1\n",
    );
    bench
        .run(&["import", "theirs.csv", "--mapping", "mapping.toml", "--out", "ride.csv"])
        .success();
    let text = String::from_utf8(bench.read("ride.csv")).unwrap();
    assert_eq!(text.lines().nth(1), Some("0.000,38.5000,4.0000"));
    bench.replay(&[]).success();
}

#[test]
fn the_example_of_every_help_runs() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    for command in ["replay", "import"] {
        let assert = Bench::new().run(&[command, "--help"]).success();
        let text = String::from_utf8_lossy(&assert.get_output().stdout).into_owned();
        let (_, example) = text.split_once("Example:").expect("an example");
        let words: Vec<&str> = example.split_whitespace().collect();
        assert_eq!(words[0], "homestretch");
        // Inputs as they are named, from the root of the repository; outputs into a folder of ours.
        let bench = Bench::new();
        let place = |word: &&str| match word.split_once('/') {
            Some(("examples", _)) => root.join(word).display().to_string(),
            _ => (*word).to_owned(),
        };
        let arguments: Vec<String> = words[1..].iter().map(place).collect();
        bench.run(&arguments.iter().map(String::as_str).collect::<Vec<_>>()).success();
    }
}

#[test]
fn an_output_that_is_an_input_or_another_output_is_refused() {
    let bench = Bench::new();
    let ride = bench.read("ride.csv");
    for outputs in [
        ["--estimates", "ride.csv", "--plot", "p.svg"],
        ["--memory", "board.toml", "--plot", "p.svg"],
        ["--estimates", "p.svg", "--plot", "p.svg"],
    ] {
        let assert = bench.replay(&outputs).code(1);
        let told = String::from_utf8_lossy(&assert.get_output().stderr).into_owned();
        assert!(told.contains("would be written over"), "{told}");
    }
    assert_eq!(bench.read("ride.csv"), ride);
}

#[test]
fn a_full_disk_behind_standard_output_is_an_error_and_no_panic() {
    let full = std::fs::OpenOptions::new().write(true).open("/dev/full");
    let Ok(full) = full else { return };
    let bench = Bench::new();
    let status = std::process::Command::new(super::exe())
        .args(["replay", "ride.csv", "--board", "board.toml", "--json"])
        .current_dir(&bench.folder)
        .stdout(full)
        .status()
        .unwrap();
    assert_eq!(status.code(), Some(1));
}

#[test]
fn a_discharge_round_the_protection_board_is_warned_of() {
    let bench = Bench::new();
    let told = |bench: &Bench| {
        let assert = bench.replay(&[]).success();
        String::from_utf8_lossy(&assert.get_output().stderr).into_owned()
    };
    assert!(told(&bench).contains("caution"), "{}", told(&bench));
    let safe =
        super::BOARD.replace("parallel = 3", "parallel = 3\ndischarge_through_protection = true");
    bench.put("board.toml", safe);
    assert_eq!(told(&bench), "");
}

#[test]
fn a_memory_of_another_pack_begins_anew_and_says_so() {
    let bench = Bench::new();
    let first = json(&bench, &["--memory", "m.bin"]);
    bench.put("board.toml", super::BOARD.replace("parallel = 3", "parallel = 4"));
    let assert = bench.replay(&["--memory", "m.bin", "--json"]).success();
    let told = String::from_utf8_lossy(&assert.get_output().stderr).into_owned();
    assert!(told.contains("described otherwise"), "{told}");
    assert!(first["first"].is_object());
}

#[test]
fn an_odometer_that_restarts_makes_no_way_backwards() {
    let bench = Bench::new();
    let rows: String = (0..100)
        .map(|step| {
            format!("{step},38.5,4,{}\n", if step < 50 { 900 + step * 5 } else { (step - 50) * 5 })
        })
        .collect();
    bench.put("ride.csv", format!("time_s,pack_voltage_V,pack_current_A,distance_m\n{rows}"));
    let km = json(&bench, &[])["distance_km"].as_f64().unwrap();
    assert!((km - 0.49).abs() < 1e-9, "{km}");
}

#[test]
fn a_log_that_counts_from_1970_is_drawn() {
    let bench = Bench::new();
    let rows: String = (0..300).map(|step| format!("{},38.5,4\n", 1_700_000_000 + step)).collect();
    bench.put("ride.csv", format!("time_s,pack_voltage_V,pack_current_A\n{rows}"));
    bench.replay(&["--plot", "p.svg"]).success();
}

#[test]
fn frames_of_another_pack_are_told_of() {
    let bench = Bench::new();
    bench.put("ride.csv", "time_s,pack_voltage_V,pack_current_A\n0,3.9,4\n1,3.9,4\n");
    let assert = bench.replay(&[]).success();
    let text = String::from_utf8_lossy(&assert.get_output().stdout).into_owned();
    assert!(text.contains("2 frames could not be true") && text.contains("no estimate"), "{text}");
}
