//! Draws the way home: distance above, energy below, and what was said as upright lines through both.
//!
//! Called by `way_home` with the points that were kept. Labels stand in rows over the panels, where
//! no curve comes.

use plotters::style::RGBColor;
use plotters::style::text_anchor::HPos;

use homestretch::range::Word;

use super::axis::Axis;
use super::canvas::{Canvas, Hand, Ink, Place};
use super::lettering::{Lettering, Weight};
use super::page::{framed, hand};
use super::palette::{BELIEF, GRID, INK, OUTSIDE, PAGE, QUIET, SHEET, SPEED, ZERO};
use super::trace::SIGN_WIDTH;
use super::{Heading, Picture, PictureError};
use crate::report::way_home::{HomeSample, Said, name};

const SIZE: (u32, u32) = (1200, 700);
const LEFT: f64 = 72.0;
const RIGHT: f64 = 1172.0;
const BOTTOM: f64 = 636.0;
/// Middle of the upper panel's caption.
const CAPTION_Y: f64 = 103.0;
/// Room for a caption, and for a row of labels.
const CAPTION: f64 = 32.0;
const ROW: f64 = 18.0;
/// What the upper panel gets of the room.
const UPPER_SHARE: f64 = 0.38;

/// Marks: their least distance upright, and the most along the way.
const MARK_DISTANCE: f64 = 26.0;
const MOST_STEPS: f64 = 18.0;

/// How much the band of the need covers.
const PALE: f64 = 0.24;

/// A label this near to its line, or to the line of another one.
const BESIDE: f64 = 5.0;

/// Turning closer than this to the word needs no line of its own.
const AT_ONCE_M: f64 = 60.0;

/// A place on the way with a word to it.
struct Mark {
    text: &'static str,
    x: f64,
    /// From the left to the right end of the words.
    from: f64,
    to: f64,
    /// Counted from the panel upward.
    row: u8,
}

/// A frame with its two axes.
struct Panel {
    top: f64,
    bottom: f64,
    along: Axis,
    up: Axis,
}

/// What a legend shows of a curve.
enum Sign {
    Line,
    Band,
}

struct Sheet<'a> {
    canvas: Canvas<'a>,
    lettering: Lettering,
}

/// The picture of `points`, at least one, with where words were said and where the rider turned.
pub(super) fn draw(
    heading: &Heading,
    points: &[HomeSample],
    told: (&Said, Option<f64>),
) -> Result<Picture, PictureError> {
    let mut drawing = String::new();
    let board = {
        let sheet = Sheet { canvas: Canvas::new(&mut drawing, SIZE), lettering: Lettering::new() };
        let board = sheet.heading(heading)?;
        sheet.content(points, told)?;
        sheet.canvas.finish()?;
        board
    };
    Ok(Picture { svg: framed(&drawing, &board, SIZE) })
}

impl Sheet<'_> {
    /// The words over the panels; gives back the name of the board as drawn.
    fn heading(&self, heading: &Heading) -> Result<String, PictureError> {
        let whole = (f64::from(SIZE.0), f64::from(SIZE.1));
        self.canvas.rectangle((0.0, 0.0), whole, Ink::fill(PAGE, 1.0))?;
        let title = hand(27.0, Weight::Bold, INK, HPos::Left);
        let result = hand(17.0, Weight::Regular, INK, HPos::Left);
        let ride = hand(15.0, Weight::Regular, QUIET, HPos::Right);
        let fitted = |text: &str, hand: Hand, widest: f64| {
            self.lettering.fitted(text, hand.size, hand.weight, widest)
        };
        let board = fitted(&heading.board, title, RIGHT - LEFT);
        self.canvas.words(&board, (LEFT, 35.0), title)?;
        let line = fitted(&heading.result, result, (RIGHT - LEFT) * 0.58);
        self.canvas.words(&line, (LEFT, 69.0), result)?;
        let name = fitted(&heading.ride, ride, (RIGHT - LEFT) * 0.4);
        self.canvas.words(&name, (RIGHT, 69.0), ride)?;
        Ok(board)
    }

    fn content(
        &self,
        points: &[HomeSample],
        told: (&Said, Option<f64>),
    ) -> Result<(), PictureError> {
        let most = |of: fn(&HomeSample) -> f64| points.iter().map(of).fold(0.0, f64::max);
        let along = Axis::around(0.0, most(|point| point.ridden_m / 1000.0), MOST_STEPS);
        let marks = self.marks(told, &along);
        let rows = marks.iter().map(|mark| f64::from(mark.row) + 1.0).fold(0.0, f64::max);
        let top = CAPTION_Y + CAPTION / 2.0 + rows * ROW;
        let middle = top + (BOTTOM - top - CAPTION) * UPPER_SHARE;
        let panel = |top: f64, bottom: f64, most: f64| Panel {
            top,
            bottom,
            along,
            up: Axis::around(0.0, most, (bottom - top) / MARK_DISTANCE),
        };
        let upper = panel(top, middle, most(|point| point.home_m / 1000.0));
        let energy_Wh = most(|point| point.left_Wh.max(point.need_nine_in_ten_Wh));
        let lower = panel(middle + CAPTION, BOTTOM, energy_Wh);
        self.caption("Distance from home (km)", CAPTION_Y, &[])?;
        self.caption(
            "Energy (Wh)",
            middle + CAPTION / 2.0,
            &[
                ("left", Sign::Line, BELIEF),
                ("needed for the way home", Sign::Line, OUTSIDE),
                ("nine times in ten no more", Sign::Band, OUTSIDE),
            ],
        )?;
        self.ground(&upper)?;
        self.ground(&lower)?;
        self.words(&marks, &upper, &lower)?;
        let curve = |panel: &Panel, of: fn(&HomeSample) -> f64| -> Vec<Place> {
            points.iter().map(|point| panel.place(point.ridden_m, of(point))).collect()
        };
        let need = curve(&lower, |point| point.need_Wh);
        let nine = curve(&lower, |point| point.need_nine_in_ten_Wh);
        let left = curve(&lower, |point| point.left_Wh);
        let home = curve(&upper, |point| point.home_m / 1000.0);
        self.canvas.between(&nine, &need, Ink::fill(OUTSIDE, PALE))?;
        self.canvas.line(&need, Ink::line(OUTSIDE, 2.0))?;
        self.canvas.line(&left, Ink::line(BELIEF, 2.0))?;
        self.canvas.line(&home, Ink::line(SPEED, 2.0))?;
        self.footer(&lower)
    }

    /// What was said where, each label in the lowest row in which nothing crosses it.
    fn marks(&self, (said, turned_m): (&Said, Option<f64>), along: &Axis) -> Vec<Mark> {
        let apart = |at_m: f64| said.now_m.is_none_or(|now_m| (at_m - now_m).abs() > AT_ONCE_M);
        let places = [
            (name(Word::TurnSoon), said.soon_m),
            (name(Word::TurnNow), said.now_m),
            ("turned", turned_m.filter(|at_m| apart(*at_m))),
            (name(Word::WillNotReach), said.will_not_reach_m),
        ];
        let placed: Vec<_> = places
            .into_iter()
            .filter_map(|(text, at_m)| Some((text, across(along, at_m? / 1000.0))))
            .map(|(text, x)| (text, x, self.width(text, label())))
            .collect();
        // Words stand to the right of their lines, or all to the left where one has no room there.
        let to_left = placed.iter().any(|(_, x, wide)| x + BESIDE + wide > RIGHT);
        let mut marks: Vec<Mark> = placed
            .into_iter()
            .map(|(text, x, wide)| {
                let from = if to_left { x - BESIDE - wide } else { x + BESIDE };
                Mark { text, x, from, to: from + wide, row: 0 }
            })
            .collect();
        marks.sort_by(|one, other| one.x.total_cmp(&other.x));
        if to_left {
            marks.reverse();
        }
        // Words that reach over the line of a mark further on go above it, so that no line runs
        // through words.
        let mut placed: Vec<Mark> = Vec::new();
        while let Some(mut mark) = marks.pop() {
            let met = placed.iter().filter(|other| {
                mark.from < other.to.max(other.x) + BESIDE
                    && mark.to + BESIDE > other.from.min(other.x)
            });
            mark.row = met.map(|other| other.row.saturating_add(1)).max().unwrap_or(0);
            placed.push(mark);
        }
        placed
    }

    /// The marks: a line through each panel, and the words over the upper one.
    fn words(&self, marks: &[Mark], upper: &Panel, lower: &Panel) -> Result<(), PictureError> {
        for mark in marks {
            let middle = upper.top - ROW * (f64::from(mark.row) + 0.5);
            let ink = Ink::line(QUIET, 1.0);
            self.canvas.line(&[(mark.x, middle - ROW * 0.4), (mark.x, upper.bottom)], ink)?;
            self.canvas.line(&[(mark.x, lower.top), (mark.x, lower.bottom)], ink)?;
            self.canvas.words(mark.text, (mark.from, middle), label())?;
        }
        Ok(())
    }

    /// Title and legend of a panel, around the height `y`.
    fn caption(
        &self,
        title: &str,
        y: f64,
        legend: &[(&str, Sign, RGBColor)],
    ) -> Result<(), PictureError> {
        let bold = hand(14.0, Weight::Bold, INK, HPos::Left);
        let plain = hand(13.0, Weight::Regular, QUIET, HPos::Left);
        self.canvas.words(title, (LEFT, y), bold)?;
        let mut left = LEFT + self.width(title, bold) + 28.0;
        for (text, sign, colour) in legend {
            let right = left + SIGN_WIDTH;
            match sign {
                Sign::Line => {
                    self.canvas.line(&[(left, y), (right, y)], Ink::line(*colour, 2.0))?;
                }
                Sign::Band => {
                    let ink = Ink::fill(*colour, PALE);
                    self.canvas.rectangle((left, y - 5.0), (right, y + 5.0), ink)?;
                }
            }
            self.canvas.words(text, (right + 7.0, y), plain)?;
            left = right + 7.0 + self.width(text, plain) + 24.0;
        }
        Ok(())
    }

    /// An empty panel with marks on both axes.
    fn ground(&self, panel: &Panel) -> Result<(), PictureError> {
        let (top, bottom) = (panel.top, panel.bottom);
        self.canvas.rectangle((LEFT, top), (RIGHT, bottom), Ink::fill(SHEET, 1.0))?;
        for (km, _) in panel.along.marks() {
            let x = across(&panel.along, km);
            self.canvas.line(&[(x, top), (x, bottom)], Ink::line(GRID, 1.0))?;
        }
        let beside = hand(12.5, Weight::Regular, QUIET, HPos::Right);
        for (value, text) in panel.up.marks() {
            let y = panel.y(value);
            let colour = if value.abs() < 1e-9 { ZERO } else { GRID };
            self.canvas.line(&[(LEFT, y), (RIGHT, y)], Ink::line(colour, 1.0))?;
            self.canvas.words(&text, (LEFT - 9.0, y), beside)?;
        }
        Ok(())
    }

    /// The marks and the title of the way, under the lower panel.
    fn footer(&self, lower: &Panel) -> Result<(), PictureError> {
        let mark = hand(12.5, Weight::Regular, QUIET, HPos::Center);
        let title = hand(14.0, Weight::Bold, INK, HPos::Center);
        for (km, text) in lower.along.marks() {
            self.canvas.words(&text, (across(&lower.along, km), BOTTOM + 15.0), mark)?;
        }
        self.canvas.words("ridden (km)", (f64::midpoint(LEFT, RIGHT), BOTTOM + 40.0), title)
    }

    fn width(&self, text: &str, hand: Hand) -> f64 {
        self.lettering.width(text, hand.size, hand.weight)
    }
}

impl Panel {
    fn y(&self, value: f64) -> f64 {
        let share = (value - self.up.low) / (self.up.high - self.up.low);
        self.bottom - (self.bottom - self.top) * share
    }

    fn place(&self, ridden_m: f64, value: f64) -> Place {
        (across(&self.along, ridden_m / 1000.0), self.y(value))
    }
}

/// Pixels from the left of the sheet.
fn across(along: &Axis, km: f64) -> f64 {
    LEFT + (RIGHT - LEFT) * (km - along.low) / (along.high - along.low)
}

fn label() -> Hand {
    hand(13.0, Weight::Regular, INK, HPos::Left)
}
