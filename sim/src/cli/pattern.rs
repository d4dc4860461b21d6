//! What is to be ridden: a route, a track, a schedule, or an invented town.

use std::path::Path;
use std::sync::Arc;

use anyhow::Context as _;

use crate::board_file::BoardFile;
use crate::route::{Route, Schedule};
use crate::world::Pattern;

/// A published schedule is made for cars: its fastest becomes this share of the board's top speed,
const OF_TOP_SPEED: f64 = 0.95;
/// and no speed changes faster than a standing person bears without a hold: 0.11 to 0.15 g by
/// Hoberock 1977 (from memory).
const EASED_TO_M_S2: f64 = 1.3;

/// The pattern in a file: a schedule where its header has a `time_s`, a route or a track otherwise.
pub(super) fn open(path: &Path, board: &BoardFile) -> anyhow::Result<Pattern> {
    if is_schedule(path)? {
        let top_m_s = board.throttle.parts().limits.top_speed.end.to_f64() * OF_TOP_SPEED;
        let schedule = Schedule::open(path)?;
        let name = path.display();
        let schedule = if schedule.top_speed_m_s() > top_m_s {
            schedule.scaled_to(top_m_s).with_context(|| format!("cannot scale `{name}`"))?
        } else {
            schedule
        };
        let eased = schedule.eased(EASED_TO_M_S2);
        let eased = eased.with_context(|| format!("cannot ease `{name}`"))?;
        return Ok(Pattern::Schedule(Arc::new(eased)));
    }
    let route = Route::open(path)?;
    for note in route.notes() {
        eprintln!("note: `{}`: {note}", path.display());
    }
    Ok(Pattern::Route(Arc::new(route)))
}

fn is_schedule(path: &Path) -> anyhow::Result<bool> {
    let is_csv = path.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("csv"));
    if !is_csv {
        return Ok(false);
    }
    let text = std::fs::read_to_string(path)
        .with_context(|| format!("cannot read the route `{}`", path.display()))?;
    // As the reader takes it: without a mark of byte order, comments and blank lines.
    let lines = text.trim_start_matches('\u{feff}').lines().map(str::trim);
    let header = lines.into_iter().find(|line| !line.is_empty() && !line.starts_with('#'));
    let names = header.unwrap_or_default().split(',');
    Ok(names.into_iter().any(|name| name.trim().trim_matches('"') == "time_s"))
}
