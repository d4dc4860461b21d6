//! `homestretch campaign`.

use std::fs;
use std::process::{Command, Stdio};
use std::time::Duration;

use super::{Bench, board, exe};

#[test]
fn a_campaign_tells_what_its_contract_names() {
    let bench = Bench::new();
    let told = bench.json(&["campaign", "--rides", "5", "--out", "rides.csv", "--plot", "c.svg"]);
    for key in [
        "rides",
        "simulated_s",
        "wall_s",
        "realtime_factor",
        "soc_rms_percent",
        "soc_covered",
        "range_low_met",
    ] {
        assert!(told[key].is_number(), "{key}: {}", told[key]);
    }
    assert_eq!(told["rides"], 5);
    let violations = told["violations"].as_object().unwrap();
    assert!(violations.values().all(serde_json::Value::is_u64));
    assert!(violations.contains_key("drive_in_silence"));
    let rows = String::from_utf8(bench.read("rides.csv")).unwrap();
    assert_eq!(rows.lines().count(), 6);
    let fields = rows.lines().next().unwrap().split(',').count();
    assert!(rows.lines().all(|line| line.split(',').count() >= fields));
    roxmltree::Document::parse(&String::from_utf8(bench.read("c.svg")).unwrap()).unwrap();
}

#[test]
fn the_rows_do_not_depend_on_the_threads() {
    let bench = Bench::new();
    let plain = ["campaign", "--rides", "7", "--seed", "3", "--range-every", "0", "--out"];
    bench.run(&[plain.as_slice(), &["one.csv", "--threads", "1"]].concat()).success();
    bench.run(&[plain.as_slice(), &["many.csv", "--threads", "3"]].concat()).success();
    assert!(bench.read("one.csv") == bench.read("many.csv"));
}

#[test]
fn bad_usage_is_status_2() {
    let bench = Bench::new();
    for arguments in [
        ["campaign", "--rides", "0"].as_slice(),
        &["campaign"],
        &["campaign", "--rides", "3", "--threads", "0"],
        &["campaign", "--rides", "many"],
    ] {
        let code = bench.run(arguments).failure().get_output().status.code();
        assert_eq!(code, Some(2), "{arguments:?}");
    }
}

#[test]
#[cfg(unix)]
fn an_interrupted_campaign_writes_what_is_finished() {
    let bench = Bench::new();
    let child = Command::new(exe())
        .args(["campaign", "--rides", "100000", "--route", "street.toml", "--range-every", "0"])
        .args(["--out", "rides.csv", "--json", "--board"])
        .arg(board())
        .current_dir(&bench.folder)
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    std::thread::sleep(Duration::from_millis(700));
    assert!(
        Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap().success()
    );
    let out = child.wait_with_output().unwrap();
    assert_eq!(out.status.code(), Some(130), "{}", String::from_utf8_lossy(&out.stderr));
    let told: serde_json::Value = serde_json::from_slice(&out.stdout).unwrap();
    let rows = bench.read("rides.csv").iter().filter(|&&byte| byte == b'\n').count();
    assert_eq!(told["rides"].as_u64().unwrap(), u64::try_from(rows - 1).unwrap());
    assert!(rows < 100_000);
    assert_eq!(told["rides_asked"], 100_000);
}

/// The most memory that a campaign of so many short rides has had, as its kernel counts it.
#[cfg(target_os = "linux")]
fn peak_kilobytes(bench: &Bench, rides: &str) -> u64 {
    let mut child = Command::new(exe())
        .args(["campaign", "--route", "street.toml", "--range-every", "0", "--json"])
        .args(["--rides", rides, "--out", "rides.csv", "--plot", "p.svg", "--board"])
        .arg(board())
        .current_dir(&bench.folder)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut peak = 0;
    while child.try_wait().unwrap().is_none() {
        let status = fs::read_to_string(format!("/proc/{}/status", child.id())).unwrap_or_default();
        let line = status.lines().find(|line| line.starts_with("VmHWM:"));
        let kilobytes = line.and_then(|line| line.split_whitespace().nth(1)?.parse().ok());
        peak = peak.max(kilobytes.unwrap_or(0));
        std::thread::sleep(Duration::from_millis(5));
    }
    peak
}

#[test]
#[cfg(target_os = "linux")]
fn memory_does_not_grow_with_the_number_of_rides() {
    let bench = Bench::new();
    let few = peak_kilobytes(&bench, "64");
    let many = peak_kilobytes(&bench, "1024");
    // Sixteen times the rides; a fifth is what allocators differ by from run to run.
    assert!(few > 1000 && many < few + few / 5, "{few} kB, then {many} kB");
}
