//! The comparison of candidate and board as one file: pictures, what differs, laws, numbers, inputs.
//!
//! Asked by `bench`; `report` makes the page of it. Every number was worked out by `feel` or `tuning`.

use std::fmt::Write as _;
use std::path::Path;

use serde_json::{Value, json};

use super::chart::{Chart, Line};
use super::files::checksum;
use crate::report::html::Report;
use crate::tuning::{Draft, TUNABLE, Values};

/// What is compared.
#[derive(Debug)]
pub(super) struct Comparison<'a> {
    /// What is on the board.
    pub(super) on_board: &'a Draft,
    /// What is tuned.
    pub(super) candidate: &'a Draft,
    /// What is felt of both, as the page has it.
    pub(super) felt: [Value; 2],
    /// Where one stands, in words.
    pub(super) stand: String,
    /// Where the candidate is kept.
    pub(super) kept: &'a Path,
}

impl Comparison<'_> {
    /// The report's text.
    pub(super) fn page(&self) -> String {
        let mark = |draft: &Draft| checksum(draft.file()).unwrap_or_else(|| "none".to_owned());
        let name = &self.on_board.file().name;
        let title = format!("{name}: a candidate beside what is on the board");
        let result = format!(
            "{} Checksums: candidate {}, on the board {}.",
            self.verdict(),
            mark(self.candidate),
            mark(self.on_board)
        );
        let mut report = Report::new(title, result).words("Felt by whom, and where", &*self.stand);
        for (caption, svg) in self.drawings() {
            report = report.drawing(caption, &svg);
        }
        let [on_board, candidate] = &self.felt;
        let numbers = json!({
            "on_board": { "ride": on_board["ride"], "stops": on_board["stops"] },
            "candidate": { "ride": candidate["ride"], "stops": candidate["stops"] },
        });
        report
            .words("Different from the board", self.differences())
            .words("Laws", self.laws())
            .numbers("Ride and stops", numbers)
            .input(self.on_board.path(), self.on_board.text())
            .input(self.kept, self.candidate.text())
            .page(
                ["homestretch", "workbench", "--board"]
                    .map(ToOwned::to_owned)
                    .into_iter()
                    .chain([self.on_board.path().display().to_string()]),
            )
    }

    fn verdict(&self) -> String {
        let laws = list(&self.felt[1]["verdict"]["laws"]);
        let broken = laws.iter().filter(|law| law["holds"] == json!(false)).count();
        match broken {
            0 => format!("The candidate holds every law ({} looked at).", laws.len()),
            _ => format!("The candidate breaks {broken} of {} laws.", laws.len()),
        }
    }

    fn drawings(&self) -> Vec<(&'static str, String)> {
        let values = [self.on_board, self.candidate].map(Draft::values);
        let asked = values.each_ref().map(curves);
        let mut drawings = vec![(
            "What the thumb asks, brake to the left. Dashed: on the board.",
            Chart { across: "thumb", up: "m/s²" }.of(&both(asked)),
        )];
        for (part, caption) in [
            ("step", "Full thumb at a slow roll: what is felt. Dashed: on the board."),
            ("release", "The thumb let go: what is felt. Dashed: on the board."),
            ("brake", "Full brake at speed: what is felt. Dashed: on the board."),
        ] {
            let felt = self.felt.each_ref().map(|felt| {
                let [times, felt] = ["time_s", "acceleration_m_s2"].map(|key| &felt[part][key]);
                list(times)
                    .iter()
                    .zip(list(felt))
                    .filter_map(|(time, felt)| Some((time.as_f64()?, felt.as_f64()?)))
                    .collect()
            });
            drawings.push((caption, Chart { across: "s", up: "m/s²" }.of(&both(felt))));
        }
        drawings
    }

    fn differences(&self) -> String {
        let [before, after] = [self.on_board, self.candidate].map(Draft::values);
        let mut told = String::new();
        for (name, before, after) in [
            ("drive curve", &before.curves.drive, &after.curves.drive),
            ("brake curve", &before.curves.brake, &after.curves.brake),
        ] {
            if before != after {
                let handles = |handles: &[(f64, f64)]| {
                    let pair = |(thumb, m_s2): &(f64, f64)| format!("{thumb}: {m_s2}");
                    handles.iter().map(pair).collect::<Vec<_>>().join(", ")
                };
                let (before, after) = (handles(&before.handles), handles(&after.handles));
                // Writing to a text does not fail.
                let _ = writeln!(
                    told,
                    "{name}: handles {before} on the board, {after} in the candidate"
                );
            }
        }
        for key in &TUNABLE {
            let (before, after) = (before.values.get(key.key), after.values.get(key.key));
            if let (Some(before), Some(after)) = (before, after)
                && before.total_cmp(after).is_ne()
            {
                let (key, unit) = (key.key, key.unit);
                let _ =
                    writeln!(told, "{key}: {before} on the board, {after} in the candidate {unit}");
            }
        }
        if told.is_empty() { "The candidate is what is on the board.".to_owned() } else { told }
    }

    fn laws(&self) -> String {
        let mut told = String::new();
        for law in list(&self.felt[1]["verdict"]["laws"]) {
            let word = |key: &str| law[key].as_str().unwrap_or_default();
            let holds = if law["holds"] == json!(true) { "holds " } else { "BREAKS" };
            let _ = writeln!(
                told,
                "{holds} {}: {} {unit}, the limit is {} {unit} ({})",
                word("law"),
                law["found"],
                law["limit"],
                word("where"),
                unit = word("unit"),
            );
        }
        told
    }
}

fn list(value: &Value) -> &[Value] {
    value.as_array().map_or(&[], Vec::as_slice)
}

/// Brake to the left and down, drive to the right and up.
fn curves(values: &Values) -> Vec<(f64, f64)> {
    let brake = values.curves.brake.points.iter().rev().map(|(thumb, m_s2)| (-thumb, -m_s2));
    brake.chain(values.curves.drive.points.iter().copied()).collect()
}

fn both([on_board, candidate]: [Vec<(f64, f64)>; 2]) -> [Line; 2] {
    [Line { points: candidate, dashed: false }, Line { points: on_board, dashed: true }]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::feel::{Machine, Stand, feel};

    #[test]
    fn it_names_what_differs_which_laws_break_and_draws_both() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../examples/boards/lantern.toml");
        let on_board = Draft::new(path, std::fs::read_to_string(path).unwrap()).unwrap();
        let candidate = on_board.with_number("throttle.drive_on_m_s3", 4.0).unwrap();
        let machine = Machine::new(on_board.file()).unwrap();
        let stand = Stand {
            mass_kg: 88.0,
            charge: 0.5,
            cell_degC: 22.0,
            air_degC: 22.0,
            surface: crate::route::Surface::Asphalt,
            grade: 0.0,
        };
        let felt = [&on_board, &candidate]
            .map(|draft| json!(feel(&machine, draft.file(), &stand, Some("path")).unwrap()));
        let page = Comparison {
            on_board: &on_board,
            candidate: &candidate,
            felt,
            stand: "usual rider <b>".to_owned(),
            kept: Path::new("/secret/lantern.candidate.toml"),
        }
        .page();
        for word in [
            "throttle.drive_on_m_s3: 1.2 on the board, 4 in the candidate",
            "BREAKS drive comes no harder than the lightest rider bears",
            "usual rider &lt;b&gt;",
            "drive_on_m_s3 = 4",
        ] {
            assert!(page.contains(word), "{word}");
        }
        assert_eq!(page.matches("<svg").count(), 4);
        assert!(!page.contains("/secret/") && !page.contains("http://evil"));
    }
}
