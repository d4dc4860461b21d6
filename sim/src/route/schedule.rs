//! Speed against time, point by point, as published driving schedules are.
//!
//! Read by `schedule_file`. Schedules made for cars and motorcycles become ridable by
//! [`Schedule::scaled_to`] (a lower top speed; accelerations shrink with it) and
//! [`Schedule::eased`] (a bounded acceleration; the way gets shorter).

use super::error::ScheduleError;
use super::even_index::EvenIndex;

/// A speed at a time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// From the start, s.
    pub time_s: f64,
    /// m/s, not negative.
    pub speed_m_s: f64,
}

/// A table of speed against time, straight between its points.
#[derive(Clone, Debug, PartialEq)]
pub struct Schedule {
    name: String,
    points: Vec<Point>,
    index: EvenIndex,
    /// By interval, m/s².
    slopes: Vec<f64>,
}

/// Published schedules go to some 36 m/s.
const FASTEST_M_S: f64 = 70.0;
/// Two days.
const LONGEST_S: f64 = 172_800.0;
/// The step of the simulator, which cannot follow anything finer.
const LEAST_STEP_S: f64 = 0.01;
/// One a second for a day; bounds the memory.
const MOST_POINTS: usize = 100_000;
/// Ten times the hardest braking that tyres do.
const HARDEST_M_S2: f64 = 100.0;

impl Schedule {
    /// The schedule through points whose times rise, at least two.
    ///
    /// # Errors
    /// The first fault: too few or too many points, a speed outside 0 to 70 m/s, a time outside 0
    /// to 172 800 s, times that do not rise by 0.01 s at least.
    pub fn new(name: &str, points: Vec<Point>) -> Result<Self, ScheduleError> {
        if !(2..=MOST_POINTS).contains(&points.len()) {
            return Err(ScheduleError::PointCount { given: points.len(), most: MOST_POINTS });
        }
        let mut before: Option<f64> = None;
        for (point, number) in points.iter().zip(1..) {
            check(*point, number, before)?;
            before = Some(point.time_s);
        }
        let starts = points.iter().take(points.len() - 1).map(|point| point.time_s).collect();
        let end_s = before.unwrap_or(0.0);
        let slopes = points.windows(2).map(slope_of).collect();
        Ok(Self { name: name.to_owned(), index: EvenIndex::new(starts, end_s), points, slopes })
    }

    /// The speed at a time in s, m/s, straight between points; before the first and after the last
    /// point it is theirs. No number is the first point.
    #[inline]
    #[must_use]
    pub fn speed_at(&self, time_s: f64) -> f64 {
        let interval = self.index.find(time_s);
        let (Some(from), Some(to), Some(slope)) =
            (self.points.get(interval), self.points.get(interval + 1), self.slopes.get(interval))
        else {
            return 0.0;
        };
        if time_s >= to.time_s {
            to.speed_m_s
        } else if time_s > from.time_s {
            // Rounding may not undercut standstill.
            (from.speed_m_s + (time_s - from.time_s) * slope).max(0.0)
        } else {
            from.speed_m_s
        }
    }

    /// What it is called.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Its points, times rising.
    #[must_use]
    pub fn points(&self) -> &[Point] {
        &self.points
    }

    /// From the first point to the last, s.
    #[must_use]
    pub fn duration_s(&self) -> f64 {
        match (self.points.first(), self.points.last()) {
            (Some(first), Some(last)) => last.time_s - first.time_s,
            _ => 0.0,
        }
    }

    /// The way that it covers, m: the sum of trapezoids, exact for straight lines.
    #[must_use]
    pub fn distance_m(&self) -> f64 {
        let way = |pair: &[Point]| match pair {
            [a, b] => (b.time_s - a.time_s) * (a.speed_m_s + b.speed_m_s) / 2.0,
            _ => 0.0,
        };
        self.points.windows(2).map(way).sum()
    }

    /// The greatest speed, m/s.
    #[must_use]
    pub fn top_speed_m_s(&self) -> f64 {
        self.points.iter().map(|point| point.speed_m_s).fold(0.0, f64::max)
    }

    /// The hardest gain of speed, m/s², not negative.
    #[must_use]
    pub fn greatest_acceleration_m_s2(&self) -> f64 {
        self.slopes.iter().copied().fold(0.0, f64::max)
    }

    /// The hardest loss of speed, m/s², not negative.
    #[must_use]
    pub fn greatest_braking_m_s2(&self) -> f64 {
        self.slopes.iter().map(|slope| -slope).fold(0.0, f64::max)
    }

    /// The same schedule with every speed in proportion, so that the greatest is as wished (m/s).
    ///
    /// Times stay: distance and accelerations shrink or grow by the same factor.
    ///
    /// # Errors
    /// A top speed not above 0 or above 70 m/s; a schedule that never moves.
    pub fn scaled_to(&self, top_speed_m_s: f64) -> Result<Self, ScheduleError> {
        wish("top_speed_m_s", top_speed_m_s, FASTEST_M_S)?;
        let top = self.top_speed_m_s();
        if top <= 0.0 {
            return Err(ScheduleError::StandsStill);
        }
        let scaled = self.points.iter().map(|point| {
            // Rounding may not exceed the wish.
            let speed_m_s = (point.speed_m_s / top * top_speed_m_s).min(top_speed_m_s);
            Point { speed_m_s, ..*point }
        });
        Self::new(&self.name, scaled.collect())
    }

    /// The fastest schedule nowhere faster than this one whose speed changes by at most so much,
    /// up or down, m/s².
    ///
    /// The end of a braking begins earlier, the end of a start comes later; the way gets shorter.
    ///
    /// # Errors
    /// A limit not above 0 or above 100 m/s².
    pub fn eased(&self, max_accel_m_s2: f64) -> Result<Self, ScheduleError> {
        self.eased_apart(max_accel_m_s2, max_accel_m_s2)
    }

    /// As [`Self::eased`], with a limit for gaining speed and another for losing it, m/s².
    ///
    /// # Errors
    /// A limit not above 0 or above 100 m/s².
    pub fn eased_apart(&self, gain_m_s2: f64, loss_m_s2: f64) -> Result<Self, ScheduleError> {
        wish("max_accel_m_s2", gain_m_s2, HARDEST_M_S2)?;
        wish("max_accel_m_s2", loss_m_s2, HARDEST_M_S2)?;
        let mut points = self.points.clone();
        ease(points.iter_mut(), gain_m_s2);
        ease(points.iter_mut().rev(), loss_m_s2);
        Self::new(&self.name, points)
    }
}

/// Holds the gain of speed from each point to the next one met.
fn ease<'p>(points: impl Iterator<Item = &'p mut Point>, limit_m_s2: f64) {
    let mut before: Option<Point> = None;
    for point in points {
        if let Some(before) = before {
            let reached = before.speed_m_s + limit_m_s2 * (point.time_s - before.time_s).abs();
            point.speed_m_s = point.speed_m_s.min(reached);
        }
        before = Some(*point);
    }
}

fn slope_of(pair: &[Point]) -> f64 {
    match pair {
        [a, b] => (b.speed_m_s - a.speed_m_s) / (b.time_s - a.time_s),
        _ => 0.0,
    }
}

/// Refuses a point, `number` from 1, that cannot follow the time before.
pub(super) fn check(
    point: Point,
    number: usize,
    before_s: Option<f64>,
) -> Result<(), ScheduleError> {
    let Point { time_s: given_s, speed_m_s: given_m_s } = point;
    if !(0.0..=FASTEST_M_S).contains(&given_m_s) {
        return Err(ScheduleError::Speed { number, given_m_s, highest_m_s: FASTEST_M_S });
    }
    if !(0.0..=LONGEST_S).contains(&given_s) {
        return Err(ScheduleError::Time { number, given_s, highest_s: LONGEST_S });
    }
    match before_s {
        // A millionth of the step: 0.01 s apart in decimals is not always so in binary.
        Some(before_s) if given_s - before_s < LEAST_STEP_S * (1.0 - 1e-6) => {
            Err(ScheduleError::Order { number, given_s, before_s, least_s: LEAST_STEP_S })
        }
        _ => Ok(()),
    }
}

fn wish(what: &'static str, given: f64, highest: f64) -> Result<(), ScheduleError> {
    if given > 0.0 && given <= highest {
        Ok(())
    } else {
        Err(ScheduleError::Wish { what, given, highest })
    }
}

#[cfg(test)]
mod tests;
