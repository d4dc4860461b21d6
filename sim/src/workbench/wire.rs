//! What page and server say to each other, as JSON; the words of `docs/workbench.md`.
//!
//! Shapes only. Read and written by `routes`.

use homestretch::throttle::Half;
use serde::{Deserialize, Deserializer, Serialize};
use serde_json::{Value, json};

use super::allowed::{Allowed, allowed};
use super::candidate::{Candidate, Wish};
use super::files::checksum;
use crate::feel::StandChosen;
use crate::tuning::{Change, CurveShown, Draft, Fault, TUNABLE};

/// A page asks for changes.
#[derive(Debug, Deserialize)]
pub(super) struct ChangesAsked {
    /// What it saw when it made them.
    pub(super) revision: u64,
    /// In their order.
    pub(super) changes: Vec<ChangeAsked>,
    /// Its own name.
    #[serde(default)]
    pub(super) page: String,
    /// What makes several of them one step.
    #[serde(default)]
    pub(super) gesture: Option<String>,
}

/// One of them: a key with a value or a text, a curve with handles, or the whole.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ChangeAsked {
    key: Option<String>,
    #[serde(default, deserialize_with = "stated")]
    value: Option<Option<f64>>,
    text: Option<String>,
    curve: Option<CurveAsked>,
    #[serde(default, deserialize_with = "stated")]
    handles: Option<Option<Vec<(f64, f64)>>>,
    whole: Option<WholeAsked>,
}

#[derive(Clone, Copy, Debug, Deserialize)]
#[serde(rename_all = "lowercase")]
enum CurveAsked {
    Drive,
    Brake,
}

#[derive(Clone, Copy, Debug, Deserialize)]
#[serde(rename_all = "snake_case")]
enum WholeAsked {
    OnBoard,
}

/// A field that says nothing is something else than one that is not there.
fn stated<'de, D, T>(field: D) -> Result<Option<Option<T>>, D::Error>
where
    D: Deserializer<'de>,
    T: Deserialize<'de>,
{
    Option::<T>::deserialize(field).map(Some)
}

impl ChangeAsked {
    /// What is wished for; in words, why that cannot be told.
    pub(super) fn wish(self) -> Result<Wish, String> {
        let Self { key, value, text, curve, handles, whole } = self;
        match (key, value, text, (curve, handles), whole) {
            (Some(key), Some(value), None, (None, None), None) => Ok(Wish::Change(match value {
                Some(value) => Change::Number { key, value },
                None => Change::Usual { key },
            })),
            (Some(key), None, Some(text), (None, None), None) => {
                Ok(Wish::Change(Change::Typed { key, text }))
            }
            (None, None, None, (Some(curve), Some(handles)), None) => {
                let half = match curve {
                    CurveAsked::Drive => Half::Drive,
                    CurveAsked::Brake => Half::Brake,
                };
                Ok(Wish::Change(match handles {
                    Some(handles) => Change::Handles { half, handles },
                    None => Change::UsualShape { half },
                }))
            }
            (None, None, None, (None, None), Some(WholeAsked::OnBoard)) => Ok(Wish::AsOnBoard),
            _ => {
                Err("a change is a key with a value or a text, a curve with handles, or the whole"
                    .to_owned())
            }
        }
    }
}

/// A page that only says who it is.
#[derive(Debug, Default, Deserialize)]
pub(super) struct PageAsks {
    /// Its own name.
    #[serde(default)]
    pub(super) page: String,
}

/// A page wants to know what the feet feel.
#[derive(Clone, Debug, Deserialize)]
pub(super) struct FeelAsked {
    /// On which stand.
    pub(super) stand: StandChosen,
    /// Along which ride, if along any.
    #[serde(default)]
    pub(super) ride: Option<String>,
}

/// The stand to begin with, where no page has chosen one.
pub(super) fn usual_stand() -> StandChosen {
    StandChosen {
        rider: "usual".to_owned(),
        charge: "half".to_owned(),
        air: "warm".to_owned(),
        surface: "asphalt".to_owned(),
        grade: 0.0,
    }
}

/// A stand and a ride in words.
pub(super) fn in_words(asked: &FeelAsked) -> String {
    let FeelAsked { stand, ride } = asked;
    let StandChosen { rider, charge, air, surface, grade } = stand;
    let ride = ride.as_deref().map_or_else(String::new, |ride| format!(", ride `{ride}`"));
    let (surface, percent) = (surface.replace('_', " "), grade * 100.0);
    format!("{rider} rider, {charge} pack, {air} air, {surface}, grade {percent:.0} %{ride}")
}

/// A draft as the page shows it.
pub(super) fn values(draft: &Draft) -> Value {
    let values = draft.values();
    let full_m_s2 = values.values.get("throttle.full_current_m_s2").copied();
    let curve = |shown: &CurveShown| {
        let ends = allowed(&shown.handles, full_m_s2.unwrap_or(f64::MAX));
        json!(CurveOnPage { shown, allowed: ends })
    };
    json!({
        "values": values.values,
        "given": values.given,
        "curves": { "drive": curve(&values.curves.drive), "brake": curve(&values.curves.brake) },
        "checksum": checksum(draft.file()),
    })
}

#[derive(Serialize)]
struct CurveOnPage<'v> {
    #[serde(flatten)]
    shown: &'v CurveShown,
    allowed: Vec<Allowed>,
}

/// Every number that can be tuned: unit, ends, meaning, and what it usually is on this board.
pub(super) fn keys(on_board: &Draft) -> Vec<Value> {
    // A board whose paces do not fit the usual settings has no usual ones to go back to.
    let usual = on_board.usual().unwrap_or_default();
    let key = |key: &crate::tuning::Tunable| {
        let (lowest, highest) = key.range();
        json!({
            "key": key.key, "unit": key.unit, "lowest": lowest, "highest": highest,
            "meaning": key.meaning, "group": key.group,
            "usual": usual.get(key.key).copied().flatten(),
        })
    };
    TUNABLE.iter().map(key).collect()
}

/// What every answer about the candidate says.
pub(super) fn answer(candidate: &Candidate, not_kept: Option<&str>) -> Value {
    json!({
        "revision": candidate.revision(),
        "candidate": values(candidate.draft()),
        "can_undo": candidate.history().can_undo(),
        "can_redo": candidate.history().can_redo(),
        "not_kept": not_kept,
    })
}

/// The same, with whether something was taken, and why not.
pub(super) fn judged(answer: Value, faults: &[Fault]) -> Value {
    let mut answer = answer;
    answer["accepted"] = json!(faults.is_empty());
    answer["faults"] = json!(faults);
    answer
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wish(text: &str) -> Result<Wish, String> {
        let asked: ChangeAsked = serde_json::from_str(text).map_err(|error| error.to_string())?;
        asked.wish()
    }

    #[test]
    fn a_change_is_what_the_page_writes() {
        let key = || "brake.charge_A".to_owned();
        let cases = [
            (
                r#"{"key":"brake.charge_A","value":12}"#,
                Wish::Change(Change::Number { key: key(), value: 12.0 }),
            ),
            (
                r#"{"key":"brake.charge_A","value":null}"#,
                Wish::Change(Change::Usual { key: key() }),
            ),
            (
                r#"{"key":"brake.charge_A","text":"1,4x"}"#,
                Wish::Change(Change::Typed { key: key(), text: "1,4x".to_owned() }),
            ),
            (
                r#"{"curve":"drive","handles":[[0.5,0.4],[1,1.6]]}"#,
                Wish::Change(Change::Handles {
                    half: Half::Drive,
                    handles: vec![(0.5, 0.4), (1.0, 1.6)],
                }),
            ),
            (
                r#"{"curve":"brake","handles":null}"#,
                Wish::Change(Change::UsualShape { half: Half::Brake }),
            ),
            (r#"{"whole":"on_board"}"#, Wish::AsOnBoard),
        ];
        for (text, meant) in cases {
            assert_eq!(wish(text), Ok(meant), "{text}");
        }
    }

    #[test]
    fn what_means_nothing_or_two_things_is_no_change() {
        for text in [
            "{}",
            r#"{"key":"brake.charge_A"}"#,
            r#"{"key":"brake.charge_A","value":1,"text":"1"}"#,
            r#"{"curve":"drive"}"#,
            r#"{"curve":"sideways","handles":null}"#,
            r#"{"whole":"on_board","key":"brake.charge_A","value":1}"#,
            r#"{"colour":"red"}"#,
            "7",
        ] {
            assert!(wish(text).is_err(), "{text}");
        }
    }
}
