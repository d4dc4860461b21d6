//! What can be wrong with a route or a schedule: which quantity, where, its value, what is allowed.
//!
//! Returned by `prepared` and `schedule`; the file readers add lines.

use std::fmt;

/// A quantity of an outline, named as files name it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
#[allow(missing_docs, reason = "each is named by `key`")]
pub enum Quantity {
    StartElevation,
    Length,
    GradePercent,
    EndElevation,
    SpeedWish,
    Headwind,
    WindSpeed,
    WindFrom,
    Heading,
    StopAt,
    StopFor,
}

impl Quantity {
    /// Its name in files.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::StartElevation => "start_elevation_m",
            Self::Length => "length_m",
            Self::GradePercent => "grade_percent",
            Self::EndElevation => "end_elevation_m",
            Self::SpeedWish => "speed_wish_m_s",
            Self::Headwind => "headwind_m_s",
            Self::WindSpeed => "wind_m_s",
            Self::WindFrom => "wind_from_deg",
            Self::Heading => "heading_deg",
            Self::StopAt => "at_m",
            Self::StopFor => "stop_for_s",
        }
    }
}

/// A part of an outline; segments and stops are counted from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Place {
    /// The route as a whole.
    Whole,
    /// A segment.
    Segment(usize),
    /// A stop.
    Stop(usize),
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Whole => f.write_str("route"),
            Self::Segment(number) => write!(f, "segment {number}"),
            Self::Stop(number) => write!(f, "stop {number}"),
        }
    }
}

/// One fault of a route.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum RouteError {
    /// A value that is not allowed.
    #[error("{place}: {} is {given}; {lowest} to {highest} is allowed", quantity.key())]
    OutOfRange {
        /// Where.
        place: Place,
        /// What.
        quantity: Quantity,
        /// As given, in the unit of its name.
        given: f64,
        /// The least allowed.
        lowest: f64,
        /// The greatest allowed.
        highest: f64,
    },
    /// An elevation at a segment's end that its length cannot reach.
    #[error(
        "{place}: end_elevation_m is {given}; over {length_m} m from {from_m} m that is steeper \
         than the {steepest_percent} % allowed"
    )]
    TooSteep {
        /// Where.
        place: Place,
        /// The elevation, m.
        given: f64,
        /// The elevation at the segment's start, m.
        from_m: f64,
        /// The segment's length, m.
        length_m: f64,
        /// Percent.
        steepest_percent: f64,
    },
    /// A wind with a direction over a segment without one.
    #[error("{place}: heading_deg is missing; wind_from_deg needs it")]
    HeadingMissing {
        /// Where.
        place: Place,
    },
    /// No segment at all.
    #[error("route: it has no segment; at least one is wanted")]
    Empty,
    /// More metres than a route may have.
    #[error("route: its length is {length_m} m; {longest_m} m at most are allowed")]
    TooLong {
        /// m.
        length_m: f64,
        /// m.
        longest_m: f64,
    },
}

impl RouteError {
    /// The part that is wrong and, where one value is to blame, its key in files.
    #[must_use]
    pub const fn culprit(&self) -> (Place, Option<&'static str>) {
        match self {
            Self::OutOfRange { place, quantity, .. } => (*place, Some(quantity.key())),
            Self::TooSteep { place, .. } => (*place, Some(Quantity::EndElevation.key())),
            Self::HeadingMissing { place } => (*place, None),
            Self::Empty | Self::TooLong { .. } => (Place::Whole, None),
        }
    }
}

/// Every fault of a route; at least one.
#[derive(Clone, Debug, PartialEq)]
pub struct RouteErrors(pub Vec<RouteError>);

impl fmt::Display for RouteErrors {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, error) in self.0.iter().enumerate() {
            if index > 0 {
                writeln!(f)?;
            }
            write!(f, "{error}")?;
        }
        Ok(())
    }
}

impl std::error::Error for RouteErrors {}

/// What is wrong with a schedule.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ScheduleError {
    /// Too few points.
    #[error("the schedule has {given} points; 2 to {most} are allowed")]
    PointCount {
        /// How many.
        given: usize,
        /// The most allowed.
        most: usize,
    },
    /// A speed that is not allowed.
    #[error("point {number}: the speed is {given_m_s} m/s; 0 to {highest_m_s} is allowed")]
    Speed {
        /// Of the point, from 1.
        number: usize,
        /// m/s.
        given_m_s: f64,
        /// m/s.
        highest_m_s: f64,
    },
    /// A time that is no number, or beyond what is allowed.
    #[error("point {number}: time_s is {given_s}; 0 to {highest_s} is allowed")]
    Time {
        /// Of the point, from 1.
        number: usize,
        /// s.
        given_s: f64,
        /// s.
        highest_s: f64,
    },
    /// Times that do not rise.
    #[error(
        "point {number}: time_s is {given_s}; it has to be later than {before_s}, by {least_s} s at least"
    )]
    Order {
        /// Of the point, from 1.
        number: usize,
        /// s.
        given_s: f64,
        /// s.
        before_s: f64,
        /// s.
        least_s: f64,
    },
    /// A wished top speed or acceleration that is not allowed.
    #[error("{what} is {given}; more than 0, up to {highest} is allowed")]
    Wish {
        /// Its name.
        what: &'static str,
        /// In the unit of its name.
        given: f64,
        /// In the unit of its name.
        highest: f64,
    },
    /// A schedule that never moves cannot be made faster.
    #[error("the schedule stands still all the time; it cannot be scaled")]
    StandsStill,
}

impl ScheduleError {
    /// The number of the point that is wrong, from 1, where it is one point.
    #[must_use]
    pub const fn point(&self) -> Option<usize> {
        match self {
            Self::Speed { number, .. } | Self::Time { number, .. } | Self::Order { number, .. } => {
                Some(*number)
            }
            Self::PointCount { .. } | Self::Wish { .. } | Self::StandsStill => None,
        }
    }
}
