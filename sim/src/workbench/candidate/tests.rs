#![allow(clippy::float_cmp, reason = "a number that was written is read back as it was")]

use homestretch::throttle::Half;

use super::*;

const DRIVE_ON: &str = "throttle.drive_on_m_s3";

fn lantern() -> Draft {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../examples/boards/lantern.toml");
    Draft::new(path, std::fs::read_to_string(path).unwrap()).unwrap()
}

fn candidate() -> Candidate {
    Candidate::new(lantern(), lantern(), 7)
}

fn drive_on(value: f64) -> Wish {
    Wish::Change(Change::Number { key: DRIVE_ON.to_owned(), value })
}

fn asked(revision: u64, wishes: &[Wish]) -> Asked<'_> {
    Asked { revision, page: "one", gesture: None, wishes }
}

fn value(candidate: &Candidate) -> f64 {
    candidate.draft().values().values[DRIVE_ON]
}

#[test]
fn a_change_on_the_newest_revision_is_taken_and_counted() {
    let mut candidate = candidate();
    assert_eq!(candidate.change(&asked(7, &[drive_on(1.4)])), Outcome::Accepted(true));
    assert_eq!((candidate.revision(), value(&candidate)), (8, 1.4));
    assert!(candidate.history().can_undo());
}

#[test]
fn a_change_on_an_older_revision_is_not_taken() {
    let mut candidate = candidate();
    candidate.change(&asked(7, &[drive_on(1.4)]));
    assert_eq!(candidate.change(&asked(7, &[drive_on(1.3)])), Outcome::Behind);
    assert_eq!((candidate.revision(), value(&candidate)), (8, 1.4));
}

#[test]
fn a_refused_change_leaves_all_as_it_was_and_names_the_range() {
    let mut candidate = candidate();
    let Outcome::Refused(faults) = candidate.change(&asked(7, &[drive_on(500.0)])) else {
        panic!("taken")
    };
    assert_eq!((faults[0].given, faults[0].highest), (Some(500.0), Some(20.0)));
    assert_eq!((candidate.revision(), value(&candidate)), (7, 1.2));
    assert!(!candidate.history().can_undo());
}

#[test]
fn a_change_to_what_is_already_so_is_no_step() {
    let mut candidate = candidate();
    candidate.change(&asked(7, &[drive_on(1.4)]));
    assert_eq!(candidate.change(&asked(8, &[drive_on(1.4)])), Outcome::Accepted(false));
    assert_eq!(candidate.revision(), 8);
    assert!(candidate.undo() && !candidate.undo());
}

#[test]
fn a_gesture_is_one_step_and_ends_with_another() {
    let mut candidate = candidate();
    let go = |candidate: &mut Candidate, word, value, page| {
        let wishes = [drive_on(value)];
        let (revision, gesture) = (candidate.revision(), Some(word));
        candidate.change(&Asked { revision, page, gesture, wishes: &wishes })
    };
    for value in [1.3, 1.4, 1.5] {
        assert_eq!(go(&mut candidate, "drag 1", value, "one"), Outcome::Accepted(true));
    }
    assert_eq!(go(&mut candidate, "drag 2", 1.6, "one"), Outcome::Accepted(true));
    assert_eq!(go(&mut candidate, "drag 2", 1.7, "two"), Outcome::Accepted(true));
    let mut seen = Vec::new();
    while candidate.undo() {
        seen.push(value(&candidate));
    }
    assert_eq!(seen, [1.6, 1.5, 1.2]);
}

#[test]
fn a_drag_that_comes_back_to_where_it_began_is_no_step_and_may_go_on() {
    let mut candidate = candidate();
    for value in [1.3, 1.2, 1.4] {
        let wishes = [drive_on(value)];
        let gesture = Some("drag");
        let asked = Asked { revision: candidate.revision(), page: "one", gesture, wishes: &wishes };
        assert_eq!(candidate.change(&asked), Outcome::Accepted(true));
    }
    assert!(candidate.undo());
    assert_eq!(value(&candidate), 1.2);
    assert!(!candidate.undo());
}

#[test]
fn an_undo_ends_a_gesture_and_counts() {
    let mut candidate = candidate();
    for value in [1.3, 1.4] {
        let wishes = [drive_on(value)];
        let gesture = Some("drag");
        candidate.change(&Asked {
            revision: candidate.revision(),
            page: "one",
            gesture,
            wishes: &wishes,
        });
        if value < 1.35 {
            assert!(candidate.undo() && candidate.redo());
        }
    }
    assert_eq!(candidate.revision(), 11);
    assert!(candidate.undo());
    assert_eq!(value(&candidate), 1.3);
}

#[test]
fn all_as_on_the_board_can_be_undone_and_goes_before_what_follows_it() {
    let mut candidate = candidate();
    candidate.change(&asked(7, &[drive_on(1.4)]));
    candidate.change(&asked(8, &[Wish::AsOnBoard]));
    assert_eq!(candidate.draft().text(), candidate.on_board().text());
    assert!(candidate.undo());
    assert_eq!(value(&candidate), 1.4);
    let softer = Change::UsualShape { half: Half::Drive };
    candidate.change(&asked(
        candidate.revision(),
        &[drive_on(1.9), Wish::AsOnBoard, Wish::Change(softer)],
    ));
    assert_eq!(value(&candidate), 1.2);
}

#[test]
fn what_is_on_the_board_changes_and_the_candidate_stays() {
    let mut candidate = candidate();
    candidate.change(&asked(7, &[drive_on(1.4)]));
    candidate.is_on_board(lantern().with_number(DRIVE_ON, 1.1).unwrap()).unwrap();
    // One more: all pages have to look again.
    assert_eq!((candidate.revision(), value(&candidate)), (9, 1.4));
    assert_eq!(candidate.on_board().values().values[DRIVE_ON], 1.1);
}

#[test]
fn what_is_built_otherwise_since_is_ridden_by_every_step_of_the_way_back() {
    let mut candidate = candidate();
    candidate.change(&asked(7, &[drive_on(1.4)]));
    candidate.change(&asked(8, &[drive_on(1.5)]));
    let heavier = lantern().text().replace("mass_kg = 88", "mass_kg = 99");
    let heavier = Draft::new(lantern().path(), heavier).unwrap();
    candidate.is_on_board(heavier.clone()).unwrap();
    for expected in [1.5, 1.4, 1.2] {
        assert_eq!(value(&candidate), expected);
        assert_eq!(candidate.draft().file().board, heavier.file().board);
        candidate.undo();
    }
}
