//! Bad input: an error of a line or two that names file, row and value; status 1; nothing left behind.

use super::{Bench, HEADER, ride};

/// Runs a ride that has to be refused, with every kind of output asked for.
fn refusal(bench: &Bench) -> String {
    let before = bench.files();
    let outputs =
        ["--estimates", "e.csv", "--plot", "p.svg", "--plot", "p.png", "--memory", "m.bin"];
    let assert = bench.replay(&outputs).code(1);
    assert_eq!(bench.files(), before, "something was left behind");
    let output = assert.get_output();
    assert!(output.stdout.is_empty(), "an error has no result");
    String::from_utf8(output.stderr.clone()).unwrap()
}

fn refused_ride(content: impl AsRef<[u8]>) -> String {
    let bench = Bench::new();
    bench.put("ride.csv", content);
    let message = refusal(&bench);
    assert!((1..=2).contains(&message.lines().count()), "{message}");
    assert!(message.contains("ride.csv"), "{message}");
    message
}

fn refused_board(from: &str, to: &str) -> String {
    let bench = Bench::new();
    bench.put("board.toml", super::BOARD.replace(from, to));
    let message = refusal(&bench);
    assert!(message.contains("board.toml"), "{message}");
    message
}

#[track_caller]
fn says(message: &str, parts: &[&str]) {
    for part in parts {
        assert!(message.contains(part), "`{part}` is not in: {message}");
    }
}

#[test]
fn an_empty_log() {
    refused_ride("");
    refused_ride(HEADER);
}

#[test]
fn a_log_without_a_header() {
    refused_ride("0.0,38.5,1.0\n0.1,38.5,1.0\n");
}

#[test]
fn a_missing_column() {
    says(&refused_ride("time_s,pack_voltage_V\n0,38\n"), &["pack_current_A"]);
    says(&refused_ride("pack_voltage_V,pack_current_A\n38,1\n"), &["time_s"]);
}

#[test]
fn text_in_a_number() {
    let message = refused_ride(format!("{HEADER}\n0.0,38.5,1,5,0,0.6\n0.1,full,1,5,0,0.6\n"));
    says(&message, &["line 3", "pack_voltage_V", "full"]);
}

#[test]
fn no_number_and_infinity() {
    for value in ["NaN", "inf", "-infinity"] {
        let message = refused_ride(format!("{HEADER}\n0.0,38.5,{value},5,0,0.6\n"));
        says(&message, &["line 2", "pack_current_A", value]);
    }
}

#[test]
fn time_running_backwards() {
    let message = refused_ride(format!("{HEADER}\n5.0,38.5,1,5,0,0.6\n4.5,38.5,1,5,0,0.6\n"));
    says(&message, &["line 3", "4.5", "5"]);
}

#[test]
fn a_short_row() {
    says(&refused_ride(format!("{HEADER}\n0.0,38.5,1,5,0,0.6\n0.1,38.5\n")), &["line 3"]);
}

#[test]
fn a_log_cut_off_within_its_last_row() {
    let whole = ride();
    refused_ride(&whole.as_bytes()[..whole.len() - 9]);
}

#[test]
fn random_bytes() {
    // A fixed sequence of bytes of every kind (a multiplicative generator, no meaning).
    let bytes: Vec<u8> =
        (1..5000_u32).map(|n| n.wrapping_mul(2_654_435_761).to_be_bytes()[0]).collect();
    refused_ride(&bytes);
    let header_then_noise = [HEADER.as_bytes(), b"\n", &bytes].concat();
    refused_ride(header_then_noise);
}

#[test]
fn a_ride_that_is_not_there() {
    let bench = Bench::new();
    let assert = bench.run(&["replay", "none.csv", "--board", "board.toml"]).code(1);
    says(&String::from_utf8_lossy(&assert.get_output().stderr), &["none.csv"]);
}

#[test]
fn boards_that_cannot_be() {
    says(&refused_board("series = 10", "series = 0"), &["pack.series is 0; 1 to 60 is allowed"]);
    says(
        &refused_board("capacity_Ah = 5.153", "capacity_Ah = -2"),
        &["cell.capacity_Ah is -2; 0.01 to 1000"],
    );
    says(&refused_board("[vehicle]", "[vehicel]"), &["`[vehicel]` is not known"]);
    says(
        &refused_board("soften_below_V = 32", "soften_below_V = 29"),
        &["pack.soften_below_V is 29", "30"],
    );
    says(
        &refused_board("resistance = \"chen-2020-nmc811-21700\"", "resistance = -1"),
        &["cell.resistance is -1"],
    );
    says(
        &refused_board("mass_kg = 90", "mass_kg = 90\n[thumb]\ncentre = 200"),
        &["thumb.centre is 200"],
    );
}

#[test]
fn a_falling_curve() {
    let bench = Bench::new();
    bench.put("ocv.csv", "soc,ocv_25degC_V\n0,2.5\n0.4,3.6\n0.5,3.5\n1,4.2\n");
    bench.put(
        "board.toml",
        super::BOARD.replace(
            "resting_voltage = \"chen-2020-nmc811-21700\"",
            "resting_voltage = \"ocv.csv\"",
        ),
    );
    says(&refusal(&bench), &["ocv.csv", "point 3", "3.5000 V is below the 3.6000 V"]);
}

#[test]
fn a_memory_that_is_cut_off_or_of_another_version_is_kept_as_it_is() {
    let bench = Bench::new();
    bench.replay(&["--memory", "m.bin"]).success();
    let good = bench.read("m.bin");
    let mut newer = good.clone();
    newer[2] += 1;
    let mut damaged = good.clone();
    damaged[20] ^= 1;
    for (bytes, what) in
        [(good[..30].to_vec(), "cut off"), (newer, "version 2"), (damaged, "checksum")]
    {
        bench.put("m.bin", &bytes);
        says(&refusal(&bench), &["m.bin", what]);
        assert_eq!(bench.read("m.bin"), bytes);
    }
}

#[test]
fn an_output_that_cannot_be_written_is_found_before_the_ride() {
    let bench = Bench::new();
    let assert = bench.replay(&["--estimates", "nowhere/e.csv"]).code(1);
    says(&String::from_utf8_lossy(&assert.get_output().stderr), &["nowhere/e.csv"]);
    let assert = bench.replay(&["--plot", "ride.bmp"]).code(1);
    says(&String::from_utf8_lossy(&assert.get_output().stderr), &["ride.bmp", ".svg"]);
}

#[test]
fn bad_usage_ends_with_status_2() {
    let bench = Bench::new();
    bench.run(&[]).code(2);
    bench.run(&["replay", "ride.csv"]).code(2);
    bench.run(&["replay", "ride.csv", "--board", "board.toml", "--unheard-of"]).code(2);
    bench.run(&["fly"]).code(2);
}

#[test]
fn a_mapping_with_an_unknown_key_is_refused() {
    let bench = Bench::new();
    bench.put("mapping.toml", "[columns.time_s]\nfrom = \"time_s\"\nfactor = 2\n");
    let assert =
        bench.run(&["import", "ride.csv", "--mapping", "mapping.toml", "--out", "o.csv"]).code(1);
    says(&String::from_utf8_lossy(&assert.get_output().stderr), &["mapping.toml", "factor"]);
    assert!(!bench.path("o.csv").exists());
}
