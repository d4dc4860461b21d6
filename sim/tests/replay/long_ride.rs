//! A ride of ten million rows streams: memory does not grow with it.

#![cfg(target_os = "linux")]

use std::fmt::Write as _;
use std::fs::{self, OpenOptions};
use std::io::Write as _;
use std::process::{Child, Command, Stdio};

use super::{Bench, exe};

const ROWS: u64 = 10_000_000;
const MOST_MEGABYTES: u64 = 200;

/// The most memory that a process has had so far, as its kernel counts it.
fn peak_megabytes(child: &Child) -> u64 {
    let status = fs::read_to_string(format!("/proc/{}/status", child.id())).unwrap();
    let peak = status.lines().find(|line| line.starts_with("VmHWM:")).unwrap();
    peak.split_whitespace().nth(1).unwrap().parse::<u64>().unwrap() / 1024
}

#[test]
fn ten_million_rows_need_less_than_two_hundred_megabytes() {
    let bench = Bench::new();
    let pipe = bench.path("pipe.csv");
    assert!(Command::new("mkfifo").arg(&pipe).status().unwrap().success());
    let mut child = Command::new(exe())
        .args(["replay", "pipe.csv", "--board", "board.toml", "--plot", "p.svg", "--json"])
        .args(["--estimates", "/dev/null"])
        .current_dir(&bench.folder)
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut to = OpenOptions::new().write(true).open(&pipe).unwrap();
    to.write_all(b"time_s,pack_voltage_V,pack_current_A,speed_m_s,thumb\n").unwrap();
    let mut rows = String::new();
    for row in 0..ROWS {
        let amperes = if row % 900 < 600 { 8 } else { 0 };
        writeln!(rows, "{}.{},38.{},{amperes},5.0,0.2", row / 10, row % 10, row % 7).unwrap();
        if row % 10_000 == 9_999 {
            to.write_all(rows.as_bytes()).unwrap();
            rows.clear();
        }
    }
    // The last rows are still in the pipe: the process lives, and has seen all but them.
    let peak = peak_megabytes(&child);
    drop(to);
    assert!(child.wait().unwrap().success());
    assert!(peak < MOST_MEGABYTES, "{peak} MB");
    assert!(bench.path("p.svg").exists());
}
