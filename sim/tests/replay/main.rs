//! Runs the program as its user does: what it says, what it leaves behind, how it ends.

mod bad_input;
mod long_ride;
mod results;

use std::fs;
use std::path::{Path, PathBuf};

use assert_cmd::Command;
use assert_cmd::assert::Assert;
use tempfile::TempDir;

/// A folder with a good board and a good ride in it.
struct Bench {
    folder: TempDir,
}

const BOARD: &str = r#"
[cell]
capacity_Ah = 5.153
lowest_V = 2.5
highest_V = 4.2
resting_voltage = "chen-2020-nmc811-21700"
resistance = "chen-2020-nmc811-21700"
max_discharge_A = 15
max_charge_A = 5
[pack]
series = 10
parallel = 3
soften_below_V = 32
stop_below_V = 30
[vehicle]
mass_kg = 90
wheel_diameter_m = 0.11
"#;

const HEADER: &str = "time_s,pack_voltage_V,pack_current_A,speed_m_s,thumb,true_soc";

/// Two minutes of riding, ten rows a second, with a truth that is no truth.
fn ride() -> String {
    let rows = (0..1200).map(|step| {
        let time = f64::from(step) / 10.0;
        let current = if step % 300 < 200 { 8.0 } else { 0.1 };
        let volts = 38.5 - 0.05 * current;
        format!("{time:.1},{volts:.3},{current:.1},5.0,0.3,0.6{:02}\n", step % 100)
    });
    std::iter::once(format!("{HEADER}\n")).chain(rows).collect()
}

impl Bench {
    fn new() -> Self {
        let bench = Self { folder: tempfile::tempdir().unwrap() };
        bench.put("board.toml", BOARD);
        bench.put("ride.csv", ride());
        bench
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn put(&self, name: &str, content: impl AsRef<[u8]>) {
        fs::write(self.path(name), content).unwrap();
    }

    fn files(&self) -> Vec<String> {
        let mut names: Vec<_> = fs::read_dir(self.folder.path())
            .unwrap()
            .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
            .collect();
        names.sort();
        names
    }

    fn run(&self, arguments: &[&str]) -> Assert {
        program().args(arguments).current_dir(&self.folder).assert()
    }

    fn replay(&self, more: &[&str]) -> Assert {
        let plain = ["replay", "ride.csv", "--board", "board.toml"];
        self.run(&[plain.as_slice(), more].concat())
    }

    fn read(&self, name: &str) -> Vec<u8> {
        fs::read(self.path(name)).unwrap()
    }
}

fn program() -> Command {
    Command::new(exe())
}

fn exe() -> &'static Path {
    Path::new(env!("CARGO_BIN_EXE_homestretch"))
}
