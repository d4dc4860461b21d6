//! How fast the world turns, and where its time goes: `cargo bench -p homestretch-sim`.
//!
//! Items are simulated seconds, so that a throughput of 50 Kitem/s is 50 000 seconds of riding in
//! a second. The parts are measured alone, each as often as the world calls it in that time; what
//! is left of the whole is the loop itself.

#![allow(non_snake_case, reason = "quantities carry their unit's own symbol")]

use std::hint::black_box;
use std::sync::Arc;

use divan::Bencher;
use divan::counter::ItemsCount;
use homestretch::handheld::Handheld;
use homestretch::time::Instant;
use homestretch_sim::board_file::BoardFile;
use homestretch_sim::campaign::town;
use homestretch_sim::plant::radio::Radio;
use homestretch_sim::plant::rider::{Rider, Sight};
use homestretch_sim::replay::telemetry;
use homestretch_sim::ride::{Measured, RideRow};
use homestretch_sim::scenario::Scenario;
use homestretch_sim::sensors::Sensors;
use homestretch_sim::world::{Pattern, World};

/// Simulated seconds in a sample.
const SECONDS: u32 = 300;
const TICKS: u32 = SECONDS * 50;
const STEPS: u32 = SECONDS * 100;

fn main() {
    divan::main();
}

fn board() -> BoardFile {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../examples/boards");
    BoardFile::open(format!("{folder}/lantern.toml")).expect("the bundled board is one")
}

fn world(board: &BoardFile) -> World<'_> {
    let town = town(7, 7.0).expect("an invented town is a route");
    let pattern = Pattern::Route(Arc::new(town));
    let setup = Scenario::default().setup(board, pattern, 1).expect("a usual day is one");
    let mut world = World::new(board, &setup, None, 7).expect("the setup has been checked");
    world.ride_on();
    // Into the middle of a street.
    for _ in 0..3000 {
        world.tick();
    }
    world
}

#[divan::bench]
fn whole_loop(bencher: Bencher<'_, '_>) {
    let board = board();
    let world = world(&board);
    bencher.counter(ItemsCount::new(SECONDS)).with_inputs(|| world.clone()).bench_local_values(
        |mut world| {
            for _ in 0..TICKS {
                black_box(world.tick());
            }
            world
        },
    );
}

#[divan::bench]
fn part_handheld(bencher: Bencher<'_, '_>) {
    let board = board();
    let handheld = Handheld::new(&board.board, &board.throttle, None);
    let row = Measured {
        pack_voltage_V: Some(41.0),
        pack_current_A: Some(9.0),
        cell_temperature_degC: Some(20.0),
        speed_m_s: Some(5.0),
        ..Measured::at(0.0)
    };
    bencher.counter(ItemsCount::new(SECONDS)).with_inputs(|| handheld.clone()).bench_local_values(
        |mut handheld| {
            for tick in 0..TICKS {
                let metres = f64::from(tick) * 0.1;
                let frame = (tick % 7 == 0)
                    .then(|| telemetry(&Measured { distance_m: Some(metres), ..row.clone() }))
                    .flatten();
                let now = Instant::from_micros(u64::from(tick) * 20_000);
                black_box(handheld.tick(now, 2500, frame.as_ref()));
            }
            handheld
        },
    );
}

#[divan::bench]
fn part_pack(bencher: Bencher<'_, '_>) {
    let board = board();
    let pack = world(&board).pack().clone();
    bencher.counter(ItemsCount::new(SECONDS)).with_inputs(|| pack.clone()).bench_local_values(
        |mut pack| {
            for step in 0..STEPS {
                black_box(pack.source());
                pack.step(f64::from(step % 300) * 0.05);
            }
            pack
        },
    );
}

#[divan::bench]
fn part_vehicle(bencher: Bencher<'_, '_>) {
    let board = board();
    let world = world(&board);
    let (vehicle, source) = (world.vehicle().clone(), world.pack().source());
    let road = homestretch_sim::plant::Road::default();
    bencher.counter(ItemsCount::new(SECONDS)).with_inputs(|| vehicle.clone()).bench_local_values(
        |mut vehicle| {
            for step in 0..STEPS {
                let command = (step % 2 == 0).then_some(0.15);
                black_box(vehicle.step(command, 0.0, source, &road));
            }
            vehicle
        },
    );
}

#[divan::bench]
fn part_sensors(bencher: Bencher<'_, '_>) {
    let sensors = Sensors::new(&Scenario::default().sensors, 7).expect("the usual ones are right");
    bencher.counter(ItemsCount::new(SECONDS)).with_inputs(|| sensors.clone()).bench_local_values(
        |mut sensors| {
            for tick in 0..TICKS {
                let mut row = RideRow::at(f64::from(tick) * 0.02);
                row.measured.pack_voltage_V = Some(41.0);
                row.measured.pack_current_A = Some(9.0);
                row.measured.cell_temperature_degC = Some(20.0);
                row.measured.speed_m_s = Some(5.0);
                row.measured.distance_m = Some(500.0);
                black_box(sensors.sense(row));
            }
            sensors
        },
    );
}

#[divan::bench]
fn part_rider_and_radio(bencher: Bencher<'_, '_>) {
    let day = Scenario::default();
    let rider = Rider::new(day.rider, 7).expect("the usual rider is one");
    let radio = Radio::new(&day.radio, 7).expect("the usual radio is one");
    let inputs = || (rider.clone(), radio.clone());
    bencher.counter(ItemsCount::new(SECONDS)).with_inputs(inputs).bench_local_values(
        |(mut rider, mut radio)| {
            let sight = Sight { speed_m_s: 5.0, wish_m_s: 5.5, stand_in_m: None };
            for _ in 0..TICKS {
                black_box(radio.slot());
                black_box(rider.act(sight));
            }
            (rider, radio)
        },
    );
}

#[divan::bench]
fn part_route(bencher: Bencher<'_, '_>) {
    let town = town(7, 7.0).expect("an invented town is a route");
    bencher.counter(ItemsCount::new(SECONDS)).bench_local(|| {
        for tick in 0..TICKS {
            // Where the board is, and five places ahead of it.
            for ahead in 0..6_u32 {
                black_box(town.at(f64::from(tick) * 0.1 + f64::from(ahead) * 6.0));
            }
        }
    });
}
