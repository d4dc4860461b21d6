//! Distances and directions on a round earth.
//!
//! Used by `track` and, for the wind, by `prepared`. The earth is taken as a ball of its mean
//! radius: distances are right to some 0.5 %, since it is flattened by one part in 298.
//! Source: haversine formula, R. W. Sinnott, "Virtues of the Haversine", Sky and Telescope 68
//! (1984) 159; from memory.

use libm::{asin, atan2, cos, sin};

/// The mean radius of the earth, (2a + b)/3 of the WGS 84 ellipsoid, m. From memory: IUGG.
pub(super) const EARTH_RADIUS_M: f64 = 6_371_008.8;

const RADIANS_PER_DEGREE: f64 = std::f64::consts::PI / 180.0;

/// A place on the earth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Position {
    /// North positive, -90 to 90.
    pub(super) latitude_deg: f64,
    /// East positive; 181 is -179.
    pub(super) longitude_deg: f64,
}

/// The way over ground between two places, without their heights, m.
pub(super) fn distance_m(from: Position, to: Position) -> f64 {
    let (north, east) =
        (from.latitude_deg * RADIANS_PER_DEGREE, to.latitude_deg * RADIANS_PER_DEGREE);
    let half_lat = sin((east - north) / 2.0);
    let half_lon = sin((to.longitude_deg - from.longitude_deg) * RADIANS_PER_DEGREE / 2.0);
    let square = half_lat * half_lat + cos(north) * cos(east) * half_lon * half_lon;
    2.0 * EARTH_RADIUS_M * asin(square.sqrt().min(1.0))
}

/// The direction in which one sets out from one place to another: 0 is north, 90 east.
pub(super) fn heading_deg(from: Position, to: Position) -> f64 {
    let (start, end) =
        (from.latitude_deg * RADIANS_PER_DEGREE, to.latitude_deg * RADIANS_PER_DEGREE);
    let turn = (to.longitude_deg - from.longitude_deg) * RADIANS_PER_DEGREE;
    let east = sin(turn) * cos(end);
    let north = cos(start) * sin(end) - sin(start) * cos(end) * cos(turn);
    wrapped_deg(atan2(east, north) / RADIANS_PER_DEGREE)
}

/// An angle from -360 to 720 degrees as one from 0 to below 360.
pub(super) fn wrapped_deg(angle_deg: f64) -> f64 {
    let wrapped = if angle_deg >= 360.0 {
        angle_deg - 360.0
    } else if angle_deg < 0.0 {
        angle_deg + 360.0
    } else {
        angle_deg
    };
    // A hair below 0 is rounded up to 360.
    if wrapped < 360.0 { wrapped } else { 0.0 }
}

/// The part of a wind that blows straight against whoever goes that way, m/s.
pub(super) fn headwind_m_s(wind_m_s: f64, from_deg: f64, heading_deg: f64) -> f64 {
    wind_m_s * cos((from_deg - heading_deg) * RADIANS_PER_DEGREE)
}

#[cfg(test)]
mod tests {
    use super::*;

    const fn at(latitude_deg: f64, longitude_deg: f64) -> Position {
        Position { latitude_deg, longitude_deg }
    }

    /// Source: a degree of a great circle is pi R / 180.
    #[test]
    fn source_a_degree_is_a_360th_of_the_way_round() {
        let degree_m = EARTH_RADIUS_M * std::f64::consts::PI / 180.0;
        // A micrometre: rounding of a product of radius and angle.
        assert!((distance_m(at(0.0, 10.0), at(0.0, 11.0)) - degree_m).abs() < 1e-6);
        assert!((distance_m(at(50.0, 10.0), at(51.0, 10.0)) - degree_m).abs() < 1e-6);
        let halved = distance_m(at(60.0, 10.0), at(60.0, 10.001)) / degree_m * 1000.0;
        assert!((halved - 0.5).abs() < 1e-6, "{halved}: the circle of 60 degrees north is half");
    }

    #[test]
    fn the_other_side_of_the_date_line_is_near() {
        let crossed = distance_m(at(0.0, 179.9995), at(0.0, -179.9995));
        assert!((crossed - 111.195).abs() < 0.001, "{crossed}");
        assert!((heading_deg(at(0.0, 179.9995), at(0.0, -179.9995)) - 90.0).abs() < 1e-9);
    }

    #[test]
    fn headings_turn_clockwise_from_north() {
        let from = at(48.0, 9.0);
        for (to, wanted) in [
            (at(48.001, 9.0), 0.0),
            (at(48.0, 9.001), 90.0),
            (at(47.999, 9.0), 180.0),
            (at(48.0, 8.999), 270.0),
        ] {
            // A degree of longitude converges: a thousandth of a degree of angle over 75 m.
            assert!((heading_deg(from, to) - wanted).abs() < 1e-3, "{wanted}");
        }
    }

    #[test]
    fn a_wind_from_ahead_is_a_headwind() {
        for (from, heading, share) in [(90.0, 90.0, 1.0), (270.0, 90.0, -1.0), (0.0, 90.0, 0.0)] {
            assert!((headwind_m_s(5.0, from, heading) - 5.0 * share).abs() < 1e-12);
        }
    }
}
