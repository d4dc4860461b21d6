use super::*;
use crate::board_file::BoardFile;

fn board() -> BoardFile {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("board.toml");
    std::fs::write(
        &path,
        "[cell]\ncapacity_Ah = 5.153\nlowest_V = 2.5\nhighest_V = 4.2\n\
         resting_voltage = \"chen-2020-nmc811-21700\"\nresistance = \"chen-2020-nmc811-21700\"\n\
         max_discharge_A = 15\nmax_charge_A = 5\n[pack]\nseries = 10\nparallel = 3\n\
         soften_below_V = 32\nstop_below_V = 30\n[vehicle]\nmass_kg = 90\nwheel_diameter_m = 0.11\n",
    )
    .unwrap();
    BoardFile::open(&path).unwrap()
}

fn row(time_s: f64) -> Measured {
    Measured {
        pack_voltage_V: Some(38.0),
        pack_current_A: Some(5.0),
        speed_m_s: Some(5.0),
        thumb: Some(0.5),
        ..Measured::at(time_s)
    }
}

#[test]
fn a_row_that_never_arrived_is_no_frame() {
    assert!(telemetry(&row(0.0)).is_some());
    assert!(telemetry(&row(0.0).lost()).is_none());
    assert!(telemetry(&Measured { pack_current_A: None, ..row(0.0) }).is_none());
}

#[test]
fn a_ride_that_does_not_begin_at_zero_is_the_same_ride() {
    let file = board();
    let mut one = Replay::new(&file.board, &file.throttle, None);
    let mut two = Replay::new(&file.board, &file.throttle, None);
    for step in 0..600 {
        let time = f64::from(step) * 0.25;
        assert_eq!(one.live(&row(time)), two.live(&row(time + 4096.0)));
    }
}

#[test]
fn a_thumb_that_is_held_from_the_start_drives_nothing() {
    let file = board();
    let mut ride = Replay::new(&file.board, &file.throttle, None);
    for step in 0..100 {
        let output = ride.live(&row(f64::from(step) * 0.1));
        assert_eq!(output.demand.share, Ratio::ZERO);
    }
}

#[test]
fn a_life_goes_on_in_the_next_ride() {
    let file = board();
    let mut first = Replay::new(&file.board, &file.throttle, None);
    for step in 0..5000 {
        first.live(&row(f64::from(step) * 0.2));
    }
    let life = first.life().unwrap();
    let second = Replay::new(&file.board, &file.throttle, Some(&life));
    assert_eq!(second.life().unwrap().charge, life.charge);
}
