//! A route as a person describes it: segments in order, and places to stop.
//!
//! Made by `draft` from a file, or in code; checked and prepared by `prepared`.

use super::surface::Surface;
use super::way::Way;

/// A whole route, not checked yet.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Outline {
    /// What it is called.
    pub name: String,
    /// Height above the sea at the start, m.
    pub start_elevation_m: f64,
    /// What comes after the end.
    pub way: Way,
    /// In the order in which they are ridden; at least one.
    pub segments: Vec<Segment>,
    /// In any order.
    pub stops: Vec<Stop>,
}

/// A part of a route along which nothing changes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Segment {
    /// Along the road, m.
    pub length_m: f64,
    /// How it climbs.
    pub slope: Slope,
    /// What the wheels roll on.
    pub surface: Surface,
    /// The speed at which the rider would like to ride here, m/s.
    pub speed_wish_m_s: f64,
    /// The air's own movement.
    pub wind: Wind,
    /// Where it leads: 0 is north, 90 east.
    pub heading_deg: Option<f64>,
}

/// How a segment climbs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Slope {
    /// Rise over horizontal run as on road signs, in percent; uphill positive.
    GradePercent(f64),
    /// By the height above the sea at the segment's end, m.
    EndElevation(f64),
}

/// The air's movement over the ground.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Wind {
    /// Straight against the rider, m/s; negative from behind.
    Headwind(f64),
    /// From a direction; the segment then needs a heading.
    From {
        /// m/s.
        wind_m_s: f64,
        /// Where it comes from: 0 is north, 90 east.
        from_deg: f64,
    },
}

/// A place where the rider waits, a crossing for instance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stop {
    /// Distance from the start, m.
    pub at_m: f64,
    /// For how long, s.
    pub wait_s: f64,
}
