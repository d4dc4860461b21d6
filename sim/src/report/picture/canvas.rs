//! A sheet measured in pixels, on which `plotters` draws in tenths of a pixel.
//!
//! Used by `page` and `trace`. The drawing library rounds every point to whole units; on a sheet
//! ten times as large a gentle slope stays a slope instead of becoming stairs.

use plotters::coord::Shift;
use plotters::element::{Circle, DashedPathElement, PathElement, Polygon, Rectangle, Text};
use plotters::prelude::{DrawingArea, IntoDrawingArea, IntoFont, SVGBackend};
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{Color, FontStyle, RGBColor, ShapeStyle, TextStyle};

use super::PictureError;
use super::lettering::{FAMILY, Weight};

/// Units of the drawing library in a pixel.
pub(super) const FINENESS: u32 = 10;

/// The SVG writer of the drawing library divides every size of letters by this.
const LETTER_DIVISOR: f64 = 1.24;

/// A place on the sheet, pixels from its left and upper edge.
pub(super) type Place = (f64, f64);

/// Colour, thickness in pixels and how much covers what lies beneath, 0 to 1.
#[derive(Clone, Copy, Debug)]
pub(super) struct Ink {
    pub(super) colour: RGBColor,
    pub(super) cover: f64,
    pub(super) thickness: f64,
}

impl Ink {
    /// A fill that hides what lies beneath it by `cover`.
    pub(super) fn fill(colour: RGBColor, cover: f64) -> Self {
        Self { colour, cover, thickness: 0.0 }
    }

    /// A line.
    pub(super) fn line(colour: RGBColor, thickness: f64) -> Self {
        Self { colour, cover: 1.0, thickness }
    }

    fn style(self, filled: bool) -> ShapeStyle {
        ShapeStyle {
            color: self.colour.mix(self.cover),
            filled,
            stroke_width: units(self.thickness).unsigned_abs(),
        }
    }
}

/// How words are set.
#[derive(Clone, Copy)]
pub(super) struct Hand {
    pub(super) size: f64,
    pub(super) weight: Weight,
    pub(super) colour: RGBColor,
    pub(super) side: HPos,
}

/// The sheet.
pub(super) struct Canvas<'a> {
    area: DrawingArea<SVGBackend<'a>, Shift>,
}

impl<'a> Canvas<'a> {
    /// An empty sheet of `size` pixels that is written to `svg`.
    pub(super) fn new(svg: &'a mut String, size: (u32, u32)) -> Self {
        let fine = (size.0 * FINENESS, size.1 * FINENESS);
        Self { area: SVGBackend::with_string(svg, fine).into_drawing_area() }
    }

    /// Ends the drawing; the sheet is no longer needed.
    pub(super) fn finish(self) -> Result<(), PictureError> {
        self.area.present().map_err(refused)
    }

    /// A filled rectangle from its upper left to its lower right corner.
    pub(super) fn rectangle(&self, from: Place, to: Place, ink: Ink) -> Result<(), PictureError> {
        let corners = [point(from), point(to)];
        self.area.draw(&Rectangle::new(corners, ink.style(true))).map_err(refused)
    }

    /// A line through all places; a dot where they are but one.
    pub(super) fn line(&self, places: &[Place], ink: Ink) -> Result<(), PictureError> {
        let points = distinct(places);
        match points.as_slice() {
            [] => Ok(()),
            [only] => {
                let radius = units(ink.thickness * 0.75);
                self.area.draw(&Circle::new(*only, radius, ink.style(true))).map_err(refused)
            }
            _ => self.area.draw(&PathElement::new(points, ink.style(false))).map_err(refused),
        }
    }

    /// A dashed line through all places.
    pub(super) fn dashes(&self, places: &[Place], ink: Ink) -> Result<(), PictureError> {
        let points = distinct(places);
        if points.len() < 2 {
            return self.line(places, ink);
        }
        let (dash, gap) = (units(7.0), units(4.0));
        self.area
            .draw(&DashedPathElement::new(points, dash, gap, ink.style(false)))
            .map_err(refused)
    }

    /// A filled shape between `upper` and `lower`, both from left to right.
    pub(super) fn between(
        &self,
        upper: &[Place],
        lower: &[Place],
        ink: Ink,
    ) -> Result<(), PictureError> {
        let mut points = distinct(upper);
        points.extend(distinct(lower).into_iter().rev());
        self.area.draw(&Polygon::new(points, ink.style(true))).map_err(refused)
    }

    /// Words beside `place`, at the middle of their height.
    pub(super) fn words(&self, text: &str, place: Place, hand: Hand) -> Result<(), PictureError> {
        let slope = match hand.weight {
            Weight::Regular => FontStyle::Normal,
            Weight::Bold => FontStyle::Bold,
        };
        let size = hand.size * f64::from(FINENESS) * LETTER_DIVISOR;
        let style = TextStyle::from((FAMILY, size, slope).into_font())
            .color(&hand.colour)
            .pos(Pos::new(hand.side, VPos::Center));
        self.area.draw(&Text::new(text, point(place), style)).map_err(refused)
    }
}

/// The places in units of the drawing library, without repetitions.
fn distinct(places: &[Place]) -> Vec<(i32, i32)> {
    let mut points: Vec<(i32, i32)> = places.iter().copied().map(point).collect();
    points.dedup();
    points
}

fn point((x, y): Place) -> (i32, i32) {
    (units(x), units(y))
}

#[allow(
    clippy::cast_possible_truncation,
    reason = "the conversion saturates, and places lie on a sheet of a few thousand pixels"
)]
fn units(pixels: f64) -> i32 {
    (pixels * f64::from(FINENESS)).round() as i32
}

fn refused(error: impl std::fmt::Display) -> PictureError {
    PictureError::Drawing { reason: error.to_string() }
}
