//! The library on rides whose truth is known.
//!
//! Source: the reference traces and the measured cells of `data/`; for the worn pack a plain model of the test's own.
#![allow(non_snake_case, reason = "quantities carry their unit's own symbol")]

use std::fs::File;
use std::path::{Path, PathBuf};

use homestretch::board::{Board, Cell, Description, Pack, Sensors, Vehicle};
use homestretch::cell::published::CHEN_2020;
use homestretch::charge::{Charge, Estimate, Memory};
use homestretch::telemetry::Telemetry;
use homestretch::time::Instant;
use homestretch::units::{Amperes, Celsius, Kilograms, Metres, Ratio, Volts};
use homestretch_checks::accuracy::{self, Scoreboard, Trial};
use homestretch_checks::floor;
use homestretch_checks::reference::Reference;
use homestretch_sim::board_file::BoardFile;
use homestretch_sim::replay::Replay;
use homestretch_sim::ride::{ImportedRows, Mapping, Measured, RideRow};
use indicatif::ProgressBar;

fn boards() -> Vec<Scoreboard> {
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("data");
    let references = Reference::all(&data).unwrap();
    // A trace with three sets of sensors is a throw of dice; with twenty it is a measurement.
    let trial = Trial { seeds: (1..=20).collect(), exact: false };
    accuracy::run(&references, &trial, &ProgressBar::hidden()).unwrap()
}

#[test]
fn source_charge_is_within_the_floor_on_the_bundled_traces() {
    let broken = floor::broken(&boards());
    assert!(broken.is_empty(), "{broken:?}");
}

#[test]
fn source_the_interval_holds_the_truth_as_often_as_promised() {
    for board in boards() {
        for line in board.by_group.iter().filter(|line| line.name.starts_with("nickel and cobalt"))
        {
            let covered = line.scores.ours.unwrap().interval.unwrap().covered;
            assert!(covered > 0.85, "{}: {covered}", line.name);
        }
    }
}

/// A pack of new published cells, 10 in series and 3 in parallel.
fn new_pack() -> Board {
    Board::new(Description {
        cell: Cell {
            capacity: CHEN_2020.capacity(),
            lowest: Volts::from_milli(2500),
            highest: Volts::from_milli(4200),
            resting: CHEN_2020.resting_curve().unwrap(),
            resistance: CHEN_2020.resistance_map().unwrap(),
            max_discharge: Amperes::from_whole(15),
            max_charge: Amperes::from_whole(5),
            curve_doubt: Cell::CURVE_DOUBT,
        },
        pack: Pack {
            series: 10,
            parallel: 3,
            soften_below: Volts::from_whole(32),
            stop_below: Volts::from_whole(30),
            discharge_through_protection: true,
            spread: Pack::SPREAD,
        },
        vehicle: Vehicle {
            mass: Kilograms::from_whole(90),
            wheel_diameter: Metres::from_milli(110),
            rolling_resistance: Vehicle::ROLLING_RESISTANCE,
            drag_area_m2: Vehicle::DRAG_AREA_M2,
            drivetrain_efficiency: Vehicle::DRIVETRAIN_EFFICIENCY,
            consumption_per_metre: None,
        },
        sensors: Sensors::TYPICAL,
        assumed_temperature: Celsius::from_whole(20),
    })
    .unwrap()
}

/// One ride on a pack that holds `capacity_Ah`, from 0.9 to about 0.35, and the rest after it.
fn ride(board: &Board, memory: Option<Memory>, capacity_Ah: f64) -> Memory {
    let mut charge = Charge::new(board, memory);
    let mut soc = 0.9;
    let mut now = 0;
    let mut hear = |charge: &mut Charge, soc: f64, amperes: f64, millis: u64| {
        now += millis;
        let curve = board.cell().resting.at(Celsius::from_whole(20));
        let resting = curve.voltage(Ratio::from_f64(soc).unwrap()).to_f64();
        let volts = 10.0 * (resting - amperes / 3.0 * 0.025);
        let frame = Telemetry {
            pack_voltage: Volts::from_f64((volts * 10.0).round() / 10.0).unwrap(),
            pack_current: Amperes::from_f64(amperes).unwrap(),
            ..Telemetry::default()
        };
        charge.hear(Instant::from_millis(now), &frame, board);
        // What a handheld does in the ticks between two frames.
        while charge.ponders() {
            charge.ponder(board);
        }
    };
    while soc > 0.35 {
        soc -= 9.0 * 0.2 / 3600.0 / capacity_Ah;
        hear(&mut charge, soc, 9.0, 200);
    }
    for _ in 0..1800 {
        hear(&mut charge, soc, 0.0, 1000);
    }
    charge.memory(board).unwrap()
}

#[test]
fn the_fade_of_a_worn_pack_is_learned_ride_by_ride_and_not_overshot() {
    let board = new_pack();
    let worn_Ah = 0.8 * 15.459;
    let mut memory = None;
    let shares: Vec<f64> = (0..30)
        .map(|_| {
            memory = Some(ride(&board, memory, worn_Ah));
            Charge::new(&board, memory).capacity_share().to_f64()
        })
        .collect();
    assert!(shares[6] < 0.91 && shares[29] < 0.86, "{shares:?}");
    assert!(shares.iter().all(|&share| share > 0.77), "{shares:?}");
}

/// A record of `data/measured`, row by row, as a pack of one cell.
fn record(name: &str) -> Vec<RideRow> {
    let folder = measured();
    let mapping = Mapping::open(folder.join("mapping.toml")).unwrap();
    let file = File::open(folder.join(name)).unwrap();
    ImportedRows::new(file, name, &mapping).unwrap().collect::<Result<_, _>>().unwrap()
}

fn measured() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("data/measured")
}

#[test]
fn source_a_measured_cell_is_read_at_each_of_its_sixteen_rests() {
    let file = BoardFile::open(measured().join("nmc532_pouch.toml")).unwrap();
    let curve = file.board.cell().resting.at(Celsius::from_whole(30));
    let mut replay = Replay::new(&file.board, &file.throttle, None);
    let (mut rests, mut began_s) = (0, None);
    let rows = record("nmc532_pouch_slow_and_pulses.csv");
    for pair in rows.windows(2) {
        let (row, next) = (&pair[0].measured, &pair[1].measured);
        let output = replay.live(row);
        let still = |row: &Measured| row.pack_current_A.unwrap().abs() < 1e-4;
        if !still(row) {
            began_s = None;
            continue;
        }
        let began_s = *began_s.get_or_insert(row.time_s);
        if still(next) || row.time_s - began_s < 2000.0 {
            continue;
        }
        rests += 1;
        let table = curve.soc(Volts::from_f64(row.pack_voltage_V.unwrap()).unwrap()).to_f64();
        let Estimate { soc, low, high } = output.status.charge;
        assert!((soc.to_f64() - table).abs() < 0.015, "{} s: {soc} {table}", row.time_s);
        assert!(low.to_f64() <= table && table <= high.to_f64(), "{} s", row.time_s);
    }
    assert_eq!(rests, 16);
}

#[test]
fn source_a_measured_iron_phosphate_cell_is_lived_through() {
    let file = BoardFile::open(measured().join("lfp_1Ah.toml")).unwrap();
    let mut replay = Replay::new(&file.board, &file.throttle, None);
    let mut lowest = Ratio::ONE;
    for row in record("lfp_1Ah_4C_discharge_and_rest.csv") {
        let Estimate { soc, low, high } = replay.live(&row.measured).status.charge;
        assert!(low <= soc && soc <= high);
        lowest = lowest.min(soc);
    }
    // Both discharges go to 2.0 V and are held there.
    assert!(lowest < Ratio::from_percent(5), "{lowest}");
}
