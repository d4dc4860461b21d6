//! A route, checked and prepared to be asked at every step where one is and how it is there.
//!
//! Made from an `outline` or a `track`. A distance is measured along the road. A grade is rise over
//! horizontal run, so elevation grows per metre of road by the sine of the slope.

use super::error::{Place, Quantity, RouteError, RouteErrors};
use super::even_index::EvenIndex;
use super::geodesy::{headwind_m_s, wrapped_deg};
use super::outline::{Outline, Segment, Slope, Stop, Wind};
use super::surface::Surface;
use super::way::Way;

/// The steepest streets have some 35 %. From memory.
pub(super) const STEEPEST_PERCENT: f64 = 40.0;
/// A shorter piece is no longer a piece of road.
const LENGTH_M: (f64, f64) = (1.0, 100_000.0);
/// More than any battery of this kind lasts; bounds the memory of a route.
pub(super) const LONGEST_M: f64 = 1_000_000.0;
/// From the deepest shore to the highest peak, rounded outwards.
pub(super) const ELEVATION_M: (f64, f64) = (-500.0, 9000.0);
/// Slower than walking is a stop; faster is not what this is for.
const SPEED_WISH_M_S: (f64, f64) = (0.5, 40.0);
/// A violent storm has 32 m/s. From memory: Beaufort scale.
const WIND_M_S: f64 = 40.0;
/// A wait over two hours is a night's rest, which has no place on a route.
const WAIT_S: (f64, f64) = (0.0, 7200.0);

/// How the road is at a place, seen in the direction of riding.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Here {
    /// Height above the sea, m; continuous, over laps too.
    pub elevation_m: f64,
    /// Rise over horizontal run, 0.05 for 5 %; uphill positive.
    pub grade: f64,
    /// What the wheels roll on.
    pub surface: Surface,
    /// The speed at which the rider would like to ride here, m/s.
    pub speed_wish_m_s: f64,
    /// The air's own movement against the rider, m/s; negative from behind.
    pub headwind_m_s: f64,
    /// Where it leads, 0 to below 360: 0 is north, 90 east.
    pub heading_deg: Option<f64>,
}

impl Here {
    /// The same place, ridden the other way.
    #[must_use]
    pub fn turned(self) -> Self {
        Self {
            grade: -self.grade,
            headwind_m_s: -self.headwind_m_s,
            heading_deg: self.heading_deg.map(|deg| wrapped_deg(deg + 180.0)),
            ..self
        }
    }

    /// The sine of the slope: metres climbed per metre of road.
    #[must_use]
    pub fn slope_sine(&self) -> f64 {
        sine_of(self.grade)
    }
}

/// A part of the road with one slope.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Piece {
    pub(super) length_m: f64,
    pub(super) rise_m: f64,
    pub(super) surface: Surface,
    pub(super) speed_wish_m_s: f64,
    pub(super) headwind_m_s: f64,
    pub(super) heading_deg: Option<f64>,
}

/// A piece where it lies, as the look-up wants it.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Laid {
    elevation_m: f64,
    sine: f64,
    here: Here,
}

/// A road that can be ridden over and over.
#[derive(Clone, Debug, PartialEq)]
pub struct Route {
    name: String,
    way: Way,
    index: EvenIndex,
    laid: Vec<Laid>,
    stops: Vec<Stop>,
    length_m: f64,
    rise_m: f64,
    climb_m: f64,
    notes: Vec<String>,
}

impl Route {
    /// The route that an outline describes.
    ///
    /// Stops are put in order. A segment keeps its grade over all of its length.
    ///
    /// # Errors
    /// Every fault at once: values outside their range, a segment too steep, a wind with a
    /// direction over a segment without heading, no segment, more than 1000 km.
    pub fn new(outline: &Outline) -> Result<Self, RouteErrors> {
        let mut check = Check::default();
        check.range(Place::Whole, Quantity::StartElevation, outline.start_elevation_m, ELEVATION_M);
        let mut elevation_m = outline.start_elevation_m;
        let mut pieces = Vec::with_capacity(outline.segments.len());
        for (index, segment) in outline.segments.iter().enumerate() {
            let piece = check.segment(Place::Segment(index + 1), segment, elevation_m);
            elevation_m += piece.rise_m;
            pieces.push(piece);
        }
        let length_m: f64 = pieces.iter().map(|piece| piece.length_m).sum();
        if pieces.is_empty() {
            check.errors.push(RouteError::Empty);
        } else if length_m > LONGEST_M {
            check.errors.push(RouteError::TooLong { length_m, longest_m: LONGEST_M });
        }
        // Where a length is refused, the places of stops cannot be judged.
        let length_m = check.errors.is_empty().then_some(length_m);
        for (index, stop) in outline.stops.iter().enumerate() {
            let place = Place::Stop(index + 1);
            if let Some(length_m) = length_m {
                check.range(place, Quantity::StopAt, stop.at_m, (0.0, length_m));
            }
            check.range(place, Quantity::StopFor, stop.wait_s, WAIT_S);
        }
        if !check.errors.is_empty() {
            return Err(RouteErrors(check.errors));
        }
        let mut stops = outline.stops.clone();
        stops.sort_by(|a, b| a.at_m.total_cmp(&b.at_m));
        let mut route = Self::of_pieces(&outline.name, outline.start_elevation_m, &pieces);
        route.stops = stops;
        Ok(route.over_and_over(outline.way))
    }

    /// A road of pieces that are known to be good; at least one.
    pub(super) fn of_pieces(name: &str, start_elevation_m: f64, pieces: &[Piece]) -> Self {
        let (mut at_m, mut elevation_m, mut climb_m) = (0.0, start_elevation_m, 0.0);
        let (mut starts, mut laid) = (Vec::new(), Vec::new());
        for piece in pieces {
            let sine = piece.rise_m / piece.length_m;
            let here = Here {
                elevation_m,
                grade: grade_of(sine),
                surface: piece.surface,
                speed_wish_m_s: piece.speed_wish_m_s,
                headwind_m_s: piece.headwind_m_s,
                heading_deg: piece.heading_deg.map(wrapped_deg),
            };
            starts.push(at_m);
            laid.push(Laid { elevation_m, sine, here });
            at_m += piece.length_m;
            elevation_m += piece.rise_m;
            climb_m += piece.rise_m.max(0.0);
        }
        Self {
            name: name.to_owned(),
            way: Way::Again,
            index: EvenIndex::new(starts, at_m),
            laid,
            stops: Vec::new(),
            length_m: at_m,
            rise_m: elevation_m - start_elevation_m,
            climb_m,
            notes: Vec::new(),
        }
    }

    /// The road at a distance from the start, m, in the direction of riding.
    ///
    /// Beyond the end and before the start the road goes on by its [`Way`]. No number, or no end
    /// of metres, is the start.
    #[inline]
    #[must_use]
    pub fn at(&self, distance_m: f64) -> Here {
        let leg = self.way.leg(distance_m, self.length_m);
        let piece = self.index.find(leg.along_m);
        let Some(laid) = self.laid.get(piece) else { return NOWHERE };
        let mut here = laid.here;
        here.elevation_m = laid.elevation_m + (leg.along_m - self.index.start(piece)) * laid.sine;
        match self.way {
            Way::Again => here.elevation_m += leg.lap * self.rise_m,
            Way::ThereAndBack if leg.backwards => here = here.turned(),
            Way::ThereAndBack => {}
        }
        here
    }

    /// The first stop strictly beyond a distance, with its distance from the first start; laps and
    /// the way back are followed. None without stops, and for no number.
    ///
    /// A stop at the start and one at the end of a route that begins again lie at one place; only
    /// the first of them is found there.
    #[must_use]
    pub fn next_stop(&self, distance_m: f64) -> Option<Stop> {
        if self.stops.is_empty() || !distance_m.is_finite() {
            return None;
        }
        let lap = (distance_m / self.length_m).floor();
        // One lap to either side of the rounded quotient, and one more for a lap's last stop.
        [lap - 1.0, lap, lap + 1.0, lap + 2.0].into_iter().find_map(|lap| {
            let (mut low, mut high) = (0, self.stops.len());
            while low < high {
                let middle = low.midpoint(high);
                if self.stop_of(lap, middle)?.at_m <= distance_m {
                    low = middle + 1
                } else {
                    high = middle
                }
            }
            self.stop_of(lap, low)
        })
    }

    /// A stop of a lap, in the order in which that lap meets them.
    fn stop_of(&self, lap: f64, order: usize) -> Option<Stop> {
        let backwards = self.way.is_backwards(lap);
        let stop =
            if backwards { self.stops.iter().rev().nth(order) } else { self.stops.get(order) };
        stop.map(|stop| {
            let ridden_m = if backwards { self.length_m - stop.at_m } else { stop.at_m };
            Stop { at_m: lap * self.length_m + ridden_m, ..*stop }
        })
    }

    /// The same road, going on beyond its end in another way.
    #[must_use]
    pub fn over_and_over(mut self, way: Way) -> Self {
        self.way = way;
        self
    }

    /// The same road in a wind over all of it; pieces without a heading keep the wind they have.
    ///
    /// # Errors
    /// A speed outside 0 to 40 m/s, or a direction outside 0 to 360 degrees.
    pub fn in_wind(mut self, wind_m_s: f64, wind_from_deg: f64) -> Result<Self, RouteError> {
        let mut check = Check::default();
        check.wind(Place::Whole, wind_m_s, wind_from_deg);
        if let Some(&error) = check.errors.first() {
            return Err(error);
        }
        for Laid { here, .. } in &mut self.laid {
            if let Some(heading_deg) = here.heading_deg {
                here.headwind_m_s = headwind_m_s(wind_m_s, wind_from_deg, heading_deg);
            }
        }
        Ok(self)
    }

    /// What it is called.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The length of one passage along the road, m.
    #[must_use]
    pub fn length_m(&self) -> f64 {
        self.length_m
    }

    /// All climbs of one passage added up, m.
    #[must_use]
    pub fn climb_m(&self) -> f64 {
        self.climb_m
    }

    /// The stops of one passage in their order, each 0 to the length.
    #[must_use]
    pub fn stops(&self) -> &[Stop] {
        &self.stops
    }

    /// What comes after the end.
    #[must_use]
    pub fn way(&self) -> Way {
        self.way
    }

    /// What was assumed while reading it, in sentences; empty where nothing was.
    #[must_use]
    pub fn notes(&self) -> &[String] {
        &self.notes
    }

    pub(super) fn with_notes(mut self, notes: Vec<String>) -> Self {
        self.notes = notes;
        self
    }
}

/// Flat dry asphalt; no route is so empty that it is ever met.
const NOWHERE: Here = Here {
    elevation_m: 0.0,
    grade: 0.0,
    surface: Surface::Asphalt,
    speed_wish_m_s: 0.0,
    headwind_m_s: 0.0,
    heading_deg: None,
};

/// Collects the faults of an outline.
#[derive(Default)]
struct Check {
    errors: Vec<RouteError>,
}

impl Check {
    fn range(
        &mut self,
        place: Place,
        quantity: Quantity,
        given: f64,
        (lowest, highest): (f64, f64),
    ) {
        if !(lowest..=highest).contains(&given) {
            self.errors.push(RouteError::OutOfRange { place, quantity, given, lowest, highest });
        }
    }

    fn wind(&mut self, place: Place, wind_m_s: f64, from_deg: f64) {
        self.range(place, Quantity::WindSpeed, wind_m_s, (0.0, WIND_M_S));
        self.range(place, Quantity::WindFrom, from_deg, (0.0, 360.0));
    }

    /// The piece of a segment that begins at an elevation; of use only if no fault was found.
    fn segment(&mut self, place: Place, segment: &Segment, from_m: f64) -> Piece {
        let Segment { length_m, surface, speed_wish_m_s, heading_deg, .. } = *segment;
        self.range(place, Quantity::Length, length_m, LENGTH_M);
        self.range(place, Quantity::SpeedWish, speed_wish_m_s, SPEED_WISH_M_S);
        if let Some(heading_deg) = heading_deg {
            self.range(place, Quantity::Heading, heading_deg, (0.0, 360.0));
        }
        let headwind_m_s = match (segment.wind, heading_deg) {
            (Wind::Headwind(headwind_m_s), _) => {
                self.range(place, Quantity::Headwind, headwind_m_s, (-WIND_M_S, WIND_M_S));
                headwind_m_s
            }
            (Wind::From { wind_m_s, from_deg }, Some(heading_deg)) => {
                self.wind(place, wind_m_s, from_deg);
                headwind_m_s(wind_m_s, from_deg, heading_deg)
            }
            (Wind::From { wind_m_s, from_deg }, None) => {
                self.wind(place, wind_m_s, from_deg);
                self.errors.push(RouteError::HeadingMissing { place });
                0.0
            }
        };
        let rise_m = self.rise(place, segment, from_m);
        Piece { length_m, rise_m, surface, speed_wish_m_s, headwind_m_s, heading_deg }
    }

    fn rise(&mut self, place: Place, segment: &Segment, from_m: f64) -> f64 {
        let steepest_percent = STEEPEST_PERCENT;
        match segment.slope {
            Slope::GradePercent(percent) => {
                let range = (-steepest_percent, steepest_percent);
                self.range(place, Quantity::GradePercent, percent, range);
                segment.length_m * sine_of(percent / 100.0)
            }
            Slope::EndElevation(given) => {
                self.range(place, Quantity::EndElevation, given, ELEVATION_M);
                let (rise_m, length_m) = (given - from_m, segment.length_m);
                if rise_m.abs() > length_m.abs() * sine_of(steepest_percent / 100.0) {
                    let error =
                        RouteError::TooSteep { place, given, from_m, length_m, steepest_percent };
                    self.errors.push(error);
                }
                rise_m
            }
        }
    }
}

/// The sine of a slope with this rise over its run.
pub(super) fn sine_of(grade: f64) -> f64 {
    grade / (1.0 + grade * grade).sqrt()
}

/// The rise over the run of a slope with this sine.
fn grade_of(sine: f64) -> f64 {
    sine / (1.0 - sine * sine).sqrt()
}
