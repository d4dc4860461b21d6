//! What comes after the end of a route: the same again, or back the way it came.
//!
//! Used by `prepared`. The rule holds for negative distances as well, so that the road has no
//! edge: whoever rolls backwards over the start finds road there, at the right height.

/// How a route goes on beyond its end.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Way {
    /// From the start again, in the same direction. A lap that ends higher than it began goes on
    /// from there: the elevation never jumps.
    #[default]
    Again,
    /// Back to the start: climbs are descents, headwinds are tailwinds; then out again.
    ThereAndBack,
}

/// A place within one passage of the route.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Leg {
    /// Which passage, counted from 0; whole.
    pub(super) lap: f64,
    /// Distance from the route's start, 0 to its length, whichever way it is ridden.
    pub(super) along_m: f64,
    /// Whether it is ridden towards the start.
    pub(super) backwards: bool,
}

impl Way {
    /// Every way.
    pub const ALL: [Self; 2] = [Self::Again, Self::ThereAndBack];

    /// The name that files use.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Again => "again",
            Self::ThereAndBack => "there_and_back",
        }
    }

    /// The way of that name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|way| way.name() == name)
    }

    /// Whether a passage of the route is ridden towards its start.
    pub(super) fn is_backwards(self, lap: f64) -> bool {
        match self {
            Self::Again => false,
            Self::ThereAndBack => (lap / 2.0).fract().abs() > 0.25,
        }
    }

    /// Where a distance lies; no number and no end is the start.
    #[inline]
    pub(super) fn leg(self, distance_m: f64, length_m: f64) -> Leg {
        if (0.0..length_m).contains(&distance_m) {
            return Leg { lap: 0.0, along_m: distance_m, backwards: false };
        }
        if !distance_m.is_finite() {
            return Leg { lap: 0.0, along_m: 0.0, backwards: false };
        }
        let lap = (distance_m / length_m).floor();
        // The product is rounded, so that the rest may lie a hair outside.
        let ridden_m = (distance_m - lap * length_m).clamp(0.0, length_m);
        let backwards = self.is_backwards(lap);
        let along_m = if backwards { length_m - ridden_m } else { ridden_m };
        Leg { lap, along_m, backwards }
    }
}
