//! How it starts, ends and starts again.

use std::fs;
use std::net::TcpListener;
use std::process::{Command, Output};

use super::told::Ear;
use super::{Bench, LANTERN, program};

fn run(bench: &Bench, arguments: &[&str]) -> (Option<i32>, String) {
    let board = bench.path("lantern.toml");
    let mut command = program();
    command.arg("workbench").arg("--board").arg(board).args(arguments);
    let Output { status, stderr, .. } = command.output().unwrap();
    (status.code(), String::from_utf8(stderr).unwrap())
}

#[test]
fn edits_outlive_a_server_that_is_killed() {
    let mut bench = Bench::started();
    bench.set(1.4);
    let revision = bench.board()["revision"].as_u64();
    bench.kill();
    bench.start();
    assert_eq!(bench.drive_on(), 1.4);
    assert_eq!(bench.board()["on_board"]["values"][super::DRIVE_ON], 1.2);
    assert!(bench.board()["revision"].as_u64() > revision, "a page from before is told apart");
}

#[test]
fn a_candidate_that_cannot_be_used_lies_aside_and_is_told() {
    let mut bench = Bench::new();
    let illegal = LANTERN.replace("top_speed_m_s = 8.5", "top_speed_m_s = 850");
    fs::write(bench.path("lantern.candidate.toml"), &illegal).unwrap();
    bench.start();
    let told = bench.board()["set_aside"].as_str().unwrap().to_owned();
    assert!(told.contains("lantern.candidate.aside-1.toml") && told.contains("850"), "{told}");
    let aside = bench.path("lantern.candidate.aside-1.toml");
    assert_eq!(fs::read_to_string(aside).unwrap(), illegal);
    bench.set(1.4);
    assert!(bench.candidate().contains("drive_on_m_s3 = 1.4"));
}

#[test]
fn a_port_that_is_taken_is_named_and_without_one_another_is_found() {
    let bench = Bench::new();
    let taken = TcpListener::bind("127.0.0.1:0").unwrap();
    let port = taken.local_addr().unwrap().port().to_string();
    let (status, said) = run(&bench, &["--port", &port]);
    assert_eq!(status, Some(1));
    assert!(said.contains(&format!("port {port}")) && said.lines().count() <= 2, "{said}");
    let (one, other) = (Bench::started(), Bench::started());
    assert_ne!(one.port, other.port);
}

#[test]
fn bad_usage_is_2_and_a_board_that_is_none_is_1() {
    let bench = Bench::new();
    assert_eq!(run(&bench, &["--port", "0"]).0, Some(2));
    assert_eq!(run(&bench, &["--port", "many"]).0, Some(2));
    assert_eq!(run(&bench, &["--colour"]).0, Some(2));
    fs::write(bench.path("lantern.toml"), "[cell]\ncapacity_Ah = -1\n").unwrap();
    let (status, said) = run(&bench, &[]);
    assert_eq!(status, Some(1));
    assert!(said.contains("lantern.toml:2"), "{said}");
    fs::remove_file(bench.path("lantern.toml")).unwrap();
    let (status, said) = run(&bench, &[]);
    assert_eq!(status, Some(1));
    assert!(said.contains("lantern.toml"), "{said}");
}

#[cfg(unix)]
#[test]
fn ctrl_c_tells_the_pages_and_ends_well() {
    let mut bench = Bench::started();
    bench.set(1.4);
    let mut ear = Ear::of(&bench);
    let mut child = bench.child.take().unwrap();
    let id = child.id().to_string();
    assert!(Command::new("kill").args(["-INT", &id]).status().unwrap().success());
    ear.hears("stopping");
    assert_eq!(child.wait().unwrap().code(), Some(0));
    assert!(bench.candidate().contains("drive_on_m_s3 = 1.4"));
}
