//! Runs `shape` as its user does.

#![allow(non_snake_case, reason = "quantities carry their unit's own symbol")]

use std::fs;
use std::path::PathBuf;

use assert_cmd::Command;
use assert_cmd::assert::Assert;
use homestretch_sim::board_file::BoardFile;
use serde_json::Value;
use tempfile::TempDir;

const LANTERN: &str = include_str!("../../examples/boards/lantern.toml");

/// Riders who bear much, so that a search is over soon.
const STURDY: &str = "\n[riders]\nbear_drive_m_s2 = 3\nbear_brake_m_s2 = 6\nbear_drive_jerk_m_s3 = 4\n\
    bear_brake_jerk_m_s3 = 14\nbear_let_go_jerk_m_s3 = 30\n";

struct Bench {
    folder: TempDir,
}

impl Bench {
    fn new(riders: &str) -> Self {
        let bench = Self { folder: tempfile::tempdir().unwrap() };
        // Before the paces, which are lists of sections.
        let board = LANTERN.replacen("\n[[pace]]", &format!("{riders}\n[[pace]]"), 1);
        fs::write(bench.path("board.toml"), board).unwrap();
        bench
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn run(&self, arguments: &[&str]) -> Assert {
        let mut command = Command::new(env!("CARGO_BIN_EXE_homestretch"));
        command.args(["shape", "--board", "board.toml"]).args(arguments);
        command.current_dir(&self.folder).assert()
    }
}

#[test]
fn the_balanced_settings_become_a_board_file_and_the_rest_is_one_object() {
    let bench = Bench::new(STURDY);
    let ran = bench.run(&["--within", "0.1", "--out", "shaped.toml", "--json"]).success();
    let told: Value = serde_json::from_slice(&ran.get_output().stdout).unwrap();
    let trade_offs = told["trade_offs"].as_array().unwrap();
    assert!((1..=7).contains(&trade_offs.len()));
    assert_eq!(trade_offs[0]["name"], "balanced");
    assert!(trade_offs.iter().all(|one| one["laws"].as_array().unwrap().len() == 11));
    let shaped = BoardFile::open(bench.path("shaped.toml")).unwrap();
    let full = trade_offs[0]["settings"]["full_drive_m_s2"].as_f64().unwrap();
    let written = shaped.throttle.parts().curves.drive.greatest().to_f64();
    assert!((written - full).abs() < 1e-3);
    assert_eq!(shaped.paces, BoardFile::open(bench.path("board.toml")).unwrap().paces);
}

#[test]
fn what_cannot_be_found_is_told_with_status_1_and_nothing_is_written() {
    let bench = Bench::new("\n[riders]\nbear_drive_jerk_m_s3 = 0.1\n");
    let ran = bench.run(&["--within", "0.1", "--out", "shaped.toml", "--json"]).code(1);
    let told = String::from_utf8(ran.get_output().stderr.clone()).unwrap();
    assert!(told.contains("no settings keep all laws; the nearest breaks: "), "{told}");
    assert!(told.contains("rider, "), "{told}");
    assert!(ran.get_output().stdout.is_empty());
    assert!(!bench.path("shaped.toml").exists());
}

#[test]
fn wrong_use_is_told_as_such() {
    let bench = Bench::new(STURDY);
    bench.run(&["--within", "0"]).code(2);
    bench.run(&["--seed", "x"]).code(2);
    let ran = bench.run(&["--out", "board.toml"]).code(1);
    let told = String::from_utf8(ran.get_output().stderr.clone()).unwrap();
    assert!(told.contains("would be written over"), "{told}");
    let ran = bench.run(&["--to-speed-m-s", "30"]).code(1);
    let told = String::from_utf8(ran.get_output().stderr.clone()).unwrap();
    assert!(told.contains("1 to 7.65 is allowed"), "{told}");
}
