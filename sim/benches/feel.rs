//! How long it takes to feel a tuning: `cargo bench -p homestretch-sim --bench feel`.
//!
//! The whole is what a page waits for after each change; the parts are what it is made of.

#![allow(non_snake_case, reason = "quantities carry their unit's own symbol")]

use divan::Bencher;
use homestretch_sim::board_file::BoardFile;
use homestretch_sim::feel::{
    Machine, Stand, Stands, acting, brake, feel, short_ride, speeds_shown, step, stops, thumb_map,
    verdict,
};
use homestretch_sim::route::Surface;
use homestretch_sim::tuning::Draft;

fn main() {
    divan::main();
}

const LANTERN: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../examples/boards/lantern.toml");

fn board() -> BoardFile {
    BoardFile::open(LANTERN).expect("the bundled board is one")
}

fn machine() -> Machine {
    Machine::new(&board()).expect("the bundled board is a machine")
}

fn usual() -> Stand {
    Stand {
        mass_kg: 88.0,
        charge: 0.5,
        cell_degC: 22.0,
        air_degC: 22.0,
        surface: Surface::Asphalt,
        grade: 0.0,
    }
}

#[divan::bench]
fn whole(bencher: Bencher<'_, '_>) {
    let (machine, board) = (machine(), board());
    bencher.bench_local(|| feel(&machine, &board, &usual(), Some("streets")));
}

#[divan::bench]
fn part_machine(bencher: Bencher<'_, '_>) {
    let board = board();
    bencher.bench_local(|| Machine::new(&board));
}

#[divan::bench]
fn part_stand(bencher: Bencher<'_, '_>) {
    let (machine, board) = (machine(), board());
    bencher.bench_local(|| machine.on(&usual(), &board.throttle));
}

#[divan::bench]
fn part_thumb(bencher: Bencher<'_, '_>) {
    let (machine, board) = (machine(), board());
    let settings = &board.throttle;
    let standing = machine.on(&usual(), settings).expect("a usual stand");
    bencher.bench_local(|| thumb_map(&standing, settings, &speeds_shown(settings)));
}

#[divan::bench]
fn part_responses(bencher: Bencher<'_, '_>) {
    let (machine, board) = (machine(), board());
    let settings = &board.throttle;
    let standing = machine.on(&usual(), settings).expect("a usual stand");
    bencher.bench_local(|| {
        let step = step(&standing, settings, &board.riders);
        (step, brake(&standing, settings, &board.riders))
    });
}

#[divan::bench]
fn part_stops(bencher: Bencher<'_, '_>) {
    let (machine, board) = (machine(), board());
    let settings = &board.throttle;
    let standing = machine.on(&usual(), settings).expect("a usual stand");
    let grades = Stands::of(&board).grades;
    bencher.bench_local(|| stops(&standing, settings, &grades));
}

#[divan::bench]
fn part_reasons(bencher: Bencher<'_, '_>) {
    let (machine, board) = (machine(), board());
    let settings = &board.throttle;
    let standing = machine.on(&usual(), settings).expect("a usual stand");
    bencher.bench_local(|| acting(&standing, settings));
}

#[divan::bench]
fn part_ride(bencher: Bencher<'_, '_>) {
    let (machine, board) = (machine(), board());
    bencher.bench_local(|| short_ride(&machine, &board, (&usual(), "streets")));
}

#[divan::bench]
fn part_verdict(bencher: Bencher<'_, '_>) {
    let (machine, board) = (machine(), board());
    bencher.bench_local(|| verdict(&machine, &board));
}

#[divan::bench]
fn a_change_of_a_draft(bencher: Bencher<'_, '_>) {
    let text = std::fs::read_to_string(LANTERN).expect("the bundled board is there");
    let draft = Draft::new(LANTERN, text).expect("the bundled board is legal");
    bencher.bench_local(|| draft.with_number("throttle.drive_on_m_s3", 1.4));
}
