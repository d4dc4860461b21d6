use super::*;
use crate::campaign::town;
use crate::plant::radio::RadioSettings;
use crate::replay::{EstimateRow, Replay};
use crate::ride::{RideReader, RideWriter};
use crate::route::{Outline, Route, Segment, Slope, Stop, Surface, Way, Wind};
use crate::scenario::Scenario;
use proptest::prelude::*;
use std::sync::Arc;

fn board() -> BoardFile {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../examples/boards");
    BoardFile::open(format!("{folder}/lantern.toml")).unwrap()
}

fn setup(board: &BoardFile, day: &Scenario, seed: u64) -> Setup {
    day.setup(board, Pattern::Route(Arc::new(town(seed, 7.0).unwrap())), 1).unwrap()
}

/// A kilometre with one stop.
fn street(grade: f64, headwind_m_s: f64) -> Pattern {
    let segment = Segment {
        length_m: 1000.0,
        slope: Slope::GradePercent(grade * 100.0),
        surface: Surface::Asphalt,
        speed_wish_m_s: 5.0,
        wind: Wind::Headwind(headwind_m_s),
        heading_deg: None,
    };
    let outline = Outline {
        name: "street".to_owned(),
        start_elevation_m: 0.0,
        way: Way::Again,
        segments: vec![segment],
        stops: vec![Stop { at_m: 400.0, wait_s: 10.0 }],
    };
    Pattern::Route(Arc::new(Route::new(&outline).unwrap()))
}

/// Rides to the end or for so many seconds.
fn ride(world: &mut World<'_>, longest_s: f64) -> Vec<Moment> {
    let mut moments = Vec::new();
    while world.ending().is_none() && world.now_s() < longest_s {
        moments.push(world.tick());
    }
    moments
}

#[test]
fn a_ride_arrives_and_stood_at_its_stop() {
    let board = board();
    let setup = Scenario::default().setup(&board, street(0.0, 0.0), 1).unwrap();
    let mut world = World::new(&board, &setup, None, 1).unwrap();
    let (mut stood_s, mut stood_at_m) = (0.0, 0.0);
    while world.ending().is_none() && world.now_s() < 1000.0 {
        world.tick();
        let at_m = world.vehicle().distance_m();
        if world.vehicle().speed_m_s().abs() < 0.05 && (300.0..500.0).contains(&at_m) {
            stood_s += 0.02;
            stood_at_m = at_m;
        }
    }
    assert_eq!(world.ending(), Some(Ending::Arrived));
    assert!((395.0..402.0).contains(&stood_at_m), "stood at {stood_at_m} m");
    assert!((9.0..14.0).contains(&stood_s), "stood for {stood_s} s");
    let end_m = world.vehicle().distance_m();
    assert!((994.0..1003.0).contains(&end_m), "{end_m} m");
    assert_eq!(world.violations().total(), 0, "{:?}", world.violations());
}

#[test]
fn a_ride_is_the_same_for_the_same_seed_and_another_for_another() {
    let board = board();
    let run = |seed| {
        let setup = setup(&board, &Scenario::default(), 3);
        let mut world = World::new(&board, &setup, None, seed).unwrap();
        let rows: Vec<_> = ride(&mut world, 120.0).into_iter().filter_map(|at| at.row).collect();
        rows
    };
    assert_eq!(run(1), run(1));
    assert_ne!(run(1), run(2));
}

/// The estimator is given the board file and telemetry, and nothing of the plant: two plants that
/// telemetry cannot tell apart are one to it.
#[test]
fn the_handheld_knows_a_ride_by_its_log_alone() {
    let board = board();
    let day = Scenario {
        pack: crate::scenario::PackOfDay {
            capacity_share: 0.8,
            resistance_share: 2.0,
            ..Default::default()
        },
        ..Scenario::default()
    };
    let mut world = World::new(&board, &setup(&board, &day, 5), None, 5).unwrap();
    let heard: Vec<_> = ride(&mut world, 300.0)
        .into_iter()
        .filter_map(|at| at.row.map(|row| (row, at.output)))
        .collect();
    // A handheld that has never been near this plant, fed with the rows.
    let mut alone = Replay::new(&board.board, &board.throttle, None);
    for (row, output) in &heard {
        let said = alone.live(&row.measured);
        assert_eq!(said.status, output.status, "at {} s", row.measured.time_s);
    }
}

#[test]
fn riding_on_from_the_end_is_riding_on_from_each_kilometre() {
    let board = board();
    let day = Scenario {
        pack: crate::scenario::PackOfDay { charge: 0.22, ..Default::default() },
        ..Scenario::default()
    };
    let setup = day.setup(&board, street(0.0, 0.0), 3).unwrap();
    let mut world = World::new(&board, &setup, None, 2).unwrap();
    let mut forks = Vec::new();
    while world.ending().is_none() && world.now_s() < 2000.0 {
        world.tick();
        if world.vehicle().distance_m() > 1000.0 * f64::from(u8::try_from(forks.len()).unwrap() + 1)
        {
            forks.push(world.clone());
        }
    }
    assert_eq!(world.ending(), Some(Ending::Arrived));
    assert!(forks.len() >= 2);
    let empty_at_m = |mut world: World<'_>| {
        world.ride_on();
        ride(&mut world, 20_000.0);
        assert_eq!(world.ending(), Some(Ending::NoDriveLeft));
        world.vehicle().distance_m()
    };
    let from_the_end = empty_at_m(world);
    for fork in forks {
        let from_here = empty_at_m(fork);
        // The last stop is one more than a fork has: a few watt-seconds. And at the very end the rider
        // asks anew each time nothing comes, and creeps at a walk: two of those are 30 m.
        assert!((from_here - from_the_end).abs() < 40.0, "{from_here} for {from_the_end}");
    }
}

#[test]
fn a_weld_that_lets_go_is_felt_from_then_on() {
    let board = board();
    let day = |weld| Scenario { weld, ..Scenario::default() };
    let run = |weld| {
        let setup = day(weld).setup(&board, street(0.0, 0.0), 1).unwrap();
        let mut world = World::new(&board, &setup, None, 1).unwrap();
        let mut lowest = Vec::new();
        while world.now_s() < 60.0 {
            world.tick();
            lowest.push(world.pack().group_voltages_V().0);
        }
        lowest
    };
    let whole = run(None);
    let broken = run(Some(crate::scenario::WeldOfDay { at_s: 30.0, group: 4, cells: 1 }));
    let (before, after) = (29 * 50, 59 * 50);
    assert!(whole[before].total_cmp(&broken[before]).is_eq());
    assert!(broken[after] < whole[after] - 0.005, "{} for {}", broken[after], whole[after]);
    let absurd = day(Some(crate::scenario::WeldOfDay { at_s: 1.0, group: 40, cells: 1 }));
    let setup = absurd.setup(&board, street(0.0, 0.0), 1).unwrap();
    let refused = anyhow::Error::from(World::new(&board, &setup, None, 1).unwrap_err());
    assert!(format!("{refused:#}").contains("40"), "{refused:#}");
}

#[test]
fn a_radio_that_goes_silent_takes_the_drive_within_a_second() {
    let board = board();
    let silent = Scenario {
        radio: RadioSettings::HeavyTail {
            bursts_per_hour: 120.0,
            shape: 0.5,
            shortest_s: 5.0,
            longest_s: 10.0,
            loss_in_good: 0.0,
        },
        ..Scenario::default()
    };
    let mut world = World::new(&board, &setup(&board, &silent, 4), None, 4).unwrap();
    ride(&mut world, 900.0);
    assert_eq!(world.violations().count(Violation::DriveInSilence), 0);
    assert!(world.vehicle().distance_m() > 500.0);
}

#[test]
fn law_a_log_written_and_replayed_gives_the_same_estimates() {
    let board = board();
    for seed in 0..6 {
        let day = Scenario {
            radio: if seed % 2 == 0 {
                RadioSettings::default()
            } else {
                RadioSettings::heavy_tail()
            },
            cell_voltages: seed % 3 == 0,
            sensors: crate::sensors::SensorSettings {
                charge_counter: seed % 2 == 1,
                ..crate::scenario::silent_sensors()
            },
            ..Scenario::default()
        };
        let mut world = World::new(&board, &setup(&board, &day, seed), None, seed).unwrap();
        let columns = crate::ride::Column::ALL;
        let mut log = RideWriter::new(Vec::new(), "log.csv", &columns, &[]).unwrap();
        let mut said = Vec::new();
        for moment in ride(&mut world, 400.0) {
            if let Some(row) = &moment.row {
                log.write(row).unwrap();
                said.push(EstimateRow::of(moment.time_s, &moment.output, &board.board));
            }
        }
        let text = log.into_inner().unwrap();
        let mut again = Replay::new(&board.board, &board.throttle, None);
        let rows = RideReader::new(text.as_slice(), "log.csv").unwrap();
        let replayed: Vec<_> = rows
            .map(|row| {
                let row = row.unwrap();
                let output = again.live(&row.measured);
                again.estimate(&row.measured, &output)
            })
            .collect();
        assert!(said.len() > 1500);
        assert_eq!(said.len(), replayed.len());
        for (lived, again) in said.iter().zip(&replayed) {
            assert_eq!(lived, again, "seed {seed}");
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12))]

    #[test]
    fn law_energy_closes_around_the_whole_world(seed: u64) {
        let board = board();
        let day = Scenario::default();
        let mut world = World::new(&board, &setup(&board, &day, seed), None, seed).unwrap();
        ride(&mut world, 300.0);
        let (pack, vehicle) = (world.pack().energy(), world.vehicle().ledger());
        // What the pack's terminals gave is what the vehicle took,
        let scale = pack.chemical_J.abs().max(1000.0);
        prop_assert!((pack.terminal_J - vehicle.battery_J).abs() < 1e-9 * scale);
        // and what left the cells is work, heat and what is still stored.
        let heats_J = pack.ohmic_J + pack.branches_J + pack.tail_J + pack.hysteresis_J
            + pack.reversible_J + pack.wiring_J;
        let booked_J = vehicle.booked_J() + heats_J + pack.stored_J;
        prop_assert!((pack.chemical_J - booked_J).abs() < 1e-6 * scale,
            "{} J for {} J", booked_J, pack.chemical_J);
    }

    #[test]
    fn law_no_state_leaves_its_physical_range_for_any_thumb(
        seed: u64,
        charge in 0.03..1.0,
        air_degC in -15.0..40.0,
        thumbs in proptest::collection::vec((-1.0..=1.0_f64, 0.0..1.5_f64, 1_u32..150), 1..60),
    ) {
        let board = board();
        let mut day = Scenario::default();
        day.pack.charge = charge;
        day.air.temperature_degC = air_degC;
        let mut world = World::new(&board, &setup(&board, &day, seed), None, seed).unwrap();
        // A second of rest, so that the hand is armed.
        let rest = Action::default();
        for (action, ticks) in std::iter::once((rest, 60)).chain(
            thumbs.into_iter().map(|(thumb, foot_m_s2, ticks)| (Action { thumb, foot_m_s2, lets_go: false }, ticks)),
        ) {
            for _ in 0..ticks {
                let moment = world.tick_with(action);
                let share = moment.output.demand.share.to_f64();
                prop_assert!((-1.0..=1.0).contains(&share));
            }
            let (pack, vehicle) = (world.pack(), world.vehicle());
            prop_assert!((-0.05..=1.05).contains(&pack.true_soc()), "charge {}", pack.true_soc());
            let (lowest_V, highest_V) = pack.group_voltages_V();
            prop_assert!(lowest_V > 1.0 && highest_V < 4.6, "{lowest_V} to {highest_V} V");
            prop_assert!((-20.0..90.0).contains(&pack.hottest_degC()));
            prop_assert!((-20.0..180.0).contains(&vehicle.winding_degC()));
            // A board that rolls down a hill unbraked is no faster than its drag lets it.
            prop_assert!((-25.0..25.0).contains(&vehicle.speed_m_s()), "{} m/s", vehicle.speed_m_s());
            prop_assert!(world.pack_current_A.abs() < 100.0);
        }
        let (pack, vehicle) = (world.pack().energy(), world.vehicle().ledger());
        let turned_J = pack.chemical_J.abs() + vehicle.battery_J.abs() + vehicle.potential_J.abs();
        let scale = turned_J.max(1000.0);
        prop_assert!(pack.imbalance_J().abs() < 1e-6 * scale, "{} J", pack.imbalance_J());
        prop_assert!(vehicle.unexplained_J().abs() < 1e-6 * scale, "{} J", vehicle.unexplained_J());
        prop_assert!((pack.terminal_J - vehicle.battery_J).abs() < 1e-6 * scale);
    }

    #[test]
    fn law_charge_drawn_is_the_integral_of_current(seed: u64) {
        let board = board();
        let mut world = World::new(&board, &setup(&board, &Scenario::default(), seed), None, seed).unwrap();
        let mut sum_C = 0.0;
        while world.now_s() < 120.0 {
            world.tick();
            sum_C += world.pack_current_A * 0.02;
        }
        let drawn_C = world.pack().charge_drawn_C();
        prop_assert!((sum_C - drawn_C).abs() < 1e-6 * drawn_C.abs().max(1.0), "{} for {}", sum_C, drawn_C);
    }

    #[test]
    fn law_a_heavier_rider_a_headwind_or_a_climb_never_uses_less(
        seed: u64, heavier_kg in 1.0..30.0, headwind_m_s in 0.5..6.0, grade in 0.002..0.04,
    ) {
        let board = board();
        let used_J = |mass_kg: f64, headwind_m_s: f64, grade: f64| {
            let mut day = Scenario { radio: RadioSettings::Perfect {}, ..Scenario::default() };
            day.vehicle.mass_kg = Some(mass_kg);
            let setup = day.setup(&board, street(grade, headwind_m_s), 1).unwrap();
            let mut world = World::new(&board, &setup, None, seed).unwrap();
            ride(&mut world, 1500.0);
            assert_eq!(world.ending(), Some(Ending::Arrived));
            world.pack().energy().terminal_J
        };
        let plain_J = used_J(88.0, 0.0, 0.0);
        prop_assert!(used_J(88.0 + heavier_kg, 0.0, 0.0) > plain_J);
        prop_assert!(used_J(88.0, headwind_m_s, 0.0) > plain_J);
        prop_assert!(used_J(88.0, 0.0, grade) > plain_J);
    }
}
