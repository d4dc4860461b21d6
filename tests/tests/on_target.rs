//! What goes into a microcontroller's flash, and that nothing else does.
//!
//! Source: the project's own replay and board files, which a firmware has to agree with; what an
//! emulated core makes of the same bytes is compared by `boards/bits`, which needs the emulator.

#![allow(non_snake_case, reason = "quantities carry their unit's own symbol")]

use std::path::{Path, PathBuf};
use std::process::Command;

use homestretch::board::{Cell, Vehicle};
use homestretch::cell::Pulse;
use homestretch::handheld::Handheld;
use homestretch::throttle::Parts;
use homestretch::units::{Celsius, Ratio};
use homestretch_checks::on_target::rides::{InFlash, ROOM_BYTES, board_file};
use homestretch_flashed::board::Bundled;
use homestretch_flashed::play::play;
use homestretch_flashed::ride::{self, NotARide, Ride};
use homestretch_sim::replay::Replay;
use homestretch_sim::ride::RideReader;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

fn examples() -> PathBuf {
    root().join("examples")
}

/// A number in code is rounded down to its quantity's bits, one in a file to the nearest.
fn alike(what: &str, here: f64, there: f64) {
    assert!((here - there).abs() <= 2e-5 + 1e-6 * there.abs(), "{what}: {here} {there}");
}

#[test]
fn a_bundled_board_in_code_is_the_one_in_its_file() {
    for bundled in Bundled::ALL {
        let file = board_file(bundled, &examples()).expect("a bundled board");
        let board = bundled.board().expect("a board");
        let (here, there) = (board.cell(), file.board.cell());
        alike("capacity, C", here.capacity.to_f64(), there.capacity.to_f64());
        alike("lowest", here.lowest.to_f64(), there.lowest.to_f64());
        alike("highest", here.highest.to_f64(), there.highest.to_f64());
        assert_eq!((here.max_discharge, here.max_charge), (there.max_discharge, there.max_charge));
        assert_eq!(here.curve_doubt, there.curve_doubt);
        let ohms = |cell: &Cell, soc, pulse| {
            cell.resistance.ohms(soc, Celsius::from_whole(10), pulse).to_f64()
        };
        for tenth in 0..=10 {
            let soc = Ratio::from_fraction(tenth, 10);
            let volts =
                |cell: &Cell| cell.resting.at(Celsius::from_whole(25)).voltage(soc).to_f64();
            // A step of the table, where the ends are a bit apart.
            assert!((volts(here) - volts(there)).abs() < 2e-4, "{soc}");
            for pulse in [Pulse::OneSecond, Pulse::TenSeconds] {
                alike("resistance", ohms(here, soc, pulse), ohms(there, soc, pulse));
            }
        }
        let (here, there) = (board.pack(), file.board.pack());
        assert_eq!((here.series, here.parallel), (there.series, there.parallel));
        assert_eq!(here.discharge_through_protection, there.discharge_through_protection);
        alike("soften", here.soften_below.to_f64(), there.soften_below.to_f64());
        alike("stop", here.stop_below.to_f64(), there.stop_below.to_f64());
        alike("spread", here.spread.to_f64(), there.spread.to_f64());
        assert_eq!(board.sensors(), file.board.sensors());
        assert_eq!(board.assumed_temperature(), file.board.assumed_temperature());
        let (here, there) = (board.vehicle(), file.board.vehicle());
        assert_eq!(here.mass, there.mass);
        alike("wheel", here.wheel_diameter.to_f64(), there.wheel_diameter.to_f64());
        alike("rolling", here.rolling_resistance.to_f64(), there.rolling_resistance.to_f64());
        alike("drag", here.drag_area_m2.to_f64(), there.drag_area_m2.to_f64());
        let efficiency = |vehicle: &Vehicle| vehicle.drivetrain_efficiency.to_f64();
        alike("efficiency", efficiency(here), efficiency(there));
        let settings = bundled.settings(&board).expect("settings");
        let (here, there) = (settings.parts(), file.throttle.parts());
        assert_eq!(here.calibration, there.calibration);
        assert_eq!(here.rates, there.rates);
        let full = |parts: &Parts| parts.full_current_acceleration.to_f64();
        alike("full current", full(here), full(there));
        let top = |parts: &Parts| parts.limits.top_speed.end.to_f64();
        alike("top speed", top(here), top(there));
        let stop = |parts: &Parts| parts.limits.stop_voltage.trip.to_f64();
        alike("stop voltage", stop(here), stop(there));
    }
}

#[test]
fn a_ride_in_flash_is_the_ride_step_by_step() {
    for which in InFlash::ALL {
        let steps = which.steps(&examples()).expect("a ride");
        let bytes = ride::write(which.board(), steps.iter().copied(), usize::MAX).expect("bytes");
        let read = Ride::read(&bytes).expect("a ride");
        assert!(read.steps().eq(steps.iter().copied()), "{}", which.name());
        let cut = which.bytes(&examples()).expect("bytes");
        assert!(cut.len() <= ROOM_BYTES);
        let cut = Ride::read(&cut).expect("a ride");
        assert!(cut.len() > 9000 && cut.steps().count() == cut.len() as usize);
    }
}

#[test]
fn bytes_that_are_no_ride_are_refused_and_damaged_ones_end() {
    let steps = InFlash::Town.steps(&examples()).expect("a ride");
    let bytes = ride::write(Bundled::Lantern, steps[..100].iter().copied(), 4096).expect("bytes");
    assert_eq!(Ride::read(&[]).unwrap_err(), NotARide::Short);
    assert_eq!(Ride::read(&bytes[..bytes.len() - 1]).unwrap_err(), NotARide::Short);
    assert_eq!(Ride::read(&[0xFF; 64]).unwrap_err(), NotARide::Mark);
    let with = |at: usize, byte: u8| {
        let mut changed = bytes.clone();
        changed[at] = byte;
        changed
    };
    assert_eq!(Ride::read(&with(4, 9)).unwrap_err(), NotARide::Version { given: 9 });
    assert_eq!(Ride::read(&with(5, 9)).unwrap_err(), NotARide::Board { given: 9 });
    for (at, byte) in bytes.iter().enumerate().skip(14) {
        // Whatever a changed byte makes of the steps, reading them ends.
        let changed = with(at, byte ^ 0xA5);
        assert!(Ride::read(&changed).expect("its head is whole").steps().count() <= 100);
    }
}

#[test]
fn a_firmware_in_its_own_time_comes_to_what_a_replay_comes_to() {
    let file = board_file(Bundled::Lantern, &examples()).expect("a board");
    let mut replay = Replay::new(&file.board, &file.throttle, None);
    let rows = RideReader::open(examples().join("rides/town-crossings.csv")).expect("a ride");
    for row in rows {
        replay.live(&row.expect("a row").measured);
    }
    let steps = InFlash::Town.steps(&examples()).expect("a ride");
    let bytes = ride::write(Bundled::Lantern, steps, usize::MAX).expect("bytes");
    let board = Bundled::Lantern.board().expect("a board");
    let settings = Bundled::Lantern.settings(&board).expect("settings");
    let mut hand = Handheld::new(&board, &settings, None);
    play(&Ride::read(&bytes).expect("a ride"), &mut hand, |_, _, _| {});
    let (one, other) = (replay.life().expect("a life"), hand.life().expect("a life"));
    // A replay thinks at once and a firmware a step a tick, so that some frames are counted before
    // an evidence here and after it there.
    let apart = (one.charge.soc.to_f64() - other.charge.soc.to_f64()).abs();
    assert!(apart < 2e-4, "{apart}");
    let apart = (one.charge.scale.value() - other.charge.scale.value()).to_f64().abs();
    assert!(apart < 2e-3, "{apart}");
}

/// The packages under the library and the features they are built with, for a core without a
/// standard library. What only runs while compiling (procedural macros and what they need) is left
/// out by asking for the target's packages alone.
fn tree(features: &[&str]) -> String {
    let cargo = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
    let output = Command::new(cargo)
        .args(["tree", "-p", "homestretch", "-e", "no-dev,no-build,no-proc-macro"])
        .args(["-f", "{p} [{f}]", "--prefix", "none", "--target", "thumbv6m-none-eabi"])
        .args(features)
        .current_dir(root())
        .output()
        .expect("cargo");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).expect("text")
}

/// The lines of a tree that name a feature which brings the standard library or an allocator.
fn with_std(tree: &str) -> Vec<&str> {
    let brings = |line: &&str| {
        let features = line.split_once('[').and_then(|(_, rest)| rest.split_once(']'));
        features.is_some_and(|(features, _)| {
            features.split(',').any(|feature| matches!(feature, "std" | "alloc" | "use-std"))
        })
    };
    tree.lines().filter(brings).collect()
}

#[test]
fn no_dependency_pulls_in_the_standard_library_or_an_allocator() {
    for features in
        [&[][..], &["--features", "defmt"], &["--features", "embedded-hal"], &["--all-features"]]
    {
        let tree = tree(features);
        assert!(tree.lines().count() >= 5 && tree.contains("fixed v"), "{tree}");
        assert_eq!(with_std(&tree), Vec::<&str>::new(), "{features:?}");
    }
}

#[test]
fn a_dependency_that_would_pull_them_in_is_found() {
    let told = "fixed v1.31.0 [default,std]\nheapless v0.9.4 [alloc]\ncrc v3.4.0 []\n";
    assert_eq!(with_std(told).len(), 2);
}
