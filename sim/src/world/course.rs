//! Where the ride leads and when it stands: what the rider gets to see of a route or a schedule.
//!
//! Asked by `world` once a tick; asks `route`. Knows where the board really is, and nothing of
//! what the handheld believes.

use std::sync::Arc;

use crate::plant::rider::Sight;
use crate::route::{Here, Route, Schedule, Stop, Surface, Way};

/// So far ahead a rider looks for slower stretches.
const LOOKS_AHEAD_M: [f64; 4] = [4.0, 10.0, 20.0, 36.0];

/// A rider looks at the road this often, in ticks, and at the line to stand at all the time.
const LOOKS_EVERY: u32 = 5;

/// Slower stretches are met with this braking.
const SLOWS_WITH_M_S2: f64 = 0.7;

/// A stop further away than this is not thought of.
const STOP_IN_SIGHT_M: f64 = 80.0;

/// Standing means slower than this,
const STANDS_UNDER_M_S: f64 = 0.3;
/// no further from the line than this.
const STANDS_WITHIN_M: f64 = 3.0;

/// A wish slower than this, in a schedule, is a wish to stand.
const SCHEDULE_STANDS_UNDER_M_S: f64 = 0.2;

/// A rider knows a schedule by heart and acts a reaction before it is too late.
const SCHEDULE_PREVIEW_S: f64 = 0.8;

/// The first seconds a rider stands with the thumb at rest: the handheld wants to see that.
const STEPS_ON_S: f64 = 2.0;

/// What is ridden.
#[derive(Clone, Debug)]
pub enum Pattern {
    /// Along a way, by distance.
    Route(Arc<Route>),
    /// Speed against time, on the level.
    Schedule(Arc<Schedule>),
}

impl Pattern {
    /// What it is called.
    #[must_use]
    pub fn name(&self) -> &str {
        match self {
            Self::Route(route) => route.name(),
            Self::Schedule(schedule) => schedule.name(),
        }
    }
}

/// A rider's place in a pattern.
#[derive(Clone, Debug)]
pub(super) struct Course {
    pattern: Pattern,
    /// Where the ride ends, in metres or seconds; a fork rides on.
    end: Option<f64>,
    /// The stop that comes next.
    next: Option<Stop>,
    /// Standing until then.
    waits_until_s: Option<f64>,
    arrived: bool,
    /// Where the rider turned, in metres from the start: from there on the way leads back over itself.
    turned_at_m: Option<f64>,
    /// The stops of the way out, for the way back.
    passed: Vec<Stop>,
    /// What the road ahead allows, seen so many ticks ago.
    wish_m_s: f64,
    seen_for: u32,
}

impl Course {
    /// The beginning of a pattern, to be ridden so many times over; there and back is once.
    pub(super) fn new(pattern: Pattern, laps: u32) -> Self {
        let (end, next) = match &pattern {
            Pattern::Route(route) => {
                let ways = match route.way() {
                    Way::Again => 1.0,
                    Way::ThereAndBack => 2.0,
                };
                (route.length_m() * ways * f64::from(laps), route.next_stop(-f64::EPSILON))
            }
            Pattern::Schedule(schedule) => (schedule.duration_s() * f64::from(laps), None),
        };
        Self {
            pattern,
            end: Some(end),
            next,
            waits_until_s: Some(STEPS_ON_S),
            arrived: false,
            turned_at_m: None,
            passed: Vec::new(),
            wish_m_s: 0.0,
            seen_for: LOOKS_EVERY,
        }
    }

    /// The rider turns here: the way leads back to its beginning, climbs and wind turned round, and ends
    /// there. A schedule is ridden by time and leads nowhere.
    pub(super) fn turn(&mut self, distance_m: f64) {
        if self.turned_at_m.is_none() && matches!(self.pattern, Pattern::Route(_)) {
            self.turned_at_m = Some(distance_m);
            self.end = Some(2.0 * distance_m);
            self.seen_for = LOOKS_EVERY;
            self.next = self.stop_before();
        }
    }

    /// The next of the stops that were passed on the way out, where the way back meets it.
    fn stop_before(&mut self) -> Option<Stop> {
        let turned_at_m = self.turned_at_m?;
        self.passed.pop().map(|stop| Stop { at_m: 2.0 * turned_at_m - stop.at_m, ..stop })
    }

    /// The place of the pattern that is so far from the start along the way that is ridden.
    fn place_m(&self, distance_m: f64) -> f64 {
        match self.turned_at_m {
            Some(turned_at_m) if distance_m > turned_at_m => 2.0 * turned_at_m - distance_m,
            _ => distance_m,
        }
    }

    /// From now on the pattern is ridden over and over.
    pub(super) fn ride_on(&mut self) {
        if self.arrived {
            self.waits_until_s = None;
            self.arrived = false;
        }
        self.end = None;
    }

    /// How fast the rider last wanted to go.
    pub(super) const fn wish_m_s(&self) -> f64 {
        self.wish_m_s
    }

    /// Whether the ride has come to its end.
    pub(super) const fn arrived(&self) -> bool {
        self.arrived
    }

    /// How long the way is; nothing for one without end, or one by time.
    pub(super) const fn length_m(&self) -> Option<f64> {
        match self.pattern {
            Pattern::Route(_) => self.end,
            Pattern::Schedule(_) => None,
        }
    }

    /// The road under the board.
    pub(super) fn here(&self, distance_m: f64) -> Here {
        let Pattern::Route(route) = &self.pattern else { return LEVEL };
        let here = route.at(self.place_m(distance_m));
        if self.turned_at_m.is_some_and(|turned_at_m| distance_m > turned_at_m) {
            return here.turned();
        }
        here
    }

    /// What the rider sees at `now_s`, the board being where it is.
    pub(super) fn sight(&mut self, now_s: f64, distance_m: f64, speed_m_s: f64) -> Sight {
        if let Some(until_s) = self.waits_until_s {
            if now_s < until_s || self.arrived {
                return Sight { speed_m_s, wish_m_s: 0.0, stand_in_m: Some(0.0) };
            }
            self.waits_until_s = None;
        }
        match self.pattern.clone() {
            Pattern::Route(route) => self.sight_of_route(&route, now_s, distance_m, speed_m_s),
            Pattern::Schedule(schedule) => self.sight_of_schedule(&schedule, now_s, speed_m_s),
        }
    }

    fn sight_of_route(
        &mut self,
        route: &Route,
        now_s: f64,
        distance_m: f64,
        speed_m_s: f64,
    ) -> Sight {
        self.seen_for += 1;
        if self.seen_for >= LOOKS_EVERY {
            self.seen_for = 0;
            self.wish_m_s = self.wish_of(route, distance_m);
        }
        let wish_m_s = self.wish_m_s;
        let stands = speed_m_s.abs() < STANDS_UNDER_M_S;
        let end = self.end.map(|at_m| Stop { at_m, wait_s: f64::INFINITY });
        let next = match (self.next, end) {
            (Some(stop), Some(end)) if stop.at_m < end.at_m => Some(stop),
            (stop, None) => stop,
            (_, end) => end,
        };
        let Some(stop) = next else { return Sight { speed_m_s, wish_m_s, stand_in_m: None } };
        let way_m = stop.at_m - distance_m;
        if stands && way_m < STANDS_WITHIN_M {
            self.arrived = end.is_some_and(|end| stop.at_m >= end.at_m);
            self.waits_until_s = Some(now_s + stop.wait_s.min(f64::MAX));
            self.next = if self.turned_at_m.is_some() {
                self.stop_before()
            } else {
                if !self.arrived {
                    self.passed.push(stop);
                }
                route.next_stop(stop.at_m.max(distance_m))
            };
            return Sight { speed_m_s, wish_m_s: 0.0, stand_in_m: Some(0.0) };
        }
        let stand_in_m = (way_m < STOP_IN_SIGHT_M).then_some(way_m.max(0.0));
        Sight { speed_m_s, wish_m_s, stand_in_m }
    }

    /// What the road here and ahead lets a rider wish.
    fn wish_of(&self, route: &Route, distance_m: f64) -> f64 {
        let wish = |distance_m| route.at(self.place_m(distance_m)).speed_wish_m_s;
        LOOKS_AHEAD_M.into_iter().fold(wish(distance_m), |wish_m_s, ahead_m| {
            let there_m_s = wish(distance_m + ahead_m);
            let now_m_s = (there_m_s * there_m_s + 2.0 * SLOWS_WITH_M_S2 * ahead_m).sqrt();
            wish_m_s.min(now_m_s)
        })
    }

    fn sight_of_schedule(&mut self, schedule: &Schedule, now_s: f64, speed_m_s: f64) -> Sight {
        let ridden_s = now_s - STEPS_ON_S;
        if self.end.is_some_and(|end_s| ridden_s >= end_s) {
            self.arrived = speed_m_s.abs() < STANDS_UNDER_M_S;
            if self.arrived {
                self.waits_until_s = Some(now_s);
            }
            return Sight { speed_m_s, wish_m_s: 0.0, stand_in_m: Some(0.0) };
        }
        let duration_s = schedule.duration_s();
        let ahead_s = ridden_s + SCHEDULE_PREVIEW_S;
        // A table need not begin at nothing.
        let begins_s = schedule.points().first().map_or(0.0, |point| point.time_s);
        let lap_s = ahead_s - (ahead_s / duration_s).floor() * duration_s;
        let wish_m_s = schedule.speed_at(begins_s + lap_s);
        self.wish_m_s = wish_m_s;
        let stand_in_m = (wish_m_s < SCHEDULE_STANDS_UNDER_M_S).then_some(0.5);
        Sight { speed_m_s, wish_m_s, stand_in_m }
    }
}

/// Schedules are ridden on level, dry asphalt, as on a test bench.
const LEVEL: Here = Here {
    elevation_m: 0.0,
    grade: 0.0,
    surface: Surface::Asphalt,
    speed_wish_m_s: 0.0,
    headwind_m_s: 0.0,
    heading_deg: None,
};
