//! The workbench as a person meets it: in a browser, with a pointer, a keyboard, a phone.
//!
//! Source: the page itself, and the program that is given to people; what is checked is what a builder
//! relies on. Chromium and its driver are needed, so these run when they are asked for:
//! `cargo test -p homestretch-checks --test workbench -- --ignored`.

mod browser;

use std::fs;
use std::sync::{PoisonError, RwLock, RwLockReadGuard, RwLockWriteGuard};
use std::time::Duration;

use browser::{Driver, Page, Server};
use serde_json::{Value, json};

const DRIVE_ON: &str = "value-throttle.drive_on_m_s3";
const ENTER: &str = "\u{e007}";
const TAB: &str = "\u{e004}";
const ARROW_UP: &str = "\u{e013}";
const DELETE: &str = "\u{e017}";
/// Held, until the empty key lets all go.
const CONTROL: &str = "\u{e009}";

/// A drag, sixteen milliseconds a step.
const FRAME: Duration = Duration::from_millis(16);

/// From the hand to the painted picture.
const PAINTED_WITHIN_MS: f64 = 100.0;

/// Held by all; the one that measures has the machine for itself.
static MACHINE: RwLock<()> = RwLock::new(());

/// A server, a driver, and a share of the machine.
type Bench<G> = (Server, Driver, G);

fn bench() -> Bench<RwLockReadGuard<'static, ()>> {
    let share = MACHINE.read().unwrap_or_else(PoisonError::into_inner);
    (Server::new(), Driver::new(), share)
}

fn bench_alone() -> Bench<RwLockWriteGuard<'static, ()>> {
    let all = MACHINE.write().unwrap_or_else(PoisonError::into_inner);
    (Server::new(), Driver::new(), all)
}

fn drive_on(page: &Page) -> Value {
    page.board()["candidate"]["values"]["throttle.drive_on_m_s3"].clone()
}

fn drive_curve(page: &Page) -> Value {
    page.board()["candidate"]["curves"]["drive"].clone()
}

fn line_of(page: &Page) -> Value {
    page.says("return document.getElementById('curve-picture').innerHTML")
}

#[test]
#[ignore = "needs chromium and chromedriver"]
fn it_loads_and_shows_board_curves_and_verdict_without_an_error() {
    let (server, driver, _share) = bench();
    let page = driver.page(&server.url, false);
    assert_eq!(page.text("board-name"), "Lantern, 11s2p");
    page.wait_for_text("verdict", "The candidate");
    assert_eq!(page.field(DRIVE_ON), "1.2");
    let drawn = page.says("return document.querySelectorAll('svg path').length");
    assert!(drawn.as_u64().unwrap() > 10, "{drawn}");
    let shown = page.says("return document.title");
    assert!(shown.as_str().unwrap().contains("Lantern"), "{shown}");
}

#[test]
#[ignore = "needs chromium and chromedriver"]
fn a_dragged_handle_changes_the_curves_and_is_undone_in_one_step() {
    let (server, driver, _share) = bench();
    let page = driver.page(&server.url, false);
    let before = (drive_curve(&page), line_of(&page));
    let felt = "return document.getElementById('felt').innerHTML";
    let felt_before = page.says(felt);
    page.drag("handle-drive-0", &[(-2.0, -1.5); 20], FRAME);
    page.wait("the drag is done", "return !document.querySelector('[data-test=undo]').disabled");
    let after = drive_curve(&page);
    assert_eq!(after["kind"], "handles");
    assert!(after["handles"][0][1].as_f64() > before.0["handles"][0][1].as_f64(), "{after}");
    assert_ne!(line_of(&page), before.1);
    page.wait(
        "what is felt is drawn anew",
        &format!("return document.getElementById('felt').innerHTML !== {felt_before}"),
    );
    page.click("undo");
    page.wait("it is undone", "return document.querySelector('[data-test=undo]').disabled");
    assert_eq!(drive_curve(&page), before.0);
}

#[test]
#[ignore = "needs chromium and chromedriver"]
fn a_drag_beyond_what_is_allowed_stops_there_and_says_why() {
    let (server, driver, _share) = bench();
    let page = driver.page(&server.url, false);
    page.drag("handle-drive-0", &[(0.0, -12.0); 25], FRAME);
    page.wait_for_text("curve-says", "allowed");
    let handles = drive_curve(&page)["handles"].clone();
    assert_eq!(handles[0][1], handles[1][1], "at its neighbour's height");
}

#[test]
#[ignore = "needs chromium and chromedriver"]
fn a_law_that_is_broken_is_named_with_its_number_and_place() {
    let (server, driver, _share) = bench();
    let page = driver.page(&server.url, false);
    let law = "drive comes no harder than the lightest rider bears";
    assert!(!page.text("verdict").contains(law));
    page.paste(DRIVE_ON, "4");
    page.wait_for_text("verdict", "breaks");
    page.wait_for_text("verdict", law);
    let broken = page.text("verdict-broken");
    assert!(broken.contains("m/s³") && broken.contains("light rider"), "{broken}");
    page.keys(DRIVE_ON, &format!("{CONTROL}z"));
    page.wait_for_field(DRIVE_ON, "1.2");
}

#[test]
#[ignore = "needs chromium and chromedriver"]
fn what_is_typed_empty_huge_or_no_number_is_refused_and_stays_in_its_field() {
    let (server, driver, _share) = bench();
    let page = driver.page(&server.url, false);
    let fault = "fault-throttle.drive_on_m_s3";
    for text in ["1,4x", "999999999", "1e400", &"9".repeat(5000), "-1", "<b>2</b>"] {
        page.paste(DRIVE_ON, text);
        page.wait_for_text(fault, "0.1");
        assert_eq!(page.field(DRIVE_ON), *text);
        assert!(page.text(fault).len() < 300);
    }
    page.says(&format!(
        "const f = document.querySelector('[data-test=\"{DRIVE_ON}\"]'); f.focus(); f.select()"
    ));
    page.keys(DRIVE_ON, DELETE);
    page.keys(DRIVE_ON, ENTER);
    page.wait_for_text(fault, "is empty");
    assert_eq!(drive_on(&page), 1.2);
    page.paste(DRIVE_ON, " 1.4 ");
    page.wait_for_field(DRIVE_ON, "1.4");
    page.wait_for_text(fault, "");
    assert_eq!(drive_on(&page), 1.4);
}

#[test]
#[ignore = "needs chromium and chromedriver"]
fn what_was_tuned_is_taken_away_in_each_form_and_brought_back_with_its_checksum() {
    let (server, driver, _share) = bench();
    let page = driver.page(&server.url, false);
    page.paste(DRIVE_ON, "1.4");
    page.wait("it is taken", "return !document.querySelector('[data-test=undo]').disabled");
    let checksum = page.text("checksum-candidate");
    assert_eq!(checksum.len(), 8, "{checksum}");
    assert_eq!(page.text("checksum-same"), "not the same");
    for (link, name) in [
        ("export-board", "lantern.tuned.toml"),
        ("export-constant", "lantern_settings.rs"),
        ("export-record", "lantern.settings"),
    ] {
        page.click(link);
        let saved = page.saved(name);
        page.click("start-again");
        page.wait_for_field(DRIVE_ON, "1.2");
        page.wait(
            "it is what is on the board",
            "return document.querySelector('[data-test=checksum-same]').textContent === 'the same'",
        );
        page.keys("import-file", saved.to_str().unwrap());
        page.wait_for_text("import-says", &format!("{name} is the candidate now"));
        page.wait_for_field(DRIVE_ON, "1.4");
        assert_eq!(page.text("checksum-candidate"), checksum, "{name}");
    }
    let bad = server.path("bad.toml");
    fs::write(&bad, "[throttle]\ntop_speed_m_s = 850\n").unwrap();
    page.keys("import-file", bad.to_str().unwrap());
    page.wait_for_text("import-says", "was not taken");
    assert_eq!(drive_on(&page), 1.4);
}

#[test]
#[ignore = "needs chromium and chromedriver"]
fn a_report_of_the_comparison_is_saved() {
    let (server, driver, _share) = bench();
    let page = driver.page(&server.url, false);
    page.paste(DRIVE_ON, "4");
    page.wait_for_text("verdict", "drive comes no harder");
    page.click("report");
    let report = fs::read_to_string(page.saved("lantern.comparison.html")).unwrap();
    assert!(report.contains("BROKEN  drive comes no harder"));
}

#[test]
#[ignore = "needs chromium and chromedriver"]
fn all_of_it_can_be_done_with_the_keyboard_alone() {
    let (server, driver, _share) = bench();
    let page = driver.page(&server.url, false);
    let walk_to = |test: &str| {
        for _ in 0..150 {
            if page.keyboard_is_on() == test {
                return;
            }
            page.keys_here(TAB);
        }
        panic!("the keyboard does not come to {test}");
    };
    walk_to("handle-drive-0");
    let before = drive_curve(&page)["handles"][0][1].as_f64();
    page.keys_here(ARROW_UP);
    page.wait("a step up", "return !document.querySelector('[data-test=undo]').disabled");
    assert!(drive_curve(&page)["handles"][0][1].as_f64() > before);
    assert_eq!(page.keyboard_is_on(), "handle-drive-0");
    walk_to(DRIVE_ON);
    page.keys_here(&format!("{CONTROL}a\u{e000}1.3{ENTER}"));
    page.wait_for_field(DRIVE_ON, "1.3");
    page.wait("it is taken", "return document.querySelector('[data-test=\"fault-throttle.drive_on_m_s3\"]').textContent === ''");
    walk_to("ride-start");
    page.keys_here(ENTER);
    page.wait_for_text("riding-armed", "ready");
    assert_eq!(page.keyboard_is_on(), "thumb");
    page.hold('\u{e013}', Duration::from_secs(3));
    page.wait(
        "the board was driven by a key",
        "return parseFloat(document.querySelector('[data-test=\"riding-distance\"]').textContent) > 1",
    );
    walk_to("export-board");
    assert_eq!(drive_on(&page), 1.3);
}

#[test]
#[ignore = "needs chromium and chromedriver"]
fn a_board_is_ridden_with_the_thumb() {
    let (server, driver, _share) = bench();
    let page = driver.page(&server.url, false);
    page.click("ride-start");
    page.wait_for_text("riding-armed", "ready");
    // Most of the way at once, then held for four seconds.
    let path: Vec<(f64, f64)> =
        (0..8).map(|step| (0.0, if step == 0 { -110.0 } else { -1.0 })).collect();
    page.drag("thumb", &path, Duration::from_millis(500));
    let ridden = page.wait(
        "it moved",
        "return parseFloat(document.querySelector('[data-test=\"riding-distance\"]').textContent)",
    );
    assert!(ridden.as_f64().unwrap() >= 1.0, "{ridden}");
    assert_eq!(page.text("thumb-says"), "0.00", "let go");
}

#[test]
#[ignore = "needs chromium and chromedriver"]
fn a_phone_shows_all_of_it_without_scrolling_sideways() {
    let (server, driver, _share) = bench();
    let page = driver.page(&server.url, true);
    let widths = page.says("return [document.documentElement.scrollWidth, innerWidth]");
    assert_eq!(widths, json!([390, 390]));
    page.says("for (const part of document.querySelectorAll('details')) part.open = true");
    page.paste(DRIVE_ON, "4");
    page.wait_for_text("verdict", "breaks");
    let widths = page.says("return [document.documentElement.scrollWidth, innerWidth]");
    assert_eq!(widths, json!([390, 390]));
}

#[test]
#[ignore = "needs chromium and chromedriver"]
fn two_pages_tell_of_each_other_and_nobody_is_written_over_unseen() {
    let (server, driver, _share) = bench();
    let (one, other) = (driver.page(&server.url, false), driver.page(&server.url, false));
    one.paste(DRIVE_ON, "1.4");
    other.wait_for_text("notice-changed", "Another page changed the candidate");
    other.wait_for_text("notice-changed", "1.40");
    other.click("take-theirs");
    other.wait_for_field(DRIVE_ON, "1.4");
    other.paste("value-throttle.pause_s", "0.5");
    one.wait_for_text("notice-changed", "0.50");
    one.click("apply-mine");
    one.wait_for_field("value-throttle.pause_s", "0.3");
    assert_eq!(drive_on(&one), 1.4);
}

#[test]
#[ignore = "needs chromium and chromedriver"]
fn a_board_file_that_is_edited_meanwhile_is_noticed_and_can_be_compared_with() {
    let (server, driver, _share) = bench();
    let page = driver.page(&server.url, false);
    let path = server.path("lantern.toml");
    let text = fs::read_to_string(&path).unwrap();
    fs::write(&path, text.replace("top_speed_m_s = 8.5", "top_speed_m_s = 7.5")).unwrap();
    page.wait_for_text("notice-board-file", "changed on disk");
    assert_eq!(page.board()["on_board"]["values"]["throttle.top_speed_m_s"], 8.5);
    page.click("compare-new-file");
    page.wait_for_text("differences", "top speed");
    assert_eq!(page.board()["on_board"]["values"]["throttle.top_speed_m_s"], 7.5);
    assert_eq!(page.field("value-throttle.top_speed_m_s"), "8.5");
}

#[test]
#[ignore = "needs chromium and chromedriver"]
fn a_server_that_is_killed_and_started_again_has_lost_nothing() {
    let (mut server, driver, _share) = bench();
    let page = driver.page(&server.url, false);
    page.paste(DRIVE_ON, "1.4");
    page.wait("it is taken", "return !document.querySelector('[data-test=undo]').disabled");
    server.kill();
    page.wait_for_text("notice-gone", "server is gone");
    page.paste("value-throttle.pause_s", "0.5");
    page.wait_for_text("kept", "0.5");
    server.start();
    page.wait_for_text("notice-back", "edits are kept");
    page.click("kept-apply");
    page.wait("they are applied", "return !document.querySelector('[data-test=\"notice-back\"]')");
    let values = page.board()["candidate"]["values"].clone();
    assert_eq!(values["throttle.pause_s"], 0.5);
    assert_eq!(values["throttle.drive_on_m_s3"], 1.4);
    page.reload();
    assert_eq!(page.field(DRIVE_ON), "1.4");
}

#[test]
#[ignore = "needs chromium and chromedriver"]
fn a_port_that_is_taken_is_named_and_the_first_server_goes_on() {
    let (server, driver, _share) = bench();
    let page = driver.page(&server.url, false);
    let (status, said) = server.started_again();
    assert_eq!(status, Some(1));
    assert!(said.contains(server.port().unwrap()), "{said}");
    page.paste(DRIVE_ON, "1.4");
    page.wait("it is taken", "return !document.querySelector('[data-test=undo]').disabled");
    assert_eq!(drive_on(&page), 1.4);
}

#[test]
#[ignore = "needs chromium and chromedriver"]
fn a_hundred_changes_are_painted_soon() {
    let (server, driver, _all) = bench_alone();
    let page = driver.page(&server.url, false);
    page.says("window.workbenchTimings.length = 0");
    let count = "return window.workbenchTimings.length";
    // Up and down by turns, so that each step is a change.
    let path: Vec<(f64, f64)> =
        (0..120).map(|step| (0.0, if step / 10 % 2 == 0 { -2.0 } else { 2.0 })).collect();
    for _ in 0..5 {
        if page.says(count).as_u64() >= Some(100) {
            break;
        }
        page.drag("handle-drive-1", &path, Duration::from_millis(40));
        page.wait("pictures are painted", count);
    }
    let timings = page.says("return window.workbenchTimings.map((one) => one.input_to_paint_ms)");
    let mut timings: Vec<f64> =
        timings.as_array().unwrap().iter().filter_map(Value::as_f64).collect();
    timings.sort_by(f64::total_cmp);
    assert!(timings.len() >= 100, "{} changes were painted", timings.len());
    let (median, late) = (timings[timings.len() / 2], timings[timings.len() * 95 / 100]);
    println!(
        "input to paint, {} changes: median {median:.0} ms, 95th percentile {late:.0} ms",
        timings.len()
    );
    assert!(median <= PAINTED_WITHIN_MS, "median {median:.0} ms");
}
