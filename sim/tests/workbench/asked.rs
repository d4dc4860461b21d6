//! Questions and changes of one page.

use std::fs;

use serde_json::{Value, json};

use super::{Bench, DRIVE_ON, LANTERN, stand};

fn import(bench: &Bench, bytes: &[u8]) -> Value {
    let [origin, host] = bench.own();
    let name = ("X-File-Name", "w%C3%B6lk".to_owned());
    bench.asks("POST /api/import", &[origin, host, name], bytes).json()
}

#[test]
fn the_page_comes_whole_and_forbids_what_it_does_not_need() {
    let bench = Bench::started();
    let page = bench.get("/");
    assert_eq!(page.status, 200);
    assert!(page.headers.contains("content-security-policy: default-src 'self'"));
    assert!(page.headers.contains("cache-control: no-store"));
    let named = page.body.split('"').filter(|word| word.starts_with('/') && word.contains('.'));
    let named: Vec<&str> = named.collect();
    assert!(named.len() >= 3, "{named:?}");
    for path in named {
        assert_eq!(bench.get(path).status, 200, "{path}");
    }
    assert_eq!(bench.get("/../Cargo.toml").status, 404);
}

#[test]
fn a_board_is_told_with_all_that_can_be_tuned() {
    let bench = Bench::started();
    let board = bench.board();
    assert_eq!(board["name"], "Lantern, 11s2p");
    assert_eq!(board["file"], "lantern.toml");
    assert_eq!(board["candidate_file"], "lantern.candidate.toml");
    assert_eq!(board["candidate"], board["on_board"]);
    assert_eq!(board["paces"][1], json!({ "number": 1, "name": "with the children" }));
    let keys = board["keys"].as_array().unwrap();
    let drive_on = keys.iter().find(|key| key["key"] == DRIVE_ON).unwrap();
    assert_eq!((&drive_on["lowest"], &drive_on["usual"]), (&json!(0.1), &json!(1.2)));
    assert!(
        keys.iter()
            .all(|key| !board["candidate"]["values"][key["key"].as_str().unwrap()].is_null())
    );
    let handles = board["candidate"]["curves"]["drive"]["handles"].as_array().unwrap();
    let allowed = board["candidate"]["curves"]["drive"]["allowed"].as_array().unwrap();
    assert_eq!(handles.len(), allowed.len());
}

#[test]
fn a_change_is_taken_kept_undone_and_done_again() {
    let bench = Bench::started();
    let answer = bench.set(1.4);
    assert_eq!((&answer["accepted"], &answer["not_kept"]), (&json!(true), &json!(null)));
    assert!(bench.candidate().contains("drive_on_m_s3 = 1.4"));
    assert!(bench.candidate().starts_with("# An invented board."), "comments are kept");
    let page = json!({ "page": "a test" });
    let undone = bench.post("/api/undo", &page).json();
    assert_eq!(undone["candidate"]["values"][DRIVE_ON], 1.2);
    assert_eq!((&undone["can_undo"], &undone["can_redo"]), (&json!(false), &json!(true)));
    assert_eq!(bench.candidate(), LANTERN);
    let again = bench.post("/api/redo", &page).json();
    assert_eq!(again["candidate"]["values"][DRIVE_ON], 1.4);
    assert_eq!(fs::read_to_string(bench.path("lantern.toml")).unwrap(), LANTERN);
}

#[test]
fn a_drag_is_one_step_and_its_end_is_kept() {
    let bench = Bench::started();
    let mut revision = bench.board()["revision"].clone();
    for step in 1..=30 {
        let handles = json!([[0.5, 0.4 + f64::from(step) / 100.0], [1.0, 1.6]]);
        let changes = json!([{ "curve": "drive", "handles": handles }]);
        let asked = json!({
            "revision": revision, "changes": changes, "page": "a test", "gesture": "drag"
        });
        let answer = bench.post("/api/change", &asked).json();
        assert_eq!(answer["accepted"], true, "{answer}");
        revision = answer["revision"].clone();
    }
    let undone = bench.post("/api/undo", &json!({ "page": "a test" })).json();
    assert_eq!(undone["candidate"]["curves"]["drive"]["kind"], "usual");
    assert_eq!(undone["can_undo"], false);
    assert_eq!(bench.candidate(), LANTERN);
}

#[test]
fn what_is_illegal_is_refused_with_its_range_and_changes_nothing() {
    let bench = Bench::started();
    let before = bench.board();
    let answer = bench.set(99.0);
    assert_eq!(answer["accepted"], false);
    let fault = &answer["faults"][0];
    assert_eq!((&fault["key"], &fault["given"]), (&json!(DRIVE_ON), &json!(99.0)));
    assert_eq!((&fault["lowest"], &fault["highest"]), (&json!(0.1), &json!(20.0)));
    let long = "9".repeat(100_000);
    for text in ["", "  ", "1,4", "fast", "NaN", "-1", long.as_str(), "<b>1</b>", "1e999"] {
        let answer = bench.change(&json!([{ "key": DRIVE_ON, "text": text }]));
        assert_eq!(answer["accepted"], false, "{text}");
        let what = answer["faults"][0]["what"].as_str().unwrap();
        assert!(what.contains("0.1") && what.len() < 300, "{what}");
    }
    for handles in [json!([]), json!([[0.5, 0.4]]), json!([[0.5, 2.0], [1.0, 1.0]])] {
        let answer = bench.change(&json!([{ "curve": "drive", "handles": handles }]));
        assert_eq!(answer["accepted"], false, "{handles}");
    }
    assert_eq!(bench.board(), before);
    assert!(!bench.path("lantern.candidate.toml").exists());
}

#[test]
fn both_are_felt_and_a_broken_law_is_named() {
    let bench = Bench::started();
    bench.set(4.0);
    let asked = json!({ "stand": stand(), "ride": "path", "revision": 0 });
    let felt = bench.post("/api/feel", &asked).json();
    assert_eq!(felt["revision"], bench.board()["revision"]);
    let law = |which: &str| {
        let laws = felt[which]["verdict"]["laws"].as_array().unwrap().iter();
        laws.clone().find(|law| law["id"] == "drive-jerk").unwrap()["holds"].clone()
    };
    assert_eq!((law("on_board"), law("candidate")), (json!(true), json!(false)));
    assert_eq!(felt["candidate"]["thumb"]["thumbs"].as_array().unwrap().len(), 41);
    assert!(felt["candidate"]["ride"]["energy_Wh_km"].as_f64().unwrap() > 1.0);
    let without = json!({ "stand": stand(), "ride": null });
    let felt = bench.post("/api/feel", &without).json();
    assert!(felt["candidate"]["ride"].is_null());
}

#[test]
fn what_is_taken_away_can_be_brought_back() {
    let bench = Bench::started();
    let tuned = bench.set(1.4)["candidate"].clone();
    assert!(tuned["checksum"].as_str().is_some_and(|mark| mark.len() == 8), "{tuned}");
    for (what, name) in [
        ("board", "lantern.tuned.toml"),
        ("constant", "lantern_settings.rs"),
        ("record", "lantern.settings"),
    ] {
        let export = bench.get(&format!("/api/export/{what}"));
        assert!(export.headers.contains(&format!("attachment; filename=\"{name}\"")), "{what}");
        bench.change(&json!([{ "whole": "on_board" }]));
        assert_eq!(bench.drive_on(), 1.2);
        let taken = import(&bench, &export.bytes);
        assert_eq!(taken["candidate"]["checksum"], tuned["checksum"], "{what}");
        assert_eq!(bench.drive_on(), 1.4);
    }
    assert_eq!(bench.get("/api/export/board").body, bench.candidate());
}

#[test]
fn what_cannot_be_brought_in_is_named_and_changes_nothing() {
    let bench = Bench::started();
    bench.set(1.4);
    let mut torn = bench.get("/api/export/record").bytes;
    torn.truncate(torn.len() / 2);
    let illegal = LANTERN.replace("top_speed_m_s = 8.5", "top_speed_m_s = 850");
    for bytes in [torn.as_slice(), illegal.as_bytes(), b"", b"\x01\x02", b"\xff\xfe"] {
        let refused = import(&bench, bytes);
        assert_eq!(refused["accepted"], false);
        let what = refused["faults"][0]["what"].as_str().unwrap();
        assert!(what.contains("wölk"), "{what}");
    }
    assert_eq!(bench.drive_on(), 1.4);
}

#[test]
fn a_comparison_is_one_file_that_fetches_nothing() {
    let bench = Bench::started();
    bench.set(4.0);
    bench.post("/api/feel", &json!({ "stand": stand(), "ride": "path" }));
    let report = bench.get("/api/report");
    assert!(report.headers.contains("filename=\"lantern.comparison.html\""), "{}", report.headers);
    for word in ["Lantern, 11s2p", "light rider, full pack", "BROKEN  drive comes", "<svg"] {
        assert!(report.body.contains(word), "{word}");
    }
    let folder = bench.path("").display().to_string();
    assert!(!report.body.contains(folder.trim_end_matches('/')), "it tells where files lie");
    assert!(!report.body.contains("src=") && !report.body.contains("@import"));
}
