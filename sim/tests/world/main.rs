//! Runs `ride` and `campaign` as their user does.

#![allow(non_snake_case, reason = "quantities carry their unit's own symbol")]

mod bytes;
mod campaign;
mod faults;
mod home;
mod ride;

use std::fs;
use std::path::{Path, PathBuf};

use assert_cmd::Command;
use assert_cmd::assert::Assert;
use serde_json::Value;
use tempfile::TempDir;

/// A folder of its own.
struct Bench {
    folder: TempDir,
}

/// A short way, so that a ride is over soon.
const STREET: &str = "name = \"a street\"\nspeed_wish_m_s = 5\n\
    [[segment]]\nlength_m = 150\n[[segment]]\nlength_m = 150\ngrade_percent = 2\nstop_for_s = 5\n";

impl Bench {
    fn new() -> Self {
        let bench = Self { folder: tempfile::tempdir().unwrap() };
        fs::write(bench.path("street.toml"), STREET).unwrap();
        bench
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// Runs the program in the folder, on the bundled board.
    fn run(&self, arguments: &[&str]) -> Assert {
        self.command(arguments).assert()
    }

    fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(exe());
        command.args(arguments).arg("--board").arg(board()).current_dir(&self.folder);
        command
    }

    /// The one JSON object that a successful run tells.
    fn json(&self, arguments: &[&str]) -> Value {
        let out =
            self.run(&[arguments, &["--json"]].concat()).success().get_output().stdout.clone();
        serde_json::from_slice(&out).unwrap()
    }

    fn read(&self, name: &str) -> Vec<u8> {
        fs::read(self.path(name)).unwrap()
    }
}

fn exe() -> &'static Path {
    Path::new(env!("CARGO_BIN_EXE_homestretch"))
}

fn examples() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../examples")
}

fn board() -> PathBuf {
    examples().join("boards/lantern.toml")
}
