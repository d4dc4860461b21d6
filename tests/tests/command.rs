//! The program as a person or a script meets it: exit codes, and what it prints where.
//!
//! Source: common practice of commands, no source (0 on success, 2 on bad usage, 1 on an error
//! that is explained in a line or two on standard error; with `--json` one object and no more).

use std::path::Path;
use std::process::{Command, Output};

use tempfile::TempDir;

fn run(arguments: &[&str]) -> Output {
    let program = env!("CARGO_BIN_EXE_homestretch-checks");
    Command::new(program).args(arguments).output().unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}

/// Two traces of a few minutes, with their cells.
fn folder() -> TempDir {
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("data");
    let folder = tempfile::tempdir().unwrap();
    for (ride, cell) in [("udds-town", "nmc811_21700_oregan"), ("last-drop-lfp", "lfp_26650_prada")]
    {
        for name in [
            format!("{ride}.json"),
            format!("cell_{cell}.json"),
            format!("ocv_{cell}.csv"),
            format!("resistance_{cell}.csv"),
        ] {
            std::fs::copy(data.join(&name), folder.path().join(&name)).unwrap();
        }
        let name = format!("{ride}.csv");
        let log = std::fs::read_to_string(data.join(&name)).unwrap();
        let rows: Vec<&str> = log.lines().take(1501).collect();
        std::fs::write(folder.path().join(&name), rows.join("\n")).unwrap();
    }
    folder
}

#[test]
fn accuracy_prints_a_line_for_each_trace_and_nothing_else_on_the_error_stream() {
    let folder = folder();
    let output = run(&["accuracy", folder.path().to_str().unwrap(), "--seeds", "2"]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let printed = text(&output.stdout);
    assert!(printed.starts_with("homestretch-checks accuracy "));
    assert!(printed.contains("seeds 1 2"));
    for name in ["udds-town", "last-drop-lfp"] {
        let lines = printed.lines().filter(|line| line.starts_with(name));
        assert_eq!(lines.count(), 2, "{name}, with and without temperature");
    }
    assert!(printed.contains("iron phosphate"));
    assert_eq!(text(&output.stderr), "");
}

#[test]
fn the_same_command_prints_the_same_bytes() {
    let folder = folder();
    let arguments = ["accuracy", folder.path().to_str().unwrap(), "--seeds", "2"];
    assert_eq!(run(&arguments).stdout, run(&arguments).stdout);
}

#[test]
fn json_is_one_object_with_the_scores_of_each_seed() {
    let folder = folder();
    let path = folder.path().to_str().unwrap();
    let output = run(&["accuracy", path, "--seeds", "3", "--json"]);
    let report: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let boards = report["scoreboards"].as_array().unwrap();
    assert_eq!(boards.len(), 2);
    let trace = &boards[0]["traces"][1];
    assert_eq!(trace["ride"], "udds-town");
    assert_eq!(trace["seeds"].as_array().unwrap().len(), 3);
    assert!(trace["pooled"]["filter"]["rms_percent"].as_f64().unwrap() > 0.0);
    assert!(trace["pooled"]["counting"]["interval"].is_null());

    let output = run(&["accuracy", path, "--exact", "--json"]);
    let report: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(report["seeds"].as_array().unwrap().len(), 0);
}

#[test]
fn wrong_usage_ends_with_2_and_help_with_0() {
    for arguments in [
        &["accurate"][..],
        &[],
        &["accuracy", "--seeds", "0"],
        &["accuracy", "--seeds", "few"],
        &["accuracy", "--seed", "1"],
        &["accuracy", "here", "there"],
    ] {
        let output = run(arguments);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        assert!(output.stdout.is_empty() && !output.stderr.is_empty());
    }
    assert_eq!(run(&["accuracy", "--help"]).status.code(), Some(0));
}

#[test]
fn a_folder_without_traces_ends_with_1_and_is_named() {
    let empty = tempfile::tempdir().unwrap();
    for command in ["accuracy", "ekf-search"] {
        let output = run(&[command, empty.path().to_str().unwrap()]);
        assert_eq!(output.status.code(), Some(1));
        let message = text(&output.stderr);
        assert!(message.starts_with("error: "), "{message}");
        assert!(message.contains("holds no reference trace"), "{message}");
        assert_eq!(message.lines().count(), 1);
        assert!(output.stdout.is_empty());
    }
}
