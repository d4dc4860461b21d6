//! Which limits act on a stand, what they take, and from which speed on.

use std::collections::BTreeMap;

use homestretch::throttle::{Reason, Settings};
use serde::Serialize;

use super::machine::Standing;
use super::thumb::Drum;
use super::words::{id, rounded};
use crate::report::summary::name;

/// Speeds that are looked at, up to the top speed.
const SPEEDS: u32 = 12;

/// A limit that acts.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Acting {
    /// Its short name.
    pub id: String,
    /// In words.
    pub name: &'static str,
    /// What it takes.
    pub what: &'static str,
    /// The least that is left of the full drive where it acts.
    pub drive_left: Option<f64>,
    /// The least that is left of the full brake where it acts.
    pub brake_left: Option<f64>,
    /// At which speeds.
    pub r#where: String,
}

/// What has been seen of a limit.
#[derive(Clone, Copy, Debug, Default)]
struct Seen {
    drive_left: Option<f64>,
    brake_left: Option<f64>,
    slowest_m_s: f64,
    fastest_m_s: f64,
}

/// The limits that act on the full thumb, either way, from a stand to the top speed; the strongest first.
#[must_use]
pub fn acting(board: &Standing, settings: &Settings) -> Vec<Acting> {
    let top_m_s = settings.parts().limits.top_speed.end.to_f64();
    let mut seen: BTreeMap<Reason, Seen> = BTreeMap::new();
    for at in 0..=SPEEDS {
        let speed_m_s = top_m_s * f64::from(at) / f64::from(SPEEDS);
        let drum = Drum::new(board, settings, speed_m_s);
        for thumb in [1.0, -1.0] {
            let settled = drum.settled(thumb);
            for reason in settled.reasons.iter() {
                let fresh = Seen { slowest_m_s: speed_m_s, ..Seen::default() };
                let seen = seen.entry(reason).or_insert(fresh);
                seen.fastest_m_s = speed_m_s;
                let left = if thumb > 0.0 { &mut seen.drive_left } else { &mut seen.brake_left };
                *left = settled.left.map(|now| left.map_or(now, |before: f64| before.min(now)));
            }
        }
    }
    seen.into_iter().map(|(reason, seen)| told(reason, &seen, top_m_s)).collect()
}

fn told(reason: Reason, seen: &Seen, top_m_s: f64) -> Acting {
    let what = match (seen.drive_left, seen.brake_left) {
        (Some(_), Some(_)) => "takes drive and brake",
        (Some(_), None) => "takes drive",
        (None, Some(_)) => "takes brake",
        (None, None) => "takes nothing of a full thumb",
    };
    let (slowest_m_s, fastest_m_s) = (seen.slowest_m_s, seen.fastest_m_s);
    let from_stand = slowest_m_s <= 0.0;
    let r#where = match (from_stand, fastest_m_s >= top_m_s) {
        (true, true) => "at every speed".to_owned(),
        (true, false) => format!("up to {fastest_m_s:.1} m/s"),
        (false, true) => format!("from {slowest_m_s:.1} m/s"),
        (false, false) if fastest_m_s <= slowest_m_s => format!("at about {slowest_m_s:.1} m/s"),
        (false, false) => format!("from {slowest_m_s:.1} to {fastest_m_s:.1} m/s"),
    };
    let (drive_left, brake_left) = (seen.drive_left.map(rounded), seen.brake_left.map(rounded));
    Acting { id: id(reason), name: name(reason), what, drive_left, brake_left, r#where }
}
