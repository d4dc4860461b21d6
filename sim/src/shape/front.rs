//! Which candidates are better in nothing, and which few of the others are shown.

use super::candidate::Candidate;
use super::judge::{Judged, Worth};

/// How many things are weighed.
pub(super) const OBJECTIVES: usize = 4;

/// A candidate with what was found of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Member {
    /// Its numbers.
    pub candidate: Candidate,
    /// What was found.
    pub judged: Judged,
}

/// Whether `one` is no worse than `other` in anything, and better in something.
#[must_use]
pub fn dominates(one: &Worth, other: &Worth) -> bool {
    let pairs = objectives(one).into_iter().zip(objectives(other));
    let (mut better, mut worse) = (false, false);
    for (one, other) in pairs {
        better |= one < other;
        worse |= one > other;
    }
    better && !worse
}

/// What is to be small.
pub(super) fn objectives(worth: &Worth) -> [f64; OBJECTIVES] {
    [worth.to_speed_s, worth.strain, worth.stop_m, -worth.fineness_s2_m]
}

/// The members that no other dominates, in their order; of equal ones the first.
pub(super) fn undominated(members: Vec<Member>) -> Vec<Member> {
    let mut kept: Vec<Member> = Vec::new();
    for member in members {
        let worth = member.judged.worth;
        let beaten = kept.iter().any(|other| {
            let known = other.judged.worth;
            known == worth || dominates(&known, &worth)
        });
        if !beaten {
            kept.retain(|other| !dominates(&worth, &other.judged.worth));
            kept.push(member);
        }
    }
    kept
}

/// The order in which members of a front are shown: the balanced one, the best of each objective, then those
/// that lie furthest from all before them. With the name of each.
pub(super) fn ordered(front: &[Member]) -> Vec<(&'static str, usize)> {
    const BEST: [&str; OBJECTIVES] = ["liveliest", "gentlest", "soonest to stop", "finest"];
    let places: Vec<[f64; OBJECTIVES]> = scaled(front);
    let least = |of: &dyn Fn(&[f64; OBJECTIVES]) -> f64| {
        let numbered = places.iter().enumerate();
        numbered.min_by(|one, other| of(one.1).total_cmp(&of(other.1))).map(|(at, _)| at)
    };
    let mut chosen: Vec<(&'static str, usize)> = Vec::new();
    // Nearest to what would be best in everything.
    let balanced = least(&|place| place.iter().map(|part| part * part).sum());
    chosen.extend(balanced.map(|at| ("balanced", at)));
    for (objective, name) in BEST.into_iter().enumerate() {
        let best = least(&|place| place.get(objective).copied().unwrap_or(0.0));
        let fresh = best.filter(|at| chosen.iter().all(|(_, known)| known != at));
        chosen.extend(fresh.map(|at| (name, at)));
    }
    while chosen.len() < front.len() {
        let apart = |at: usize| {
            let of = |&(_, known): &(&str, usize)| distance(places.get(at), places.get(known));
            chosen.iter().map(of).fold(f64::MAX, f64::min)
        };
        let free = (0..front.len()).filter(|at| chosen.iter().all(|(_, known)| known != at));
        let furthest =
            free.max_by(|&one, &other| apart(one).total_cmp(&apart(other)).then(other.cmp(&one)));
        let Some(at) = furthest else { break };
        chosen.push(("in between", at));
    }
    chosen
}

/// Each objective from 0, the best of the front, to 1, the worst.
fn scaled(front: &[Member]) -> Vec<[f64; OBJECTIVES]> {
    let all: Vec<_> = front.iter().map(|member| objectives(&member.judged.worth)).collect();
    let mut ends = [(f64::MAX, f64::MIN); OBJECTIVES];
    for place in &all {
        for ((low, high), value) in ends.iter_mut().zip(place) {
            (*low, *high) = (low.min(*value), high.max(*value));
        }
    }
    let place = |mut place: [f64; OBJECTIVES]| {
        for (value, (low, high)) in place.iter_mut().zip(ends) {
            *value = if high > low { (*value - low) / (high - low) } else { 0.0 };
        }
        place
    };
    all.into_iter().map(place).collect()
}

fn distance(one: Option<&[f64; OBJECTIVES]>, other: Option<&[f64; OBJECTIVES]>) -> f64 {
    let (Some(one), Some(other)) = (one, other) else { return 0.0 };
    one.iter().zip(other).map(|(one, other)| (one - other) * (one - other)).sum()
}
