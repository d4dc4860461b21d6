#![allow(clippy::float_cmp, reason = "a number that was written is read back as it was")]

use homestretch::throttle::Half;
use proptest::prelude::*;

use super::*;
use crate::board_file::{CONTROL_KEYS, RIDER_KEYS};

const LANTERN: &str = include_str!("../../../examples/boards/lantern.toml");

fn lantern() -> Draft {
    with_text(LANTERN)
}

fn with_text(text: &str) -> Draft {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../examples/boards/lantern.toml");
    Draft::new(path, text).unwrap()
}

fn value(draft: &Draft, key: &str) -> f64 {
    draft.values().values[key]
}

#[test]
fn every_number_that_a_board_file_takes_can_be_tuned_within_its_range() {
    let controls = CONTROL_KEYS.map(|key| (format!("{}.{}", key.section, key.key), key.range));
    let riders = RIDER_KEYS.map(|key| (format!("riders.{}", key.key), key.range));
    let all: Vec<_> = controls.into_iter().chain(riders).collect();
    assert_eq!(all.len(), TUNABLE.len());
    for (key, range) in all {
        assert_eq!(tunable(&key).map(Tunable::range), Some(range), "{key}");
    }
    let values = lantern().values().values;
    assert_eq!(values.len(), TUNABLE.len());
    assert!(TUNABLE.iter().all(|key| values.contains_key(key.key)));
}

#[test]
fn values_are_what_is_in_effect_and_defaults_are_the_librarys() {
    let draft = lantern();
    let values = draft.values();
    assert_eq!(values.values["throttle.top_speed_m_s"], 8.5);
    assert_eq!(values.values["throttle.drive_on_m_s3"], 1.2);
    assert_eq!(values.values["throttle.softness"], 0.505);
    assert_eq!(values.values["brake.charge_A"], 24.0);
    assert_eq!(values.given, ["throttle.top_speed_m_s", "brake.charge_A"]);
    let usual = draft.usual().unwrap();
    assert_eq!(usual["throttle.top_speed_m_s"], Some(7.0));
    assert_eq!(usual["brake.charge_A"], Some(10.0));
    assert_eq!(usual["throttle.full_drive_m_s2"], None);
    let keys = draft.keys();
    let shown = keys.iter().find(|key| key.key == "throttle.drive_on_m_s3").unwrap();
    assert_eq!((shown.lowest, shown.highest, shown.usual), (0.1, 20.0, Some(1.2)));
    assert_eq!(serde_json::to_value(shown).unwrap()["group"], "rates");
    let drive = &values.curves.drive;
    assert_eq!((drive.kind, drive.greatest_m_s2, drive.points.len()), (CurveKind::Usual, 1.6, 65));
    assert_eq!(drive.points[64], (1.0, 1.6));
}

#[test]
fn a_change_keeps_comments_and_order() {
    let changed = lantern().with_number("throttle.top_speed_m_s", 7.5).unwrap();
    assert_eq!(
        changed.text(),
        LANTERN.replace(
            "top_speed_m_s = 8.5                          # local law decides",
            "top_speed_m_s = 7.5                          # local law decides"
        )
    );
    assert_eq!(changed.file().throttle.parts().limits.top_speed.end.to_f64(), 7.5);
    let more = changed.with_number("riders.bear_drive_m_s2", 1.7).unwrap();
    assert_eq!(more.file().riders.bear_drive_m_s2, 1.7);
    assert!(more.text().contains("[riders]\nbear_drive_m_s2 = 1.7\n"), "{}", more.text());
    assert_eq!(more.file().paces, lantern().file().paces);
}

#[test]
fn a_key_goes_back_to_its_default_with_its_line_and_nothing_else() {
    let text = LANTERN.replace("charge_A = 24", "# for a stop\ncharge_A = 24");
    let usual = with_text(&text).with_usual("brake.charge_A").unwrap();
    assert!(usual.text().contains("[brake]\n# for a stop\n\n[[pace]]"), "{}", usual.text());
    assert_eq!(value(&usual, "brake.charge_A"), 10.0);
    assert_eq!(usual.with_usual("brake.charge_A").unwrap().text(), usual.text());
}

#[test]
fn keys_in_one_line_or_with_dots_are_changed_as_well() {
    let text = LANTERN.replace(
        "[throttle]\ntop_speed_m_s = 8.5                          # local law decides\n",
        "",
    );
    let inline =
        with_text(&format!("throttle = {{ top_speed_m_s = 8.5, softness = 0.4 }}\n{text}"));
    let changed = inline.with_number("throttle.softness", 0.6).unwrap();
    assert_eq!(value(&changed, "throttle.softness"), 0.6);
    let changed = changed.with_usual("throttle.softness").unwrap();
    assert_eq!(value(&changed, "throttle.softness"), 0.505);
    assert_eq!(value(&changed, "throttle.top_speed_m_s"), 8.5);
    let dotted =
        with_text(&format!("throttle.top_speed_m_s = 8.5\nthrottle.softness = 0.4\n{text}"));
    let changed = dotted.with_usual("throttle.softness").unwrap();
    assert_eq!(value(&changed, "throttle.softness"), 0.505);
    assert_eq!(value(&changed, "throttle.top_speed_m_s"), 8.5);
}

#[test]
fn handles_and_the_end_of_the_usual_shape_take_each_others_place() {
    let draft = lantern().with_number("throttle.full_drive_m_s2", 1.4).unwrap();
    let handles = [(0.5, 0.3), (1.0, 1.8)];
    let own = draft.with_handles(Half::Drive, &handles).unwrap();
    let shown = own.values().curves.drive;
    assert_eq!((shown.kind, shown.handles.as_slice()), (CurveKind::Handles, &handles[..]));
    assert_eq!((shown.greatest_m_s2, shown.points[32].1), (1.8, 0.3));
    assert!(!own.text().contains("full_drive_m_s2"));
    let usual = own.with_usual_shape(Half::Drive).unwrap();
    assert_eq!(usual.values().curves.drive.kind, CurveKind::Usual);
    assert_eq!(value(&usual, "throttle.full_drive_m_s2"), 1.8);
    let ended = own.with_number("throttle.full_drive_m_s2", 1.2).unwrap();
    assert!(!ended.text().contains("drive_curve"));
    assert_eq!(value(&ended, "throttle.full_drive_m_s2"), 1.2);
    assert_eq!(usual.with_usual_shape(Half::Brake).unwrap().text(), usual.text());
}

#[test]
fn a_refused_change_says_key_value_and_range_and_changes_nothing() {
    let draft = lantern();
    let before = draft.text().to_owned();
    let faults = draft.with_handles(Half::Drive, &[(0.5, 0.4), (1.0, 0.2)]).unwrap_err();
    assert_eq!(
        faults,
        [Fault {
            key: Some("throttle.drive_curve".to_owned()),
            what: "throttle.drive_curve: handle 2 is 0.2 m/s2; 0.4 to 10 is allowed".to_owned(),
            given: Some(0.2),
            lowest: Some(0.4),
            highest: Some(10.0),
        }]
    );
    let faults = draft.with_number("heat.motor_to_degC", 91.0).unwrap_err();
    assert_eq!(faults[0].key.as_deref(), Some("heat.motor_to_degC"));
    assert_eq!((faults[0].lowest, faults[0].highest), (Some(92.0), Some(250.0)));
    let faults = draft.with_number("throttle.drive_on_m_s3", f64::NAN).unwrap_err();
    assert_eq!((faults[0].given, faults[0].lowest), (None, Some(0.1)));
    assert!(
        draft.with_number("vehicle.mass_kg", 90.0).unwrap_err()[0].what.contains("vehicle.mass_kg")
    );
    assert!(draft.with_handles(Half::Brake, &[(f64::NAN, 1.0)]).is_err());
    assert!(draft.with_handles(Half::Brake, &[]).is_err());
    assert_eq!(draft.text(), before);
}

#[test]
fn several_changes_are_made_together_or_not_at_all() {
    let change = |key: &str, value| Change::Number { key: key.to_owned(), value };
    let both = [change("heat.motor_from_degC", 120.0), change("heat.motor_to_degC", 130.0)];
    let draft = lantern().after(&both).unwrap();
    assert_eq!(value(&draft, "heat.motor_from_degC"), 120.0);
    assert_eq!(lantern().after(&both[..1]).unwrap_err().len(), 1);
    let wrong = [change("throttle.softness", 2.0), change("throttle.pause_s", -1.0)];
    assert_eq!(lantern().after(&wrong).unwrap_err().len(), 2);
}

#[test]
fn what_a_person_types_is_a_number_or_clearly_refused() {
    let read = |text| read_number("throttle.drive_on_m_s3", text).map_err(|fault| fault.what);
    assert_eq!(read(" 1.4 "), Ok(1.4));
    assert_eq!(read("2e0"), Ok(2.0));
    let wanted = "; a number from 0.1 to 20 is wanted";
    assert_eq!(read(""), Err(format!("throttle.drive_on_m_s3 is empty{wanted}")));
    assert_eq!(
        read("1,4"),
        Err(format!("throttle.drive_on_m_s3 is `1,4`: write the point as a point, 1.4{wanted}"))
    );
    for text in ["nan", "inf", "1.4x", "1..2", "0x10", "--1", "1 4", "1,2,3"] {
        let told = read(text).unwrap_err();
        assert!(told.contains(text) && told.ends_with(wanted), "{told}");
    }
    assert_eq!(
        read("1e300"),
        Err(format!("throttle.drive_on_m_s3 is 1{}; 0.1 to 20 is allowed", "0".repeat(300)))
    );
    assert!(read(&"9".repeat(5000)).unwrap_err().len() < 200);
    let fault = read_number("throttle.drive_on_m_s3", "30").unwrap_err();
    assert_eq!((fault.given, fault.lowest, fault.highest), (Some(30.0), Some(0.1), Some(20.0)));
    assert!(read_number("no.such", "1").is_err());
}

#[test]
fn a_history_goes_back_and_forth_and_forgets_what_was_taken_back() {
    let mut history = History::new(lantern());
    assert!(!history.can_undo() && !history.undo() && !history.redo());
    for speed in [8.0, 7.5] {
        let next = history.draft().with_number("throttle.top_speed_m_s", speed).unwrap();
        history.go_on(next);
    }
    let same = history.draft().clone();
    history.go_on(same);
    assert!(history.undo());
    assert_eq!(value(history.draft(), "throttle.top_speed_m_s"), 8.0);
    assert!(history.can_redo() && history.redo());
    assert_eq!(value(history.draft(), "throttle.top_speed_m_s"), 7.5);
    assert!(history.undo() && history.undo() && !history.can_undo());
    assert_eq!(history.draft().text(), LANTERN);
    let next = history.draft().with_number("throttle.softness", 0.2).unwrap();
    history.go_on(next);
    assert!(!history.can_redo());
}

#[test]
fn a_history_is_bounded() {
    let mut history = History::new(lantern());
    let drafts = [0.2, 0.3].map(|value| lantern().with_number("throttle.softness", value).unwrap());
    for step in 0..450 {
        history.go_on(drafts[step % 2].clone());
    }
    let steps = std::iter::from_fn(|| history.undo().then_some(())).count();
    assert_eq!(steps, 200);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn law_any_change_gives_a_legal_draft_or_says_what_is_wrong_with_a_key(
        at in 0..TUNABLE.len(), part in -0.1..1.1_f64,
    ) {
        let key = &TUNABLE[at];
        let (lowest, highest) = key.range();
        let number = lowest + part * (highest - lowest);
        match lantern().with_number(key.key, number) {
            Ok(draft) => {
                prop_assert!((0.0..=1.0).contains(&part));
                let tolerance = 1e-4 + number.abs() * 1e-6;
                // A time is kept in whole milliseconds where it is shown.
                let tolerance = if key.unit == "s" { 1e-3 } else { tolerance };
                prop_assert!((value(&draft, key.key) - number).abs() <= tolerance);
                let back = draft.with_usual(key.key).unwrap();
                let usual = lantern().with_usual(key.key).unwrap();
                prop_assert_eq!(back.values(), usual.values());
            }
            Err(faults) => {
                prop_assert!(!faults.is_empty());
                prop_assert!(faults.iter().all(|fault| !fault.what.is_empty()));
            }
        }
    }

    #[test]
    fn law_handles_give_the_librarys_curve_or_a_fault(
        handles in prop::collection::vec((0.0..1.2_f64, 0.0..4.0_f64), 0..10),
    ) {
        match lantern().with_handles(Half::Brake, &handles) {
            Ok(draft) => {
                let shown = draft.values().curves.brake;
                prop_assert!(shown.points.windows(2).all(|pair| pair[0].1 <= pair[1].1));
                prop_assert_eq!(shown.handles, handles);
            }
            Err(faults) => prop_assert!(faults[0].what.contains("throttle"), "{:?}", faults),
        }
    }
}
