//! The workbench as a page and a script meet it: over its own address, with the program as it is built.

#![cfg(feature = "workbench")]
#![allow(non_snake_case, reason = "quantities carry their unit's own symbol")]

mod asked;
mod ended;
mod refused;
mod ridden;
mod told;

use std::fs;
use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::TcpStream;
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use serde_json::{Value, json};
use tempfile::TempDir;

const LANTERN: &str = include_str!("../../../examples/boards/lantern.toml");

/// Longer than anything here takes.
const PATIENCE: Duration = Duration::from_secs(30);

const DRIVE_ON: &str = "throttle.drive_on_m_s3";

fn program() -> Command {
    Command::new(env!("CARGO_BIN_EXE_homestretch"))
}

/// A folder with a board, and perhaps a workbench for it.
struct Bench {
    folder: TempDir,
    child: Option<Child>,
    port: u16,
}

/// What was answered.
struct Answer {
    status: u16,
    headers: String,
    body: String,
    bytes: Vec<u8>,
}

impl Answer {
    fn json(&self) -> Value {
        serde_json::from_str(&self.body).unwrap_or_else(|error| panic!("{error}: {}", self.body))
    }
}

impl Bench {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("lantern.toml"), LANTERN).unwrap();
        Self { folder, child: None, port: 0 }
    }

    fn started() -> Self {
        let mut bench = Self::new();
        bench.start();
        bench
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn candidate(&self) -> String {
        fs::read_to_string(self.path("lantern.candidate.toml")).unwrap()
    }

    /// Starts the program and waits for its address.
    fn start(&mut self) {
        let mut child = program()
            .args(["workbench", "--json", "--board"])
            .arg(self.path("lantern.toml"))
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut line = String::new();
        BufReader::new(child.stdout.take().unwrap()).read_line(&mut line).unwrap();
        self.child = Some(child);
        let started: Value = serde_json::from_str(&line).unwrap();
        let url = started["url"].as_str().unwrap();
        self.port = url.trim_end_matches('/').rsplit(':').next().unwrap().parse().unwrap();
        assert_eq!(url, format!("http://127.0.0.1:{}/", self.port));
        assert!(started["candidate"].as_str().unwrap().ends_with("lantern.candidate.toml"));
    }

    /// As if its power had been cut.
    fn kill(&mut self) {
        let mut child = self.child.take().unwrap();
        child.kill().unwrap();
        child.wait().unwrap();
    }

    fn connect(&self) -> TcpStream {
        let stream = TcpStream::connect(("127.0.0.1", self.port)).unwrap();
        stream.set_read_timeout(Some(PATIENCE)).unwrap();
        stream
    }

    /// Asks with these headers, as they are.
    fn asks(&self, line: &str, headers: &[(&str, String)], body: &[u8]) -> Answer {
        let mut stream = self.connect();
        let headers: String =
            headers.iter().map(|(name, value)| format!("{name}: {value}\r\n")).collect();
        let length = body.len();
        write!(stream, "{line} HTTP/1.1\r\n{headers}Connection: close\r\n").unwrap();
        write!(stream, "Content-Length: {length}\r\n\r\n").unwrap();
        // A body that is too long is not listened to until its end.
        let _ = stream.write_all(body);
        let mut all = Vec::new();
        let _ = stream.read_to_end(&mut all);
        let end = all.windows(4).position(|four| four == b"\r\n\r\n");
        let (headers, bytes) = all.split_at(end.expect("an answer has a head"));
        let (headers, bytes) = (String::from_utf8_lossy(headers), bytes[4..].to_vec());
        let status = headers.split(' ').nth(1).unwrap().parse().unwrap();
        let body = String::from_utf8_lossy(&bytes).into_owned();
        Answer { status, headers: headers.to_lowercase(), body, bytes }
    }

    fn own(&self) -> [(&'static str, String); 2] {
        let host = format!("127.0.0.1:{}", self.port);
        [("Origin", format!("http://{host}")), ("Host", host)]
    }

    fn get(&self, path: &str) -> Answer {
        self.asks(&format!("GET {path}"), &self.own()[1..], b"")
    }

    fn post(&self, path: &str, body: &Value) -> Answer {
        self.asks(&format!("POST {path}"), &self.own(), body.to_string().as_bytes())
    }

    fn board(&self) -> Value {
        self.get("/api/board").json()
    }

    /// A change on the newest revision.
    fn change(&self, changes: &Value) -> Value {
        let revision = &self.board()["revision"];
        let asked = json!({ "revision": revision, "changes": changes, "page": "a test" });
        self.post("/api/change", &asked).json()
    }

    fn set(&self, value: f64) -> Value {
        self.change(&json!([{ "key": DRIVE_ON, "value": value }]))
    }

    fn drive_on(&self) -> Value {
        self.board()["candidate"]["values"][DRIVE_ON].clone()
    }
}

impl Drop for Bench {
    fn drop(&mut self) {
        if self.child.is_some() {
            self.kill();
        }
    }
}

fn stand() -> Value {
    json!({ "rider": "light", "charge": "full", "air": "warm", "surface": "asphalt", "grade": 0 })
}
