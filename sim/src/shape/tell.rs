//! What a search came to, in words and as JSON.

use std::fmt;

use serde_json::{Map, Value, json};

use super::ShapeError;
use super::candidate::Candidate;
use super::judge::{FIRST_M_S2, Judge, Worth};
use super::search::as_it_is;
use crate::feel::{Law, Verdict};
use crate::tuning::Draft;

/// One trade-off.
#[derive(Clone, Debug)]
pub struct TradeOff {
    /// What it is best in.
    pub name: &'static str,
    /// Its numbers.
    pub candidate: Candidate,
    /// What it is worth.
    pub worth: Worth,
    /// The board file with it.
    pub draft: Draft,
    /// The laws on the finer grid.
    pub verdict: Verdict,
}

/// What a search came to.
#[derive(Clone, Debug)]
pub struct Shaped {
    /// The balanced one first.
    pub trade_offs: Vec<TradeOff>,
    /// What the board's own settings are worth.
    pub now: Worth,
    /// The laws that they break on the finer grid.
    pub now_breaks: Vec<Law>,
    /// How many were judged, and how many of them kept all laws.
    pub judged: (usize, usize),
    /// On so many stands, and on so many at the end.
    pub stands: (usize, usize),
    /// The speed that liveliness is measured to.
    pub to_speed_m_s: f64,
    name: String,
}

impl Shaped {
    pub(super) fn new(
        draft: &Draft,
        judge: &Judge,
        trade_offs: Vec<TradeOff>,
        judged: (usize, usize),
    ) -> Result<Self, ShapeError> {
        let laws = judge.look_again(draft.file())?.laws;
        Ok(Self {
            trade_offs,
            now: as_it_is(draft, judge).worth,
            now_breaks: laws.into_iter().filter(|law| !law.holds).collect(),
            judged,
            stands: judge.stands(),
            to_speed_m_s: judge.to_speed_m_s(),
            name: draft.file().name.clone(),
        })
    }

    /// The one that is written.
    #[must_use]
    pub fn balanced(&self) -> Option<&TradeOff> {
        self.trade_offs.first()
    }

    /// As one JSON object.
    #[must_use]
    pub fn json(&self) -> Value {
        let trade_offs: Vec<Value> =
            self.trade_offs.iter().map(|one| self.trade_off_json(one)).collect();
        json!({
            "board": self.name,
            "to_speed_m_s": self.to_speed_m_s,
            "judged": self.judged.0,
            "kept_all_laws": self.judged.1,
            "stands": self.stands.0,
            "stands_of_last_look": self.stands.1,
            "now": { "worth": worth_json(&self.now), "breaks": self.now_breaks },
            "trade_offs": trade_offs,
        })
    }

    fn trade_off_json(&self, one: &TradeOff) -> Value {
        let settings: Map<String, Value> = one
            .candidate
            .numbers()
            .into_iter()
            .map(|(key, value)| (key.to_owned(), json!(value)))
            .collect();
        json!({
            "name": one.name,
            "worth": worth_json(&one.worth),
            "costs": self.costs(one),
            "settings": settings,
            "laws": one.verdict.laws,
        })
    }

    /// What it costs beside the balanced one; that one beside the settings of now.
    fn costs(&self, one: &TradeOff) -> String {
        match self.balanced() {
            Some(balanced) if balanced.name != one.name => {
                compared(&one.worth, &balanced.worth, "the balanced one")
            }
            Some(_) | None => compared(&one.worth, &self.now, "now"),
        }
    }
}

fn worth_json(worth: &Worth) -> Value {
    json!({
        "to_speed_s": rounded(worth.to_speed_s),
        "strain": rounded(worth.strain),
        "stop_m": rounded(worth.stop_m),
        "fineness_s2_m": rounded(worth.fineness_s2_m),
    })
}

fn rounded(value: f64) -> f64 {
    (value * 1e3).round() / 1e3
}

/// In words: slower or quicker, gentler or harder, finer or coarser.
fn compared(one: &Worth, other: &Worth, than: &str) -> String {
    let seconds = one.to_speed_s - other.to_speed_s;
    let strain = (one.strain - other.strain) * 100.0;
    let stop_m = one.stop_m - other.stop_m;
    let fineness = (one.fineness_s2_m / other.fineness_s2_m.max(1e-9) - 1.0) * 100.0;
    let word = |value: f64, least: f64, (less, more): (&str, &str), unit: &str, digits: usize| {
        if value.abs() < least {
            None
        } else {
            let word = if value < 0.0 { less } else { more };
            Some(format!("{:.digits$}{unit} {word}", value.abs()))
        }
    };
    let parts: Vec<String> = [
        word(seconds, 0.05, ("quicker", "slower"), " s", 1),
        word(strain, 0.5, ("less of what riders bear", "more of what riders bear"), " %", 0),
        word(stop_m, 0.1, ("shorter to stop", "longer to stop"), " m", 1),
        word(fineness, 0.5, ("coarser", "finer"), " %", 0),
    ]
    .into_iter()
    .flatten()
    .collect();
    if parts.is_empty() {
        format!("as {than}")
    } else {
        format!("than {than}: {}", parts.join(", "))
    }
}

impl fmt::Display for Shaped {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (judged, kept) = self.judged;
        let (stands, last) = self.stands;
        writeln!(
            f,
            "{}: {judged} settings on {stands} stands, {kept} kept all laws; those shown do on {last} stands",
            self.name
        )?;
        writeln!(f, "now: {}", line(&self.now, self.to_speed_m_s))?;
        for law in &self.now_breaks {
            let Law { law, found, limit, unit, r#where, .. } = law;
            writeln!(f, "  breaks: {law}: {found} {unit}, {limit} is allowed ({where})")?;
        }
        for one in &self.trade_offs {
            writeln!(f, "{}: {}", one.name, line(&one.worth, self.to_speed_m_s))?;
            writeln!(f, "  {}", self.costs(one))?;
            let numbers = one.candidate.numbers().map(|(key, value)| format!("{key} {value}"));
            writeln!(f, "  {}", numbers.join(", "))?;
        }
        Ok(())
    }
}

fn line(worth: &Worth, to_speed_m_s: f64) -> String {
    format!(
        "{to_speed_m_s} m/s after {:.1} s, {:.0} % of what riders bear, the heaviest stops in {:.1} m, the first \
         {FIRST_M_S2} m/s² on {:.0} % of the thumb's way",
        worth.to_speed_s,
        worth.strain * 100.0,
        worth.stop_m,
        worth.fineness_s2_m * FIRST_M_S2 * 100.0
    )
}
