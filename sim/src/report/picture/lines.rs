//! Curves over a common axis, panel under panel: what a thumb asks, what follows of it.
//!
//! Filled by `cli` and `workbench` with what `feel` and `shape` found. Colours are told apart by lightness
//! as well as by hue; what is compared with is dashed.

use plotters::style::RGBColor;
use plotters::style::text_anchor::HPos;

use super::axis::Axis;
use super::canvas::{Canvas, Hand, Ink, Place};
use super::lettering::{Lettering, Weight};
use super::page::{framed, hand};
use super::palette::{
    BELIEF, BRAKING, DRIVING, GRID, INK, OUTSIDE, PAGE, QUIET, SHEET, SPEED, VOLTAGE, ZERO,
};
use super::trace::SIGN_WIDTH;
use super::{Heading, Picture, PictureError};

const WIDTH: u32 = 1200;
const LEFT: f64 = 72.0;
const RIGHT: f64 = 1172.0;
/// Below the heading.
const TOP: f64 = 96.0;
/// A caption and each row of a legend; the panel; its marks and the title of its axis.
const CAPTION: f64 = 26.0;
const ROW: f64 = 20.0;
const HIGH: f64 = 260.0;
const UNDER: f64 = 54.0;
/// Marks: their least distance upright, and the most along the axis.
const MARK_DISTANCE: f64 = 26.0;
const MOST_STEPS: f64 = 18.0;
const COLOURS: [RGBColor; 8] = [BELIEF, OUTSIDE, VOLTAGE, BRAKING, DRIVING, SPEED, QUIET, INK];

/// One curve.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    /// What the legend calls it.
    pub name: String,
    /// From left to right. What is not a finite number is left out.
    pub points: Vec<(f64, f64)>,
    /// Whether it is what others are compared with.
    pub dashed: bool,
    /// Curves of one number have one colour.
    pub colour: usize,
}

/// One panel.
#[derive(Clone, Debug, PartialEq)]
pub struct CurvePanel {
    /// What is drawn upward, with its unit.
    pub title: String,
    /// What is drawn to the right, with its unit.
    pub along: String,
    /// The curves.
    pub curves: Vec<Curve>,
}

/// The picture of `panels` under a heading.
///
/// # Errors
/// [`PictureError::Empty`] if there is no point to draw, [`PictureError::Drawing`] if the drawing library
/// refuses.
pub fn curves(heading: &Heading, panels: &[CurvePanel]) -> Result<Picture, PictureError> {
    let lettering = Lettering::new();
    let mut top = TOP;
    let mut placed = Vec::new();
    for panel in panels {
        let Some(frame) = Frame::of(panel, top, &lettering) else { continue };
        top = frame.bottom + UNDER;
        placed.push((panel, frame));
    }
    if placed.is_empty() {
        return Err(PictureError::Empty { ride: heading.ride.clone(), rows: 0 });
    }
    let size = (WIDTH, whole(top + 8.0));
    let mut drawing = String::new();
    let board = {
        let sheet = Sheet { canvas: Canvas::new(&mut drawing, size), lettering };
        sheet.canvas.rectangle((0.0, 0.0), (f64::from(size.0), top + 8.0), Ink::fill(PAGE, 1.0))?;
        let board = sheet.heading(heading)?;
        for (panel, frame) in &placed {
            sheet.panel(panel, frame)?;
        }
        sheet.canvas.finish()?;
        board
    };
    Ok(Picture { svg: framed(&drawing, &board, size) })
}

/// Where a panel lies, with its axes.
struct Frame {
    caption: f64,
    top: f64,
    bottom: f64,
    along: Axis,
    up: Axis,
    /// Left end of each legend entry, and its row.
    legend: Vec<(f64, f64)>,
}

impl Frame {
    fn of(panel: &CurvePanel, caption: f64, lettering: &Lettering) -> Option<Self> {
        let all = || panel.curves.iter().flat_map(|curve| finite(&curve.points));
        let ends = |of: fn(&(f64, f64)) -> f64| {
            let values: Vec<f64> = all().map(|point| of(&point)).collect();
            let low = values.iter().copied().reduce(f64::min)?;
            let high = values.into_iter().reduce(f64::max)?;
            Some((low, high))
        };
        let ((left, right), (low, high)) = (ends(|point| point.0)?, ends(|point| point.1)?);
        let (mut legend, mut x, mut row) = (Vec::new(), LEFT, 0.0);
        for curve in &panel.curves {
            let hand = plain();
            let wide = SIGN_WIDTH + 31.0 + lettering.width(&curve.name, hand.size, hand.weight);
            if x + wide > RIGHT && x > LEFT {
                (x, row) = (LEFT, row + 1.0);
            }
            legend.push((x, caption + CAPTION + ROW * row));
            x += wide;
        }
        let top = caption + CAPTION + ROW * (row + 1.0);
        let steps = HIGH / MARK_DISTANCE;
        let (along, up) = (Axis::around(left, right, MOST_STEPS), Axis::around(low, high, steps));
        Some(Self { caption, top, bottom: top + HIGH, along, up, legend })
    }

    fn x(&self, value: f64) -> f64 {
        LEFT + (RIGHT - LEFT) * (value - self.along.low) / (self.along.high - self.along.low)
    }

    fn y(&self, value: f64) -> f64 {
        self.bottom - HIGH * (value - self.up.low) / (self.up.high - self.up.low)
    }

    fn place(&self, (x, y): (f64, f64)) -> Place {
        (self.x(x), self.y(y))
    }
}

struct Sheet<'a> {
    canvas: Canvas<'a>,
    lettering: Lettering,
}

impl Sheet<'_> {
    /// The words over the panels; gives back the name of the board as drawn.
    fn heading(&self, heading: &Heading) -> Result<String, PictureError> {
        let title = hand(27.0, Weight::Bold, INK, HPos::Left);
        let board = self.lettering.fitted(&heading.board, title.size, title.weight, RIGHT - LEFT);
        self.canvas.words(&board, (LEFT, 35.0), title)?;
        let result = hand(17.0, Weight::Regular, INK, HPos::Left);
        let line = self.lettering.fitted(&heading.result, result.size, result.weight, RIGHT - LEFT);
        self.canvas.words(&line, (LEFT, 69.0), result)?;
        Ok(board)
    }

    fn panel(&self, panel: &CurvePanel, frame: &Frame) -> Result<(), PictureError> {
        let bold = hand(14.0, Weight::Bold, INK, HPos::Left);
        self.canvas.words(&panel.title, (LEFT, frame.caption), bold)?;
        self.ground(frame)?;
        for (curve, &(x, y)) in panel.curves.iter().zip(&frame.legend) {
            let sign = [(x, y), (x + SIGN_WIDTH, y)];
            self.curve(curve, &sign)?;
            self.canvas.words(&curve.name, (x + SIGN_WIDTH + 7.0, y), plain())?;
            let places: Vec<Place> =
                finite(&curve.points).map(|point| frame.place(point)).collect();
            self.curve(curve, &places)?;
        }
        let title = hand(14.0, Weight::Bold, INK, HPos::Center);
        let middle = f64::midpoint(LEFT, RIGHT);
        self.canvas.words(&panel.along, (middle, frame.bottom + 36.0), title)
    }

    fn curve(&self, curve: &Curve, places: &[Place]) -> Result<(), PictureError> {
        let colour = COLOURS.get(curve.colour % COLOURS.len()).copied().unwrap_or(INK);
        if curve.dashed {
            self.canvas.dashes(places, Ink::line(colour, 1.6))
        } else {
            self.canvas.line(places, Ink::line(colour, 2.2))
        }
    }

    /// An empty panel with marks on both axes.
    fn ground(&self, frame: &Frame) -> Result<(), PictureError> {
        let (top, bottom) = (frame.top, frame.bottom);
        self.canvas.rectangle((LEFT, top), (RIGHT, bottom), Ink::fill(SHEET, 1.0))?;
        let under = hand(12.5, Weight::Regular, QUIET, HPos::Center);
        for (value, text) in frame.along.marks() {
            let x = frame.x(value);
            self.canvas.line(&[(x, top), (x, bottom)], Ink::line(shade(value), 1.0))?;
            self.canvas.words(&text, (x, bottom + 14.0), under)?;
        }
        let beside = hand(12.5, Weight::Regular, QUIET, HPos::Right);
        for (value, text) in frame.up.marks() {
            let y = frame.y(value);
            self.canvas.line(&[(LEFT, y), (RIGHT, y)], Ink::line(shade(value), 1.0))?;
            self.canvas.words(&text, (LEFT - 9.0, y), beside)?;
        }
        Ok(())
    }
}

fn shade(value: f64) -> RGBColor {
    if value.abs() < 1e-9 { ZERO } else { GRID }
}

fn plain() -> Hand {
    hand(13.0, Weight::Regular, QUIET, HPos::Left)
}

fn finite(points: &[(f64, f64)]) -> impl Iterator<Item = (f64, f64)> + '_ {
    points.iter().copied().filter(|(x, y)| x.is_finite() && y.is_finite())
}

#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a sheet of some panels is a few thousand pixels high"
)]
fn whole(pixels: f64) -> u32 {
    pixels.round() as u32
}

#[cfg(test)]
mod tests {
    use super::*;

    fn heading() -> Heading {
        Heading {
            board: "Plank & <Sons>".to_owned(),
            ride: "thumb".to_owned(),
            result: "holds every law".to_owned(),
        }
    }

    fn panel(points: Vec<(f64, f64)>) -> CurvePanel {
        let curve = |name: &str, dashed| Curve {
            name: name.to_owned(),
            points: points.clone(),
            dashed,
            colour: 0,
        };
        CurvePanel {
            title: "Asked (m/s²)".to_owned(),
            along: "thumb".to_owned(),
            curves: vec![curve("balanced", false), curve("as it is", true)],
        }
    }

    #[test]
    fn it_holds_heading_titles_and_legend_and_can_be_painted() {
        let picture =
            curves(&heading(), &[panel(vec![(-1.0, -3.0), (0.0, 0.0), (1.0, 1.6)])]).unwrap();
        let document = roxmltree::Document::parse(picture.svg()).unwrap();
        let words: Vec<_> = document
            .descendants()
            .filter(|node| node.has_tag_name("text"))
            .filter_map(|node| Some(node.text()?.trim().to_owned()))
            .collect();
        for expected in
            ["Plank & <Sons>", "holds every law", "Asked (m/s²)", "thumb", "balanced", "as it is"]
        {
            assert!(words.iter().any(|word| word == expected), "{expected} in {words:?}");
        }
        assert!(picture.png().is_ok());
    }

    #[test]
    fn panels_without_a_point_are_left_out_and_none_at_all_is_an_error() {
        let nothing = panel(vec![(f64::NAN, 1.0)]);
        let one = curves(&heading(), &[nothing.clone(), panel(vec![(0.0, 1.0)])]).unwrap();
        assert_eq!(one.svg().matches("Asked").count(), 1);
        assert!(matches!(curves(&heading(), &[nothing]), Err(PictureError::Empty { .. })));
    }

    #[test]
    fn a_long_legend_goes_on_in_another_row() {
        let mut many = panel(vec![(0.0, 0.0), (1.0, 1.0)]);
        let entry = Curve {
            name: "a name of some length, at some speed".to_owned(),
            ..many.curves[0].clone()
        };
        many.curves = vec![entry; 9];
        let frame = Frame::of(&many, 0.0, &Lettering::new()).unwrap();
        assert!(frame.legend.iter().all(|(x, _)| *x < RIGHT - 200.0));
        assert!(frame.top > CAPTION + 2.0 * ROW);
    }
}
