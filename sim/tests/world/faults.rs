//! What breaks on a ride, and what hand and board do then: a row of docs/throttle.md, "Broken things",
//! for each.

use homestretch_sim::board_file::BoardFile;
use homestretch_sim::faults::{Kind, Script};
use homestretch_sim::route::{Outline, Route, Segment, Slope, Surface, Way, Wind};
use homestretch_sim::scenario::Scenario;
use homestretch_sim::world::{Moment, Pattern, Violation, World};
use std::sync::Arc;

use super::examples;

/// When the fault begins: the board goes at its wished speed by then.
const FROM_S: f64 = 25.0;

fn board() -> BoardFile {
    BoardFile::open(examples().join("boards/lantern.toml")).unwrap()
}

/// A long level road.
fn road() -> Pattern {
    let level = Segment {
        length_m: 20_000.0,
        slope: Slope::GradePercent(0.0),
        surface: Surface::Asphalt,
        speed_wish_m_s: 5.0,
        wind: Wind::Headwind(0.0),
        heading_deg: None,
    };
    let outline = Outline {
        name: "level".to_owned(),
        start_elevation_m: 0.0,
        way: Way::Again,
        segments: vec![level],
        stops: Vec::new(),
    };
    Pattern::Route(Arc::new(Route::new(&outline).unwrap()))
}

/// What was seen in a tick: the moment, the speed, and the command that the controller acts on.
struct Seen {
    moment: Moment,
    speed_m_s: f64,
    applied: f64,
}

/// A ride of so many seconds with this fault, and the world after it.
fn ride<'b>(board: &'b BoardFile, fault: &str, seconds: u32) -> (Vec<Seen>, World<'b>) {
    let mut day = Scenario::default();
    day.pack.charge = 0.6;
    let mut setup = day.setup(board, road(), 1).unwrap();
    setup.faults = Script::parse(&format!("[[fault]]\nfrom_s = {FROM_S}\n{fault}\n")).unwrap();
    let mut world = World::new(board, &setup, None, 3).unwrap();
    let seen = (0..seconds * 50)
        .map(|_| {
            let moment = world.tick();
            let vehicle = world.vehicle();
            Seen { moment, speed_m_s: vehicle.speed_m_s(), applied: vehicle.applied_share() }
        })
        .collect();
    (seen, world)
}

/// Nothing that the laws forbid, whatever else happened.
fn lawful(world: &World<'_>, but: &[Violation]) {
    for (kind, count) in world.violations().iter().filter(|(kind, _)| !but.contains(kind)) {
        assert_eq!(count, 0, "{}", kind.name());
    }
}

/// The ticks so many seconds after the fault began.
fn after(seen: &[Seen], from_s: f64, until_s: f64) -> impl Iterator<Item = &Seen> {
    let since = move |at: &Seen| at.moment.time_s - FROM_S;
    seen.iter().filter(move |at| (from_s..until_s).contains(&since(at)))
}

fn fastest(seen: &[Seen], from_s: f64, until_s: f64) -> f64 {
    after(seen, from_s, until_s).fold(0.0, |most, at| most.max(at.speed_m_s))
}

#[test]
fn a_broken_wire_ends_drive_and_it_is_back_after_neutral() {
    let board = board();
    for kind in ["thumb-wire-open", "thumb-wire-shorted"] {
        let (seen, world) = ride(&board, &format!("kind = \"{kind}\"\nfor_s = 2"), 60);
        lawful(&world, &[]);
        assert!(after(&seen, 0.4, 2.0).all(|at| at.applied <= 0.0), "{kind}");
        assert!(fastest(&seen, 20.0, 35.0) > 4.0, "{kind}: it rides again");
    }
}

#[test]
fn a_spark_of_a_broken_wire_costs_nothing() {
    let board = board();
    let (seen, world) = ride(&board, "kind = \"thumb-wire-open\"\nfor_s = 0.04", 40);
    lawful(&world, &[]);
    assert!(after(&seen, 0.2, 15.0).all(|at| at.moment.output.demand.armed.is_armed()));
}

#[test]
fn a_stuck_thumb_rides_on_and_that_is_counted() {
    let board = board();
    let (seen, world) = ride(&board, "kind = \"thumb-stuck\"\nfor_s = 8", 60);
    lawful(&world, &[Violation::DriveAgainstRider]);
    // The board keeps to the rider's last thumb: no faster than the road allows it.
    assert!(fastest(&seen, 0.0, 8.0) < 8.5);
}

#[test]
fn a_noisy_converter_is_ridden_with() {
    let board = board();
    let (seen, world) = ride(&board, "kind = \"thumb-noise\"\ncounts = 15\nfor_s = 20", 60);
    lawful(&world, &[]);
    assert!(fastest(&seen, 5.0, 20.0) > 4.0);
}

#[test]
fn impossible_telemetry_is_counted_and_not_believed() {
    let board = board();
    let (seen, world) = ride(&board, "kind = \"telemetry-impossible\"\nfor_s = 10", 60);
    lawful(&world, &[]);
    let last = seen.last().unwrap();
    assert!(last.moment.output.status.implausible_frames > 10);
    let (soc, true_soc) = (last.moment.output.status.charge, world.true_soc());
    assert!((soc.low.to_f64()..=soc.high.to_f64()).contains(&true_soc));
}

#[test]
fn without_telemetry_drive_fades_and_without_a_radio_it_ends_at_once() {
    let board = board();
    let (seen, world) = ride(&board, "kind = \"telemetry-silent\"\nfor_s = 12", 60);
    lawful(&world, &[]);
    assert!(after(&seen, 0.5, 0.9).any(|at| at.applied > 0.02));
    assert!(after(&seen, 10.5, 11.9).all(|at| at.applied <= 0.0));
    let (seen, world) = ride(&board, "kind = \"radio-silent\"\nfor_s = 5", 60);
    lawful(&world, &[]);
    assert!(after(&seen, 0.26, 5.0).all(|at| at.applied <= 0.0));
    assert!(after(&seen, 1.5, 5.0).all(|at| at.applied < 0.0), "its own brake");
    assert!(fastest(&seen, 20.0, 35.0) > 4.0, "it rides again");
}

#[test]
fn a_clock_that_jumps_disarms_and_the_thumb_gets_the_board_back() {
    let board = board();
    for by_s in ["5", "-5"] {
        let fault = format!("kind = \"hand-clock-jumps\"\nby_s = {by_s}");
        let (seen, world) = ride(&board, &fault, 60);
        lawful(&world, &[]);
        assert!(after(&seen, 0.0, 0.02).all(|at| !at.moment.output.demand.armed.is_armed()));
        assert!(after(&seen, 0.5, 1.0).all(|at| at.applied <= 0.0), "{by_s}");
        assert!(fastest(&seen, 20.0, 35.0) > 4.0, "{by_s}");
    }
}

#[test]
fn a_hand_that_restarts_or_hangs_at_full_speed_ends_drive_until_it_is_neutral() {
    let board = board();
    for kind in ["hand-restarts", "hand-hangs"] {
        let (seen, world) = ride(&board, &format!("kind = \"{kind}\"\nfor_s = 1.5"), 60);
        lawful(&world, &[]);
        assert!(after(&seen, 0.26, 1.5).all(|at| at.applied <= 0.0), "{kind}");
        assert!(fastest(&seen, 20.0, 35.0) > 4.0, "{kind}: it rides again");
    }
}

#[test]
fn a_board_end_that_restarts_or_hangs_ends_drive_until_the_thumb_is_neutral() {
    let board = board();
    for kind in ["board-restarts", "board-hangs"] {
        let (seen, world) = ride(&board, &format!("kind = \"{kind}\"\nfor_s = 0.8"), 60);
        lawful(&world, &[]);
        assert!(after(&seen, 0.9, 1.5).all(|at| at.applied <= 0.0), "{kind}");
        assert!(fastest(&seen, 20.0, 35.0) > 4.0, "{kind}: it rides again");
    }
}

#[test]
fn another_hand_is_not_obeyed() {
    let board = board();
    let alone = ride(&board, "kind = \"pace\"\nnumber = 0", 60).0;
    let (disturbed, world) = ride(&board, "kind = \"second-hand\"\nshare = -1", 60);
    lawful(&world, &[]);
    for (one, other) in alone.iter().zip(&disturbed) {
        assert!((one.applied - other.applied).abs() < 1e-12);
    }
}

#[test]
fn a_spent_hand_walks_home_and_a_pace_changes_gently() {
    let board = board();
    let (seen, world) = ride(&board, "kind = \"hand-battery\"\nvoltage_V = 3.2", 60);
    lawful(&world, &[]);
    assert!(fastest(&seen, 0.0, 2.0) > 4.0, "it only warns at first");
    let walk = fastest(&seen, 25.0, 35.0);
    assert!((0.5..1.9).contains(&walk), "{walk}");
    let (seen, world) = ride(&board, "kind = \"pace\"\nnumber = 1\nfor_s = 15", 60);
    lawful(&world, &[]);
    assert!(fastest(&seen, 12.0, 15.0) < 3.6);
    assert!(fastest(&seen, 28.0, 35.0) > 4.0);
}

#[test]
fn lost_frames_are_ridden_through() {
    let board = board();
    let (seen, world) = ride(&board, "kind = \"radio-loss\"\nshare = 0.3", 60);
    lawful(&world, &[]);
    assert!(fastest(&seen, 20.0, 35.0) > 4.0);
    assert_eq!(world.lockouts(), 0);
}

/// How often each end refused a frame for this reason: the hand, the board.
fn refused(world: &World<'_>, kind: &str) -> [u64; 2] {
    world.refused().map(|refused| {
        let mut named = refused.named().filter(|(name, _)| *name == kind);
        named.next().map_or(0, |(_, count)| count)
    })
}

#[test]
fn damaged_frames_are_dropped_as_lost_ones_are() {
    let board = board();
    let (seen, world) = ride(&board, "kind = \"radio-damages\"\nshare = 0.3", 60);
    lawful(&world, &[]);
    assert!(fastest(&seen, 20.0, 35.0) > 4.0);
    let [hand, board] = world.refused().map(|refused| refused.total());
    // Three in ten of 1750 commands, and of 300 frames of telemetry.
    assert!((400..650).contains(&board) && hand > 50, "{board} {hand}");
    assert!(refused(&world, "forged")[1] > 200);
}

#[test]
fn repeated_and_reordered_frames_move_nothing_twice_and_nothing_back() {
    let board = board();
    let (seen, world) = ride(&board, "kind = \"radio-repeats\"\nshare = 1", 60);
    lawful(&world, &[]);
    assert!(fastest(&seen, 20.0, 35.0) > 4.0);
    let repeated = refused(&world, "repeated")[1] + refused(&world, "too_old")[1];
    assert!(repeated > 2000, "{repeated}");
    let (seen, world) = ride(&board, "kind = \"radio-reorders\"\nshare = 0.5", 60);
    lawful(&world, &[]);
    assert!(fastest(&seen, 20.0, 35.0) > 4.0);
    assert!(refused(&world, "late")[1] > 300);
}

#[test]
fn a_jammer_is_ridden_through_or_stops_the_board() {
    let board = board();
    let jam = |on_s| format!("kind = \"jammer\"\non_s = {on_s}\noff_s = 1.0\nfor_s = 30");
    let (seen, world) = ride(&board, &jam(0.06), 60);
    lawful(&world, &[]);
    assert!(fastest(&seen, 20.0, 30.0) > 4.0 && world.lockouts() == 0);
    let (seen, world) = ride(&board, &jam(4.0), 60);
    lawful(&world, &[]);
    assert!(fastest(&seen, 20.0, 30.0) < 4.0);
}

#[test]
fn a_stranger_with_a_recorder_or_a_guess_moves_nothing() {
    let board = board();
    let alone = ride(&board, "kind = \"pace\"\nnumber = 0", 60).0;
    for (kind, reason) in [("recorder", "repeated"), ("forger", "forged")] {
        let fault = format!("kind = \"{kind}\"\nrate_Hz = 300");
        let (disturbed, world) = ride(&board, &fault, 60);
        lawful(&world, &[]);
        assert!(refused(&world, reason)[1] > 1000, "{kind}: {:?}", world.refused());
        // A frame that was lost and is played while nothing newer has been heard is as good as late.
        let same = |(one, other): &(&Seen, &Seen)| (one.applied - other.applied).abs() < 0.02;
        let alike = alone.iter().zip(&disturbed).filter(same).count();
        assert!(alike > alone.len() * 9 / 10, "{kind}: {alike} of {}", alone.len());
    }
}

#[test]
fn a_recorder_gets_nothing_from_ends_that_start_anew() {
    let board = board();
    for kind in ["hand-restarts", "board-restarts"] {
        let fault = format!(
            "kind = \"recorder\"\nrate_Hz = 300\n[[fault]]\nfrom_s = 30\nfor_s = 1\nkind = \"{kind}\""
        );
        let (seen, world) = ride(&board, &fault, 60);
        lawful(&world, &[]);
        assert!(refused(&world, "earlier_start").iter().sum::<u64>() > 300, "{kind}");
        assert!(fastest(&seen, 20.0, 35.0) > 4.0, "{kind}: it rides again");
    }
}

#[test]
fn a_controller_that_does_not_answer_is_no_fresh_telemetry() {
    let board = board();
    let (seen, world) = ride(&board, "kind = \"controller-silent\"\nfor_s = 12", 60);
    lawful(&world, &[]);
    let age_s = |at: &Seen| {
        let age = at.moment.output.status.telemetry_age;
        age.map_or(f64::INFINITY, |age| age.to_millis() as f64 / 1000.0)
    };
    assert!(after(&seen, 5.0, 6.0).all(|at| age_s(at) > 4.0));
    assert!(
        after(&seen, 10.8, 11.9).all(|at| at.applied <= 0.0),
        "drive fades as without telemetry"
    );
    assert!(fastest(&seen, 25.0, 35.0) > 4.0, "it rides again");
}

#[test]
fn a_ride_is_the_same_sealed_and_not() {
    let board = board();
    let run = |seal| {
        let mut setup = Scenario::default().setup(&board, road(), 1).unwrap();
        setup.seal = seal;
        let mut world = World::new(&board, &setup, None, 9).unwrap();
        let rows: Vec<_> = (0..3000).map(|_| world.tick().row).collect();
        (rows, world.vehicle().distance_m().to_bits())
    };
    assert_eq!(run(true), run(false));
}

#[test]
fn every_kind_of_fault_has_a_test_here() {
    let text = include_str!("faults.rs");
    for kind in [
        Kind::ThumbWireOpen {},
        Kind::ThumbWireShorted {},
        Kind::ThumbStuck {},
        Kind::ThumbNoise { counts: 1.0 },
        Kind::TelemetryImpossible {},
        Kind::TelemetrySilent {},
        Kind::RadioSilent {},
        Kind::RadioLoss { share: 0.0 },
        Kind::RadioDamages { share: 0.0 },
        Kind::RadioRepeats { share: 0.0 },
        Kind::RadioReorders { share: 0.0 },
        Kind::Jammer { on_s: 1.0, off_s: 1.0 },
        Kind::Recorder { rate_Hz: 0.0 },
        Kind::Forger { rate_Hz: 0.0 },
        Kind::ControllerSilent {},
        Kind::SecondHand { share: 0.0 },
        Kind::HandClockJumps { by_s: 0.0 },
        Kind::HandRestarts {},
        Kind::HandHangs {},
        Kind::BoardRestarts {},
        Kind::BoardHangs {},
        Kind::HandBattery { voltage_V: 0.0 },
        Kind::Pace { number: 0 },
    ] {
        let quoted = [format!("\"{}", kind.name()), format!("\\\"{}", kind.name())];
        assert!(quoted.iter().any(|name| text.contains(name)), "{}", kind.name());
    }
}
