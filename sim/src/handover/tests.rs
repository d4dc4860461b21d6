use std::path::{Path, PathBuf};

use proptest::prelude::*;

use super::*;
use crate::tuning::{Change, Draft, TUNABLE};

fn board(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../examples/boards").join(name)
}

fn draft(name: &str) -> Draft {
    let path = board(name);
    Draft::new(&path, std::fs::read_to_string(&path).unwrap()).unwrap()
}

/// A draft with numbers, curves, switches and paces of its own.
fn tuned() -> Draft {
    let text = draft("lantern.toml").text().replace(
        "[throttle]\n",
        "[thumb]\nlow = 500\nreversed = true\n\n[throttle]\nreverse = true\npush_start = true\n\
         drive_curve = [[0.41, 0.333], [1, 1.77]]\nfull_brake_m_s2 = 2.71\nsoftness = 0.3\ndrive_on_m_s3 = 1.11\n\
         drive_off_s = 0.217\n",
    );
    let text = text.replace("drive = 0.5\n", "drive = 0.45\n");
    Draft::new(board("lantern.toml"), text).unwrap()
}

#[test]
fn each_way_out_is_a_way_back() {
    let (out, plain) = (tuned(), draft("lantern.toml"));
    let tuning = &out.file().tuning;
    for (name, bytes) in [
        ("lantern.settings", record(out.file())),
        ("lantern_settings.rs", constant(out.file()).into_bytes()),
        ("lantern.tuned.toml", out.text().as_bytes().to_vec()),
    ] {
        let back = taken(&plain, name, &bytes).unwrap_or_else(|faults| panic!("{faults:?}"));
        assert_eq!(&back.file().tuning, tuning, "{name}");
        assert_eq!(mark(&back.file().tuning), mark(tuning));
        assert_eq!(back.file().paces, plain.file().paces, "{name} keeps the paces' names");
    }
}

#[test]
fn what_is_taken_back_is_written_as_a_person_would_write_it() {
    let back = taken(&draft("lantern.toml"), "r", &record(tuned().file())).unwrap();
    let text = back.text();
    let has = |line: &str| assert!(text.contains(line), "{line} in {text}");
    has("drive_on_m_s3 = 1.11\n");
    has("drive_off_s = 0.217\n");
    has("drive_curve = [[0.41, 0.333], [1.0, 1.77]]");
    has("full_brake_m_s2 = 2.71\n");
    has("# local law decides");
}

#[test]
fn the_status_of_the_board_shows_the_mark_of_the_file() {
    let file = tuned();
    let file = file.file();
    let mut hand = homestretch::handheld::Handheld::new(&file.board, &file.throttle, None);
    let output = hand.tick(homestretch::time::Instant::from_millis(20), 2048, None);
    assert_eq!(output.status.settings_mark.map(shown), Some(mark(&file.tuning)));
    assert!(constant(file).contains(&format!(
        "0x{}_{}",
        &mark(&file.tuning)[..4],
        &mark(&file.tuning)[4..]
    )));
}

#[test]
fn a_record_of_another_board_is_refused_and_says_why() {
    let faults = taken(&draft("heron.toml"), "lantern.settings", &record(tuned().file()));
    let what = faults.unwrap_err().remove(0).what;
    assert!(what.starts_with("`lantern.settings`: "), "{what}");
    assert!(what.contains("made for another board"), "{what}");
}

#[test]
fn a_file_that_is_none_of_the_three_is_refused_by_its_name() {
    let plain = draft("lantern.toml");
    let what = |bytes: &[u8]| taken(&plain, "x.bin", bytes).unwrap_err().remove(0).what;
    assert!(what(b"HS\x02\x04\0").contains("cut off"), "{}", what(b"HS\x02\x04\0"));
    assert!(what(&[0xff, 0xfe]).contains("UTF-8"));
    assert!(what(b"pub const SETTINGS: [u8; 2] = [1, 2];").contains("constant"));
    assert!(what(b"name = ").contains("x.bin"));
    let mut damaged = record(plain.file());
    damaged[40] ^= 1;
    assert!(what(&damaged).contains("damaged"));
}

#[test]
fn a_constant_with_a_changed_digit_is_refused() {
    let source = constant(draft("lantern.toml").file());
    let at = source.find("0x48, 0x53").unwrap() + 6 * 12;
    let mut bytes = source.into_bytes();
    bytes[at + 3] = if bytes[at + 3] == b'1' { b'2' } else { b'1' };
    assert!(taken(&draft("lantern.toml"), "c.rs", &bytes).is_err());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn law_any_number_that_can_be_tuned_comes_back_by_the_record(
        place in 0..TUNABLE.len(), part in 0.0..1.0_f64,
    ) {
        let plain = draft("lantern.toml");
        let (lowest, highest) = TUNABLE[place].range();
        let change = Change::Number {
            key: TUNABLE[place].key.to_owned(),
            value: lowest + part * (highest - lowest).min(10.0 * lowest.abs().max(1.0)),
        };
        // Riders are no part of what a firmware is told; what does not fit the rest is refused.
        let Ok(changed) = plain.after(&[change]) else { return Ok(()) };
        let back = taken(&plain, "r", &record(changed.file()));
        prop_assert!(back.is_ok(), "{:?}", back.err());
        prop_assert_eq!(back.unwrap().file().tuning, changed.file().tuning);
    }
}
