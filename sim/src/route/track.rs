//! A route from a recorded track: GPX 1.1 with heights.
//!
//! Reads with the crate `gpx`, measures with `geodesy`, frees the heights from noise with
//! `profile`. Surface, speed and wind are not in such a file: they come from the settings.
//! Source: GPX 1.1 schema, <https://www.topografix.com/GPX/1/1/>; from memory.

use std::error::Error as _;
use std::io::Read;
use std::path::Path;

use gpx::errors::GpxError;

use super::even_index::cell_of;
use super::fault::{FileFault, RouteFileError};
use super::geodesy::{Position, distance_m, heading_deg};
use super::prepared::{ELEVATION_M, LONGEST_M, Piece, Route, STEEPEST_PERCENT};
use super::profile::{Laying, Profile, Sight, lay};
use super::surface::Surface;
use super::way::Way;

/// What a track does not say, and how its noise is treated.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TrackSettings {
    /// Between two points of the route, 1 to 100 m.
    pub spacing_m: f64,
    /// Waves of height shorter than some 6 times this are taken for noise; 1 to 200 m.
    pub smoothing_m: f64,
    /// Ups and downs smaller than this are taken for noise, 0 to 100 m. Estimated from the track
    /// if not given, at least 1 m.
    pub least_climb_m: Option<f64>,
    /// What to do with a track without heights.
    pub without_elevation: WithoutElevation,
    /// All along.
    pub surface: Surface,
    /// All along, 0.5 to 40 m/s.
    pub speed_wish_m_s: f64,
    /// What comes after the end.
    pub way: Way,
}

/// What to do with a track of which fewer than half of the points have a height.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum WithoutElevation {
    /// An error.
    #[default]
    Refuse,
    /// Taken as flat, with a note.
    Flat,
}

impl Default for TrackSettings {
    /// Every 5 m; waves under 200 m are noise; dry asphalt at 25 km/h.
    ///
    /// A smoothing of 33 m leaves 99.6 % of the height of a wave of 800 m, and 93 % of 400 m.
    fn default() -> Self {
        Self {
            spacing_m: 5.0,
            smoothing_m: 33.0,
            least_climb_m: None,
            without_elevation: WithoutElevation::Refuse,
            surface: Surface::Asphalt,
            speed_wish_m_s: 7.0,
            way: Way::Again,
        }
    }
}

/// Nearer points are one: a receiver that stands still wanders.
const ONE_POINT_M: f64 = 1.0;

/// A point of the track, with its way from the start.
struct Mark {
    at_m: f64,
    position: Position,
    /// The sum of its heights and their count.
    heights: (f64, f64),
}

impl Route {
    /// The route of the first track in a GPX file; `file` is its name in messages.
    ///
    /// Segments of the track are joined by straight lines.
    ///
    /// # Errors
    /// Faults of the file or the settings. Where the file is no GPX, the line is the one up to
    /// which it was read; a point is named by its segment and its number.
    pub fn read_gpx(
        text: &str,
        file: &Path,
        settings: &TrackSettings,
    ) -> Result<Self, RouteFileError> {
        let refused = |faults| RouteFileError::new(file, faults);
        let mut faults = faults_of(settings);
        let mut notes = Vec::new();
        let mut lines = Lines { left: text.as_bytes(), line: 0, ended: true };
        let (name, marks) = match gpx::read(&mut lines) {
            Ok(read) => marks(&read, &mut faults, &mut notes),
            Err(error) => {
                faults.push(told(&error, lines.line.max(1)));
                return Err(refused(faults));
            }
        };
        let length_m = marks.last().map_or(0.0, |mark| mark.at_m);
        if faults.is_empty() && !(2.0 * settings.spacing_m..=LONGEST_M).contains(&length_m) {
            let least_m = 2.0 * settings.spacing_m;
            let what =
                format!("the track is {length_m:.1} m long; {least_m} to {LONGEST_M} m is allowed");
            faults.push(FileFault::of_file(what));
        }
        let sights = sights(&marks, settings, &mut faults, &mut notes);
        if !faults.is_empty() {
            return Err(refused(faults));
        }
        let name = name.unwrap_or_else(|| stem(file));
        let route = road(&name, &marks, &sights, settings, &mut notes);
        Ok(route.over_and_over(settings.way).with_notes(notes))
    }
}

/// A file's name without its ending.
pub(super) fn stem(file: &Path) -> String {
    file.file_stem().unwrap_or_default().to_string_lossy().into_owned()
}

fn faults_of(settings: &TrackSettings) -> Vec<FileFault> {
    [
        ("spacing_m", settings.spacing_m, 1.0, 100.0),
        ("smoothing_m", settings.smoothing_m, 1.0, 200.0),
        ("least_climb_m", settings.least_climb_m.unwrap_or(0.0), 0.0, 100.0),
        ("speed_wish_m_s", settings.speed_wish_m_s, 0.5, 40.0),
    ]
    .into_iter()
    .filter(|(_, given, lowest, highest)| !(lowest..=highest).contains(&given))
    .map(|(key, given, lowest, highest)| {
        FileFault::of_file(format!("settings: {key} is {given}; {lowest} to {highest} is allowed"))
    })
    .collect()
}

/// The crate's error with what is beneath it.
fn told(error: &GpxError, line: usize) -> FileFault {
    let beneath = error.source().map_or_else(String::new, |beneath| format!(": {beneath}"));
    FileFault::at(line, format!("is no GPX track: {error}{beneath}"))
}

/// Hands out a text line by line, so that it is known how far a reader came.
struct Lines<'t> {
    left: &'t [u8],
    /// The line handed out last, from 1.
    line: usize,
    /// Whether the line handed out last was handed out to its end.
    ended: bool,
}

impl Read for Lines<'_> {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let most = self.left.len().min(buffer.len());
        let near = self.left.get(..most).unwrap_or_default();
        let end = near.iter().position(|&byte| byte == b'\n').map_or(most, |at| at + 1);
        let (mut part, rest) = self.left.split_at(end);
        if self.ended && !part.is_empty() {
            self.line += 1;
        }
        self.ended = part.last() == Some(&b'\n');
        self.left = rest;
        part.read(buffer)
    }
}

/// The points of the first track, one after another, none upon another.
fn marks(
    read: &gpx::Gpx,
    faults: &mut Vec<FileFault>,
    notes: &mut Vec<String>,
) -> (Option<String>, Vec<Mark>) {
    let mut marks: Vec<Mark> = Vec::new();
    let Some(track) = read.tracks.first() else {
        faults.push(FileFault::of_file("has no track (`trk`)".to_owned()));
        return (None, marks);
    };
    if read.tracks.len() > 1 {
        notes.push(format!("the first of {} tracks is taken", read.tracks.len()));
    }
    if track.segments.len() > 1 {
        notes.push(format!("{} segments are joined by straight lines", track.segments.len()));
    }
    let points = track.segments.iter().zip(1..).flat_map(|(segment, segment_number)| {
        segment.points.iter().zip(1..).map(move |(point, number)| (segment_number, number, point))
    });
    for (segment, number, point) in points {
        let place = point.point();
        let position = Position { latitude_deg: place.y(), longitude_deg: place.x() };
        let height_m = point.elevation;
        let (lowest, highest) = ELEVATION_M;
        if !(position.latitude_deg.is_finite() && position.longitude_deg.is_finite()) {
            let what = format!("segment {segment}, point {number}: lat or lon is no number");
            faults.push(FileFault::of_file(what));
            continue;
        }
        if let Some(given) = height_m.filter(|given| !(lowest..=highest).contains(given)) {
            let what = format!(
                "segment {segment}, point {number}: ele is {given}; {lowest} to {highest} is allowed"
            );
            faults.push(FileFault::of_file(what));
            continue;
        }
        let heights = height_m.map_or((0.0, 0.0), |height_m| (height_m, 1.0));
        let step_m = marks.last().map_or(0.0, |last| distance_m(last.position, position));
        match marks.last_mut() {
            Some(last) if step_m < ONE_POINT_M => {
                last.heights.0 += heights.0;
                last.heights.1 += heights.1;
            }
            before => {
                let at_m = before.map_or(0.0, |last| last.at_m) + step_m;
                marks.push(Mark { at_m, position, heights });
            }
        }
    }
    (track.name.clone().filter(|name| !name.is_empty()), marks)
}

/// The heights of a track, and what is said about those it has not.
fn sights(
    marks: &[Mark],
    settings: &TrackSettings,
    faults: &mut Vec<FileFault>,
    notes: &mut Vec<String>,
) -> Vec<Sight> {
    let seen: Vec<_> = marks
        .iter()
        .filter(|mark| mark.heights.1 > 0.0)
        .map(|mark| Sight { at_m: mark.at_m, height_m: mark.heights.0 / mark.heights.1 })
        .collect();
    let missing = marks.len() - seen.len();
    // A track of no points is told as such.
    if 2 * seen.len() >= marks.len() {
        if missing > 0 {
            notes.push(format!("{missing} of {} points have no elevation; bridged", marks.len()));
        }
        return to_the_ends(seen, marks);
    }
    let few = format!("{missing} of {} points have no elevation (`ele`)", marks.len());
    match settings.without_elevation {
        WithoutElevation::Refuse => faults.push(FileFault::of_file(few)),
        WithoutElevation::Flat => notes.push(format!("{few}; taken as flat")),
    }
    vec![Sight { at_m: 0.0, height_m: seen.first().map_or(0.0, |sight| sight.height_m) }]
}

/// The sights, the first and the last repeated where the track begins and ends without a height:
/// a slope drawn on from the last few heights would climb out of their noise.
fn to_the_ends(seen: Vec<Sight>, marks: &[Mark]) -> Vec<Sight> {
    let (Some(&first), Some(&last)) = (seen.first(), seen.last()) else { return seen };
    let end_m = marks.last().map_or(last.at_m, |mark| mark.at_m);
    let before = (first.at_m > 0.0).then_some(Sight { at_m: 0.0, ..first });
    let after = (last.at_m < end_m).then_some(Sight { at_m: end_m, ..last });
    before.into_iter().chain(seen).chain(after).collect()
}

/// The road over the marks, in even steps over ground.
fn road(
    name: &str,
    marks: &[Mark],
    sights: &[Sight],
    settings: &TrackSettings,
    notes: &mut Vec<String>,
) -> Route {
    let ground_m = marks.last().map_or(0.0, |mark| mark.at_m);
    let steps = cell_of(ground_m / settings.spacing_m + 0.5).max(1);
    let mut nodes_m = vec![0.0];
    let step_m = ground_m / count(steps);
    nodes_m.extend((1..=steps).map(|node| count(node) * step_m));
    let laying = Laying {
        spacing_m: step_m,
        nodes: nodes_m.len(),
        smoothing_m: settings.smoothing_m,
        least_climb_m: settings.least_climb_m,
        steepest: STEEPEST_PERCENT / 100.0,
    };
    let Profile { heights_m, least_climb_m, was_too_steep } = lay(sights, &laying);
    if sights.len() > 1 {
        notes.push(format!("ups and downs below {least_climb_m:.1} m are taken for noise"));
    }
    if was_too_steep {
        notes.push(format!("slopes over {STEEPEST_PERCENT} % were made less steep"));
    }
    let mut walk = Walk { marks, leg: 0 };
    let places: Vec<_> = nodes_m.iter().map(|&at_m| walk.position(at_m)).collect();
    let pieces: Vec<_> = heights_m
        .windows(2)
        .zip(0_usize..)
        .map(|(ends, node)| {
            let rise_m = if let [from, to] = ends { to - from } else { 0.0 };
            // From one node before to one behind: a receiver's wandering turns short ways most.
            let behind = places.get(node.saturating_sub(1)).copied();
            let ahead = places.get(node + 2).or(places.last()).copied();
            Piece {
                length_m: (step_m * step_m + rise_m * rise_m).sqrt(),
                rise_m,
                surface: settings.surface,
                speed_wish_m_s: settings.speed_wish_m_s,
                headwind_m_s: 0.0,
                heading_deg: behind.zip(ahead).map(|(from, to)| heading_deg(from, to)),
            }
        })
        .collect();
    Route::of_pieces(name, heights_m.first().copied().unwrap_or(0.0), &pieces)
}

#[allow(clippy::cast_precision_loss, reason = "counts of nodes lie far below 2^53")]
fn count(n: usize) -> f64 {
    n as f64
}

/// Goes along the marks, forwards only.
struct Walk<'m> {
    marks: &'m [Mark],
    leg: usize,
}

impl Walk<'_> {
    /// The place at a distance not before the last one asked for.
    fn position(&mut self, at_m: f64) -> Position {
        while self.marks.get(self.leg + 2).is_some()
            && self.marks.get(self.leg + 1).is_some_and(|mark| mark.at_m < at_m)
        {
            self.leg += 1;
        }
        match (self.marks.get(self.leg), self.marks.get(self.leg + 1)) {
            (Some(from), Some(to)) => {
                let share = ((at_m - from.at_m) / (to.at_m - from.at_m)).clamp(0.0, 1.0);
                let (start, end) = (from.position, to.position);
                // The short way round, over the date line too.
                let mut turn = end.longitude_deg - start.longitude_deg;
                if turn > 180.0 {
                    turn -= 360.0;
                } else if turn < -180.0 {
                    turn += 360.0;
                }
                Position {
                    latitude_deg: start.latitude_deg
                        + share * (end.latitude_deg - start.latitude_deg),
                    longitude_deg: start.longitude_deg + share * turn,
                }
            }
            (Some(only), None) => only.position,
            (None, _) => Position { latitude_deg: 0.0, longitude_deg: 0.0 },
        }
    }
}

#[cfg(test)]
mod tests;
