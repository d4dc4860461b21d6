use std::fs;

use super::*;

const GOOD: &str = r#"name = "test board"
assumed_temperature_degC = 20

[cell]
capacity_Ah = 4.2
lowest_V = 2.8
highest_V = 4.2
resting_voltage = "ocv.csv"
resistance = "resistance.csv"
max_discharge_A = 20
max_charge_A = 4

[pack]
series = 9
parallel = 4
soften_below_V = 29.0
stop_below_V = 27.0
discharge_through_protection = false

[vehicle]
mass_kg = 90
wheel_diameter_m = 0.11
rolling_resistance = 0.017
drag_area_m2 = 0.55
drivetrain_efficiency = 0.8
consumption_Wh_km = 12
"#;

const OCV: &str =
    "soc,ocv_25degC_V,ocv_0degC_V\n0,2.5,2.51\n0.5,3.7,3.69\n0.5,3.7,3.69\n1,4.2,4.19\n";
const RESISTANCE: &str =
    "soc,temperature_degC,r_dc_10s_1C_ohm\n0.1,0,0.06\n0.9,0,0.05\n0.1,25,0.03\n0.9,25,0.02\n";

fn open_with(board: &str, ocv: &str, resistance: &str) -> Result<BoardFile, BoardFileError> {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("board.toml"), board).unwrap();
    fs::write(folder.path().join("ocv.csv"), ocv).unwrap();
    fs::write(folder.path().join("resistance.csv"), resistance).unwrap();
    BoardFile::open(folder.path().join("board.toml"))
}

/// The faults of a board file, each with its line.
fn faults(board: &str) -> Vec<String> {
    told(&open_with(board, OCV, RESISTANCE).unwrap_err())
}

fn told(error: &BoardFileError) -> Vec<String> {
    let line = |fault: &FileFault| match fault.line {
        Some(line) => format!("{line}: {}", fault.what),
        None => fault.what.clone(),
    };
    error.faults.iter().map(line).collect()
}

fn changed(from: &str, to: &str) -> String {
    assert!(GOOD.contains(from));
    GOOD.replace(from, to)
}

#[test]
fn the_documented_keys_alone_make_a_board() {
    let file = open_with(GOOD, OCV, RESISTANCE).unwrap();
    assert_eq!(file.name, "test board");
    assert_eq!(file.board.pack().series, 9);
    let consumption = file.board.prior_consumption().to_f64();
    assert!((consumption - 43.2).abs() < 1e-6, "12 Wh/km are 43.2 J/m, not {consumption}");
}

#[test]
fn published_cells_go_by_their_name() {
    let board = changed("\"ocv.csv\"", "\"chen-2020-nmc811-21700\"");
    let board = board.replace("\"resistance.csv\"", "0.03");
    assert!(open_with(&board, "", "").is_ok());
}

#[test]
fn a_table_with_more_charge_than_the_pack_uses_is_cut_to_it() {
    let file = open_with(GOOD, OCV, RESISTANCE).unwrap();
    let curve = file.board.cell().resting.at(homestretch::units::Celsius::from_whole(25));
    let empty = curve.voltage(homestretch::units::Ratio::ZERO).to_f64();
    assert!((empty - 2.8).abs() < 0.001, "{empty}");
}

#[test]
fn all_faults_come_at_once_each_with_its_line_value_and_range() {
    let board = changed("capacity_Ah = 4.2", "capacity_Ah = -1")
        .replace("series = 9", "series = 0")
        .replace("mass_kg = 90", "mass_kg = \"heavy\"")
        .replace("max_charge_A = 4\n", "");
    assert_eq!(
        faults(&board),
        [
            "5: cell.capacity_Ah is -1; 0.01 to 1000 is allowed",
            "13: pack.series is 0; 1 to 60 is allowed",
            "20: vehicle.mass_kg is the text \"heavy\"; a number is wanted",
            "cell.max_charge_A is missing; a number from 0 to 2000 is wanted",
        ]
    );
}

#[test]
fn a_misspelt_section_or_key_is_told_with_the_names_that_are_known() {
    let board = changed("[pack]", "[pak]").replace("lowest_V", "lowest_v");
    let told = faults(&board);
    assert!(told.contains(&"13: `[pak]` is not known; [brake], [cell], [handheld], [heat], [motor], [pack], [reserve], [riders], [sensors], [throttle], [thumb], [vehicle] are".to_owned()), "{told:?}");
    assert!(
        told.iter()
            .any(|fault| fault.starts_with("6: `cell.lowest_v` is not known; capacity_Ah, ")),
        "{told:?}"
    );
}

#[test]
fn soften_under_stop_is_refused() {
    let told = faults(&changed("soften_below_V = 29.0", "soften_below_V = 26.5"));
    assert_eq!(
        told,
        ["16: pack.soften_below_V is 26.5; it has to be above pack.stop_below_V, which is 27"]
    );
}

#[test]
fn a_negative_resistance_is_refused() {
    let told = faults(&changed("\"resistance.csv\"", "-1"));
    assert_eq!(told, ["9: cell.resistance is -1; 0.00001 to 10 is allowed"]);
}

#[test]
fn half_a_cell_is_refused() {
    assert_eq!(
        faults(&changed("parallel = 4", "parallel = 4.5")),
        ["15: pack.parallel is 4.5; a whole number is wanted"]
    );
}

#[test]
fn no_number_at_all_is_refused() {
    assert_eq!(
        faults(&changed("mass_kg = 90", "mass_kg = nan")),
        ["21: vehicle.mass_kg is NaN; 1 to 1000 is allowed"]
    );
    assert_eq!(
        faults(&changed("mass_kg = 90", "mass_kg = inf")),
        ["21: vehicle.mass_kg is inf; 1 to 1000 is allowed"]
    );
}

#[test]
fn a_thumb_with_its_centre_outside_its_ends_is_refused() {
    let board = format!("{GOOD}\n[thumb]\nlow = 800\ncentre = 3900\nhigh = 3300\n");
    let told = faults(&board);
    assert_eq!(told, ["30: thumb.centre is 3900; 832 to 3268 is allowed"]);
}

#[test]
fn a_falling_curve_is_refused_with_both_voltages() {
    let error =
        open_with(GOOD, "soc,ocv_25degC_V\n0,2.5\n0.5,3.7\n1,3.6\n", RESISTANCE).unwrap_err();
    let told = told(&error);
    assert!(
        told[0].starts_with("8: cell.resting_voltage: ")
            && told[0].contains("ocv.csv:4: point 3: 3.6000 V is below the 3.7000 V"),
        "{told:?}"
    );
}

#[test]
fn a_table_that_is_not_there_is_told_with_the_cells_that_are() {
    let told = faults(&changed("\"ocv.csv\"", "\"mine.csv\""));
    assert!(
        told[0].contains("`mine.csv` is neither a file") && told[0].contains("kim-2011-nca-pouch"),
        "{told:?}"
    );
}

#[test]
fn a_negative_resistance_in_a_table_is_told_with_its_line() {
    // Charge by charge, as tables often are: the library counts otherwise.
    let by_charge =
        "soc,temperature_degC,r_dc_10s_1C_ohm\n0.1,0,0.06\n0.1,25,-0.03\n0.9,0,0.05\n0.9,25,0.02\n";
    let told = told(&open_with(GOOD, OCV, by_charge).unwrap_err());
    assert!(
        told[0].contains("resistance.csv:3: ") && told[0].contains("-0.030000 ohm"),
        "{told:?}"
    );
}

#[test]
fn text_in_a_table_is_told_with_its_line() {
    let error = open_with(GOOD, OCV, &RESISTANCE.replace("0.03", "low")).unwrap_err();
    let told = told(&error);
    assert!(
        told[0].contains("resistance.csv:4: r_dc_10s_1C_ohm is `low`; a number is wanted"),
        "{told:?}"
    );
}

#[test]
fn every_fault_of_syntax_has_its_line() {
    let told = faults("name = \"x\n[cell]\ncapacity_Ah = = 3\n");
    assert!(
        told[0].starts_with("1: ") && told.iter().any(|fault| fault.starts_with("3: ")),
        "{told:?}"
    );
}

#[test]
fn bytes_that_are_no_text_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("board.toml");
    fs::write(&path, b"name = \"\xff\xfe\"").unwrap();
    let error = BoardFile::open(&path).unwrap_err().to_string();
    assert!(error.contains("board.toml") && error.contains("is not UTF-8"), "{error}");
    assert!(BoardFile::open(folder.path().join("none")).is_err());
}

#[test]
fn what_the_thumb_may_do_is_read() {
    use homestretch::throttle::{Pace, USUAL_SILENT_BRAKE};
    use homestretch::units::{Amperes, MetresPerSecond, MetresPerSecondSquared, Ratio, Volts};
    let board = format!(
        "{GOOD}\n[throttle]\ndrive_curve = [[0.5, 0.4], [1, 2]]\nfull_brake_m_s2 = 2.5\n\
         drive_on_m_s3 = 1.0\ndrive_off_s = 0.2\nreverse = true\npush_start = true\ntaper_to = 0.5\n\
         [brake]\ncharge_A = 30\nstop_with_m_s2 = 1.2\n\
         [heat]\nmotor_from_degC = 70\nmotor_to_degC = 80\n\
         [reserve]\nfrom = 0.2\ndrive = 0.3\n\
         [thumb]\nstuck_after_s = 60\n\
         [handheld]\nwarn_below_V = 3.5\n\
         [[pace]]\nname = \"fast\"\n[[pace]]\nname = \"slow\"\ndrive = 0.4\ntop_speed_m_s = 2\n"
    );
    let file = open_with(&board, OCV, RESISTANCE).unwrap();
    let parts = file.throttle.parts();
    let milli = MetresPerSecondSquared::from_milli;
    let half = parts.curves.drive.acceleration(Ratio::from_percent(50));
    assert!((half - milli(400)).magnitude() < milli(1), "{half}");
    assert_eq!(parts.curves.brake.greatest(), milli(2500));
    assert_eq!(parts.rates.drive_off_within.to_millis(), 200);
    assert!(parts.reverse && parts.limits.push_start.is_some());
    assert_eq!(parts.limits.brake.charge_current, Amperes::from_whole(30));
    assert_eq!(parts.limits.brake.stop_with, MetresPerSecondSquared::from_f64(1.2).unwrap());
    assert_eq!(parts.limits.hot_motor.end, homestretch::units::Celsius::from_whole(80));
    assert_eq!(parts.limits.reserve.begin, Ratio::from_f64(0.2).unwrap());
    assert_eq!(parts.stuck_after.to_millis(), 60_000);
    assert_eq!(parts.hand_battery.warn_below, Volts::from_f64(3.5).unwrap());
    assert_eq!(parts.silent_brake, USUAL_SILENT_BRAKE);
    assert_eq!(file.paces, ["fast", "slow"]);
    let slow = parts.paces.pace(1);
    let drive = Ratio::from_f64(0.4).unwrap();
    assert_eq!(slow, Pace { drive, top_speed: MetresPerSecond::from_whole(2) });
}

#[test]
fn what_the_thumb_may_not_do_is_refused_by_its_key() {
    let refused = |more: &str| faults(&format!("{GOOD}\n{more}"));
    assert_eq!(
        refused("[brake]\nstop_with_m_s2 = 0.1\n"),
        ["29: brake.stop_with_m_s2 is 0.1; 0.2 to 10 is allowed"]
    );
    assert_eq!(
        refused("[heat]\nmotor_from_degC = 80\nmotor_to_degC = 80\n"),
        ["30: heat.motor_to_degC is 80; beside the rest of the file 82 to 250 is allowed"]
    );
    assert_eq!(
        refused("[handheld]\nwalk_below_V = 3.58\n"),
        ["29: handheld.walk_below_V is 3.58; beside the rest of the file 0.7 to 3.55 is allowed"]
    );
    assert_eq!(
        refused("[[pace]]\nname = \"x\"\ndrive = 2\n[[pace]]\nspeed = 3\n"),
        [
            "28: pace.drive is 2; 0.1 to 1 is allowed",
            "32: `pace.speed` is not known; name, drive, top_speed_m_s are"
        ]
    );
    let told = refused("[throttle]\ndrive_curve = [[0.5, 2], [1, 1]]\n");
    assert!(
        told[0] == "29: throttle.drive_curve: handle 2 is 1 m/s2; 2 to 10 is allowed",
        "{told:?}"
    );
    let told = refused("[throttle]\ndrive_curve = [1, 2]\n");
    assert!(told[0].contains("a list of pairs of numbers is wanted"), "{told:?}");
}

#[test]
fn riders_that_the_file_does_not_state_follow_from_its_mass() {
    let riders = open_with(GOOD, OCV, RESISTANCE).unwrap().riders;
    assert_eq!((riders.lightest_kg, riders.heaviest_kg), (72.0, 112.5));
    assert_eq!((riders.bear_drive_m_s2, riders.bear_brake_m_s2), (2.0, 4.0));
    assert_eq!((riders.bear_drive_jerk_m_s3, riders.bear_brake_jerk_m_s3), (1.5, 8.0));
    // The usual drive_off, 0.3 s for 1.6 m/s2, has to pass under the lightest.
    assert!(riders.bear_let_go_jerk_m_s3 > 1.6 / 0.3 / 0.8);
}

#[test]
fn what_riders_bear_is_read_and_refused_by_its_key_with_the_numbers_beside_the_words() {
    let with = |more: &str| open_with(&format!("{GOOD}\n[riders]\n{more}"), OCV, RESISTANCE);
    let riders = with("lightest_kg = 45\nbear_drive_jerk_m_s3 = 0.9\n").unwrap().riders;
    assert_eq!((riders.lightest_kg, riders.bear_drive_jerk_m_s3), (45.0, 0.9));
    let error = with("bear_brake_m_s2 = 11\nlightest_kg = 0\nheavyest_kg = 3\n").unwrap_err();
    assert_eq!(
        told(&error),
        [
            "29: riders.bear_brake_m_s2 is 11; 0.1 to 10 is allowed",
            "30: riders.lightest_kg is 0; 1 to 1000 is allowed",
            "31: `riders.heavyest_kg` is not known; bear_brake_jerk_m_s3, bear_brake_m_s2, bear_drive_jerk_m_s3, bear_drive_m_s2, bear_let_go_jerk_m_s3, heaviest_kg, lightest_kg are",
        ]
    );
    let refused = error.faults[0].refused.clone().unwrap();
    assert_eq!(refused.key, "riders.bear_brake_m_s2");
    assert_eq!((refused.given, refused.allowed), (Some(11.0), Some((0.1, 10.0))));
    assert_eq!(
        told(&with("lightest_kg = 120\n").unwrap_err()),
        ["29: riders.lightest_kg is 120; beside the rest of the file 1 to 112.5 is allowed"]
    );
    assert_eq!(
        told(&with("heaviest_kg = 60\n").unwrap_err()),
        ["29: riders.heaviest_kg is 60; beside the rest of the file 72 to 1000 is allowed"]
    );
}
