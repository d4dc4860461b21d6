//! What goes into a microcontroller's flash, and that nothing else does.
//!
//! Source: the project's own replay and board files, which a firmware has to agree with; what an
//! emulated core makes of the same bytes is compared by `boards/bits`, which needs the emulator.

#![allow(non_snake_case, reason = "quantities carry their unit's own symbol")]

use std::path::{Path, PathBuf};
use std::process::Command;

use homestretch::handheld::Handheld;
use homestretch::units::Ratio;
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

#[test]
fn a_bundled_board_in_code_is_the_one_in_its_file() {
    for bundled in Bundled::ALL {
        let file = board_file(bundled, &examples()).expect("a bundled board");
        let board = bundled.board().expect("a board");
        assert_eq!(board.cell(), file.board.cell());
        assert_eq!(board.pack(), file.board.pack());
        assert_eq!(board.sensors(), file.board.sensors());
        assert_eq!(board.assumed_temperature(), file.board.assumed_temperature());
        // It follows from the fractions below, to some parts in ten million.
        let prior_J_m = file.board.prior_consumption().to_f64();
        let apart_J_m = (board.prior_consumption().to_f64() - prior_J_m).abs();
        assert!(apart_J_m < 1e-6 * prior_J_m, "{apart_J_m} of {prior_J_m}");
        let (here, there) = (board.vehicle(), file.board.vehicle());
        assert_eq!((here.mass, here.wheel_diameter), (there.mass, there.wheel_diameter));
        // A fraction in code is rounded down, a number in a file to the nearest.
        for (here, there) in [
            (here.rolling_resistance, there.rolling_resistance),
            (here.drag_area_m2, there.drag_area_m2),
            (here.drivetrain_efficiency, there.drivetrain_efficiency),
        ] {
            assert!((here - there).magnitude() <= Ratio::from_bits(1), "{here} {there}");
        }
        let settings = bundled.settings(&board).expect("settings");
        assert_eq!(settings, file.throttle, "{}", bundled.name());
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
    let apart = (one.charge.scale.to_f64() - other.charge.scale.to_f64()).abs();
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
