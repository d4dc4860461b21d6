//! What pages are told by themselves, and what becomes of files.

use std::fs;
use std::io::{BufRead as _, BufReader, Write as _};
use std::net::TcpStream;

use serde_json::{Value, json};

use super::{Bench, LANTERN};

/// What a page hears.
pub(super) struct Ear(BufReader<TcpStream>);

impl Ear {
    pub(super) fn of(bench: &Bench) -> Self {
        let mut stream = bench.connect();
        let [_, (name, host)] = bench.own();
        write!(stream, "GET /api/events HTTP/1.1\r\n{name}: {host}\r\n\r\n").unwrap();
        let mut ear = Self(BufReader::new(stream));
        while ear.line() != "\r\n" {}
        ear
    }

    fn line(&mut self) -> String {
        let mut line = String::new();
        self.0.read_line(&mut line).unwrap();
        assert!(!line.is_empty(), "the server has gone");
        line
    }

    /// The next word with that name.
    pub(super) fn hears(&mut self, name: &str) -> Value {
        while self.line().trim() != format!("event: {name}") {}
        let line = self.line();
        serde_json::from_str(line.trim().strip_prefix("data: ").unwrap()).unwrap()
    }
}

#[test]
fn every_page_is_told_who_changed_the_candidate() {
    let bench = Bench::started();
    let (mut one, mut other) = (Ear::of(&bench), Ear::of(&bench));
    let answer = bench.set(1.4);
    for ear in [&mut one, &mut other] {
        let told = ear.hears("candidate");
        assert_eq!(told, json!({ "revision": answer["revision"], "page": "a test" }));
    }
}

#[test]
fn a_board_file_that_changes_on_disk_is_told_and_read_again_when_asked() {
    let bench = Bench::started();
    bench.set(1.4);
    let mut ear = Ear::of(&bench);
    let path = bench.path("lantern.toml");
    fs::write(&path, LANTERN.replace("top_speed_m_s = 8.5", "top_speed_m_s = 850")).unwrap();
    let told = ear.hears("board_file")["what"].as_str().unwrap().to_owned();
    assert!(told.starts_with("cannot be read") && told.contains("850"), "{told}");
    let refused = bench.post("/api/reread", &json!({ "page": "a test" }));
    assert_eq!(refused.status, 422);
    assert!(refused.json()["why"].as_str().unwrap().contains("850"));
    fs::remove_file(&path).unwrap();
    assert_eq!(ear.hears("board_file")["what"], "gone");
    fs::write(&path, LANTERN.replace("top_speed_m_s = 8.5", "top_speed_m_s = 7.5")).unwrap();
    assert_eq!(ear.hears("board_file")["what"], "changed on disk");
    // A page that comes later is told at once.
    assert_eq!(Ear::of(&bench).hears("board_file")["what"], "changed on disk");
    let board = bench.post("/api/reread", &json!({ "page": "a test" })).json();
    assert_eq!(board["on_board"]["values"]["throttle.top_speed_m_s"], 7.5);
    assert_eq!(board["candidate"]["values"]["throttle.top_speed_m_s"], 8.5);
    assert_eq!(bench.drive_on(), 1.4);
}

#[test]
fn a_candidate_that_cannot_be_written_is_told_and_not_lost() {
    let bench = Bench::started();
    let mut ear = Ear::of(&bench);
    let path = bench.path("lantern.candidate.toml");
    fs::create_dir(&path).unwrap();
    let answer = bench.set(1.4);
    assert_eq!(answer["accepted"], true);
    let why = answer["not_kept"].as_str().unwrap();
    assert!(why.contains("lantern.candidate.toml"), "{why}");
    assert_eq!(ear.hears("kept")["not_kept"], answer["not_kept"]);
    assert_eq!(bench.board()["not_kept"], answer["not_kept"]);
    fs::remove_dir(&path).unwrap();
    assert!(bench.set(1.5)["not_kept"].is_null());
    assert!(ear.hears("kept")["not_kept"].is_null());
    assert!(bench.candidate().contains("drive_on_m_s3 = 1.5"));
}
