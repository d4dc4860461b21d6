//! Pages about a tuning: what a search came to, and a candidate beside what is on the board.
//!
//! Puts what `feel` and `shape` found into curves and words; used by `cli` and `workbench`.

use std::fmt::Write as _;
use std::path::Path;

use serde_json::json;

use super::html::Report;
use super::picture::{Curve, CurvePanel, Heading, PictureError, curves};
use crate::feel::{Feel, Response, ThumbMap, Verdict};
use crate::shape::Shaped;
use crate::tuning::{CurvesShown, Draft};

/// The name of what is compared with.
const ON_BOARD: &str = "on the board";
const CANDIDATE: &str = "candidate";

/// The page of a search over the board in `draft`.
///
/// # Errors
/// Where a picture cannot be drawn.
pub fn searched(draft: &Draft, shaped: &Shaped) -> Result<Report, PictureError> {
    let names = names(shaped);
    let trade_offs = names
        .iter()
        .zip(&shaped.trade_offs)
        .map(|(name, one)| (name.clone(), one.draft.values().curves, false));
    let now = std::iter::once((ON_BOARD.to_owned(), draft.values().curves, true));
    let panel = asked(&trade_offs.chain(now).collect::<Vec<_>>());
    let result = format!("{} trade-offs that keep all laws", shaped.trade_offs.len());
    let heading = Heading {
        board: draft.file().name.clone(),
        ride: "curves".to_owned(),
        result: result.clone(),
    };
    let picture = curves(&heading, &[panel])?;
    let mut page = Report::new(format!("Curves and rates for {}", draft.file().name), result)
        .picture("What the thumb asks, as the board's own mass feels it", &picture)
        .words("What was found", shaped.to_string())
        .numbers("Numbers", shaped.json())
        .input(draft.path(), draft.text());
    for (name, one) in names.iter().zip(&shaped.trade_offs) {
        let name = format!("{} ({name})", file_stem(draft.path()));
        page = page.input(Path::new(&name), one.draft.text());
    }
    Ok(page)
}

/// The page of a `candidate` beside what is `on_board`, both felt on the `stand` that is named.
///
/// # Errors
/// Where a picture cannot be drawn.
pub fn compared(
    stand: &str,
    (on_board, felt_on_board): (&Draft, &Feel),
    (candidate, felt): (&Draft, &Feel),
) -> Result<Report, PictureError> {
    let verdict = in_a_line(&felt.verdict);
    let heading = Heading {
        board: candidate.file().name.clone(),
        ride: stand.to_owned(),
        result: format!("{stand}: {verdict}"),
    };
    let curves_of =
        |draft: &Draft, name: &str, dashed| (name.to_owned(), draft.values().curves, dashed);
    let mut panels = vec![
        asked(&[curves_of(candidate, CANDIDATE, false), curves_of(on_board, ON_BOARD, true)]),
        felt_by_thumb(&felt.thumb, &felt_on_board.thumb),
    ];
    for (what, now, was) in [
        ("The thumb from nothing to all", &felt.step, &felt_on_board.step),
        ("The thumb let go", &felt.release, &felt_on_board.release),
        ("The thumb to the full brake", &felt.brake, &felt_on_board.brake),
    ] {
        panels.extend(followed(what, now, was));
    }
    let picture = curves(&heading, &panels)?;
    let numbers = json!({
        "candidate": { "verdict": felt.verdict, "ride": felt.ride, "stops": felt.stops },
        "on_board": { "verdict": felt_on_board.verdict, "ride": felt_on_board.ride, "stops": felt_on_board.stops },
    });
    Ok(Report::new(format!("A candidate for {}", candidate.file().name), heading.result.clone())
        .picture("The candidate, and what is on the board (dashed)", &picture)
        .words("Verdict", verdict_words(&felt.verdict))
        .words("What differs", differences(on_board, candidate))
        .numbers("Numbers", numbers)
        .input(candidate.path(), candidate.text()))
}

/// The names of the trade-offs, those that are called the same with a number.
fn names(shaped: &Shaped) -> Vec<String> {
    let mut named: Vec<(&str, String)> = Vec::new();
    for one in &shaped.trade_offs {
        let before = named.iter().filter(|(name, _)| *name == one.name).count();
        let number = if before == 0 { String::new() } else { format!(" {}", before + 1) };
        named.push((one.name, format!("{}{number}", one.name)));
    }
    named.into_iter().map(|(_, name)| name).collect()
}

/// What the thumb asks, from full brake to full drive.
fn asked(given: &[(String, CurvesShown, bool)]) -> CurvePanel {
    let curve = |(colour, (name, shown, dashed)): (usize, &(String, CurvesShown, bool))| {
        let brake = shown.brake.points.iter().rev().map(|(thumb, ask)| (-thumb, -ask));
        let points = brake.chain(shown.drive.points.iter().copied()).collect();
        Curve { name: name.clone(), points, dashed: *dashed, colour }
    };
    CurvePanel {
        title: "Asked by the thumb (m/s²)".to_owned(),
        along: "thumb, -1 full brake to 1 full drive".to_owned(),
        curves: given.iter().enumerate().map(curve).collect(),
    }
}

/// What is felt at each thumb, by speed.
fn felt_by_thumb(now: &ThumbMap, was: &ThumbMap) -> CurvePanel {
    let of = |map: &ThumbMap, name: &str, dashed: bool| -> Vec<Curve> {
        let row = |(colour, (speed_m_s, row)): (usize, (&f64, &Vec<f64>))| Curve {
            name: format!("{name}, {speed_m_s:.1} m/s"),
            points: map.thumbs.iter().copied().zip(row.iter().copied()).collect(),
            dashed,
            colour,
        };
        map.speeds_m_s.iter().zip(&map.acceleration_m_s2).enumerate().map(row).collect()
    };
    CurvePanel {
        title: "Felt once it has settled (m/s²)".to_owned(),
        along: "thumb, -1 full brake to 1 full drive".to_owned(),
        curves: of(now, CANDIDATE, false).into_iter().chain(of(was, ON_BOARD, true)).collect(),
    }
}

/// A series of a response: its name, where it stands, and what riders bear of it.
type Followed = (&'static str, fn(&Response) -> &Vec<f64>, Option<(f64, f64)>);

/// Acceleration, jerk and speed that follow a sudden thumb.
fn followed(what: &str, now: &Response, was: &Response) -> [CurvePanel; 3] {
    let series: [Followed; 3] = [
        ("acceleration (m/s²)", |of| &of.acceleration_m_s2, Some(now.bears.acceleration_m_s2)),
        ("jerk (m/s³)", |of| &of.jerk_m_s3, Some(now.bears.jerk_m_s3)),
        ("speed (m/s)", |of| &of.speed_m_s, None),
    ];
    series.map(|(name, of, bears)| {
        let curve = |response: &Response, name: &str, dashed, colour| Curve {
            name: name.to_owned(),
            points: response.time_s.iter().copied().zip(of(response).iter().copied()).collect(),
            dashed,
            colour,
        };
        let mut drawn = vec![curve(now, CANDIDATE, false, 0), curve(was, ON_BOARD, true, 0)];
        let ends = now.time_s.first().copied().zip(now.time_s.last().copied());
        if let Some(((begin, end), (lowest, highest))) = ends.zip(bears) {
            for limit in [lowest, highest] {
                let points = vec![(begin, limit), (end, limit)];
                let name = format!("the lightest rider bears {limit}");
                drawn.push(Curve { name, points, dashed: true, colour: 1 });
            }
        }
        CurvePanel { title: format!("{what}: {name}"), along: "time (s)".to_owned(), curves: drawn }
    })
}

fn in_a_line(verdict: &Verdict) -> String {
    let broken = verdict.laws.iter().filter(|law| !law.holds).count();
    if verdict.passes {
        "holds every law".to_owned()
    } else {
        format!("breaks {broken} of {} laws", verdict.laws.len())
    }
}

fn verdict_words(verdict: &Verdict) -> String {
    let mut words = String::new();
    for law in &verdict.laws {
        let mark = if law.holds { "holds " } else { "BROKEN" };
        let (found, limit, unit) = (law.found, law.limit, law.unit);
        let _ = writeln!(words, "{mark}  {}: {found} of {limit} {unit} ({})", law.law, law.r#where);
    }
    words
}

/// Every number in effect that differs, a line each.
fn differences(on_board: &Draft, candidate: &Draft) -> String {
    let (was, is) = (on_board.values(), candidate.values());
    let mut words = String::new();
    for (key, value) in &is.values {
        if let Some(before) = was.values.get(key).filter(|before| (**before - value).abs() > 1e-9) {
            let _ = writeln!(words, "{key}: {before} on the board, {value}");
        }
    }
    for (name, was, is) in [
        ("drive", &was.curves.drive, &is.curves.drive),
        ("brake", &was.curves.brake, &is.curves.brake),
    ] {
        if was.points != is.points {
            let _ = writeln!(
                words,
                "the {name} curve: {:?} on the board, {:?}",
                was.handles, is.handles
            );
        }
    }
    if words.is_empty() { "nothing\n".to_owned() } else { words }
}

fn file_stem(path: &Path) -> String {
    path.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use std::path::PathBuf;

    use super::*;
    use crate::feel::{Machine, StandChosen, Stands, feel};

    fn draft() -> Draft {
        let path: PathBuf =
            Path::new(env!("CARGO_MANIFEST_DIR")).join("../examples/boards/lantern.toml");
        Draft::new(&path, std::fs::read_to_string(&path).unwrap()).unwrap()
    }

    #[test]
    fn a_candidate_is_told_beside_the_board_with_all_that_differs() {
        let on_board = draft();
        let candidate = on_board.with_number("throttle.drive_on_m_s3", 9.0).unwrap();
        let machine = Machine::new(on_board.file()).unwrap();
        let stands = Stands::of(on_board.file());
        let stand = stands
            .stand(&StandChosen {
                rider: "usual".to_owned(),
                charge: "half".to_owned(),
                air: "warm".to_owned(),
                surface: "asphalt".to_owned(),
                grade: 0.0,
            })
            .unwrap();
        let felt = |draft: &Draft| feel(&machine, draft.file(), &stand, None).unwrap();
        let (was, is) = (felt(&on_board), felt(&candidate));
        let page =
            compared("usual rider", (&on_board, &was), (&candidate, &is)).unwrap().page(Vec::new());
        for expected in [
            "throttle.drive_on_m_s3: 1.2 on the board, 9",
            "BROKEN",
            "Felt once it has settled",
            "The thumb let go: jerk",
            "drive_on_m_s3 = 9",
        ] {
            assert!(page.contains(expected), "{expected}");
        }
        assert!(!page.contains("softness: "), "what is the same is not told");
    }
}
