//! Lays the page out: heading, panels from top to bottom, shared time, legend.
//!
//! Called by `picture`; what the panels show comes from `panel`, their curves are painted by
//! `trace`.

use plotters::style::RGBColor;
use plotters::style::text_anchor::HPos;

use super::axis::TimeAxis;
use super::canvas::{Canvas, FINENESS, Hand, Ink};
use super::lettering::{Lettering, Weight};
use super::palette::{GRID, INK, LOST, PAGE, QUIET, SHEET, ZERO};
use super::panel::{Panel, panels};
use super::thinning::Bins;
use super::trace::{self, Frame, SIGN_WIDTH};
use super::{Heading, PictureError};

/// Size of the picture in pixels.
pub(super) const WIDTH: u32 = 1200;
pub(super) const HEIGHT: u32 = 1100;

const LEFT: f64 = 72.0;
const RIGHT: f64 = 1172.0;
const TOP: f64 = 92.0;
const BOTTOM: f64 = 1042.0;
/// Room over a panel for its title and legend: they never lie on data.
const CAPTION: f64 = 27.0;
const GAP: f64 = 9.0;
/// Least distance of two marks on an upright axis, most steps on it and along time.
const MARK_DISTANCE: f64 = 22.0;
const MOST_STEPS: f64 = 8.0;
const MOST_TIME_STEPS: f64 = 12.0;

/// Levels in which the shading of lost telemetry is drawn: more cannot be told apart.
const LOST_LEVELS: f64 = 5.0;
const LOST_COVER: f64 = 0.24;

/// What is needed everywhere on the page.
struct Page<'a> {
    canvas: Canvas<'a>,
    lettering: Lettering,
    bins: &'a Bins,
    time: TimeAxis,
}

/// The picture as SVG text, or nothing where there is nothing to draw.
pub(super) fn draw(heading: &Heading, bins: &Bins) -> Result<Option<String>, PictureError> {
    let panels = panels(bins);
    if panels.is_empty() {
        return Ok(None);
    }
    let mut drawing = String::new();
    let name = {
        let page = Page {
            canvas: Canvas::new(&mut drawing, (WIDTH, HEIGHT)),
            lettering: Lettering::new(),
            bins,
            time: TimeAxis::over(bins.span_s(), MOST_TIME_STEPS),
        };
        let name = page.content(heading, &panels)?;
        page.canvas.finish()?;
        name
    };
    Ok(Some(framed(&drawing, &name, (WIDTH, HEIGHT))))
}

impl Page<'_> {
    /// Draws everything and returns the name of the board as drawn.
    fn content(&self, heading: &Heading, panels: &[Panel]) -> Result<String, PictureError> {
        let size = (f64::from(WIDTH), f64::from(HEIGHT));
        self.canvas.rectangle((0.0, 0.0), size, Ink::fill(PAGE, 1.0))?;
        let name = self.heading(heading)?;
        self.panels(panels)?;
        self.footer()?;
        Ok(name)
    }

    /// Draws the words over the panels and returns the name of the board as drawn.
    fn heading(&self, heading: &Heading) -> Result<String, PictureError> {
        let width = RIGHT - LEFT;
        let title = hand(27.0, Weight::Bold, INK, HPos::Left);
        let result = hand(17.0, Weight::Regular, INK, HPos::Left);
        let ride = hand(15.0, Weight::Regular, QUIET, HPos::Right);
        let fitted = |text: &str, hand: Hand, widest: f64| {
            self.lettering.fitted(text, hand.size, hand.weight, widest)
        };
        let board = fitted(&heading.board, title, width);
        self.canvas.words(&board, (LEFT, 35.0), title)?;
        let file = fitted(&heading.ride, ride, width * 0.4);
        let line = fitted(&heading.result, result, width * 0.58);
        self.canvas.words(&line, (LEFT, 69.0), result)?;
        self.canvas.words(&file, (RIGHT, 69.0), ride)?;
        Ok(board)
    }

    fn panels(&self, panels: &[Panel]) -> Result<(), PictureError> {
        let count = panels.iter().fold(0.0, |count, _| count + 1.0);
        let weights: f64 = panels.iter().map(|panel| panel.weight).sum();
        let room = BOTTOM - TOP - count * CAPTION - (count - 1.0) * GAP;
        let mut top = TOP;
        for panel in panels {
            let height = room * panel.weight / weights;
            self.caption(panel, top + CAPTION / 2.0)?;
            top += CAPTION;
            let frame = Frame {
                left: LEFT,
                right: RIGHT,
                top,
                bottom: top + height,
                span_s: self.time.axis.high * self.time.unit_s,
                axis: panel.axis((height / MARK_DISTANCE).min(MOST_STEPS)),
            };
            self.sheet(&frame)?;
            for curve in &panel.curves {
                trace::paint(&self.canvas, &frame, self.bins, curve)?;
            }
            top += height + GAP;
        }
        Ok(())
    }

    /// Title and legend of a panel, around the height `y`.
    fn caption(&self, panel: &Panel, y: f64) -> Result<(), PictureError> {
        let title = hand(14.0, Weight::Bold, INK, HPos::Left);
        let name = hand(13.0, Weight::Regular, QUIET, HPos::Left);
        self.canvas.words(panel.title, (LEFT, y), title)?;
        let mut left = LEFT + self.width(panel.title, title) + 28.0;
        for curve in panel.curves.iter().filter(|curve| !curve.name.is_empty()) {
            trace::sign(&self.canvas, curve, (left, y))?;
            left += SIGN_WIDTH + 7.0;
            self.canvas.words(curve.name, (left, y), name)?;
            left += self.width(curve.name, name) + 24.0;
        }
        Ok(())
    }

    /// The empty panel: its ground, marks on both axes, shading where telemetry was lost.
    fn sheet(&self, frame: &Frame) -> Result<(), PictureError> {
        let (left, right, top, bottom) = (frame.left, frame.right, frame.top, frame.bottom);
        let canvas = &self.canvas;
        canvas.rectangle((left, top), (right, bottom), Ink::fill(SHEET, 1.0))?;
        for (mark, _) in self.time.axis.marks() {
            let x = frame.x(mark * self.time.unit_s);
            canvas.line(&[(x, top), (x, bottom)], Ink::line(GRID, 1.0))?;
        }
        let label = hand(12.5, Weight::Regular, QUIET, HPos::Right);
        for (value, text) in frame.axis.marks() {
            let y = frame.y(value);
            let colour = if text == "0" { ZERO } else { GRID };
            canvas.line(&[(left, y), (right, y)], Ink::line(colour, 1.0))?;
            canvas.words(&text, (left - 9.0, y), label)?;
        }
        self.lost(frame)
    }

    fn lost(&self, frame: &Frame) -> Result<(), PictureError> {
        for (from_s, to_s, level) in losses(self.bins) {
            let ink = Ink::fill(LOST, LOST_COVER * level / LOST_LEVELS);
            let from = frame.x(from_s);
            // A loss too short for a pixel is still to be seen.
            let to = frame.x(to_s).max(from + 1.5).min(frame.right);
            self.canvas.rectangle((from, frame.top), (to, frame.bottom), ink)?;
        }
        Ok(())
    }

    /// The words under the last panel.
    fn footer(&self) -> Result<(), PictureError> {
        let label = hand(12.5, Weight::Regular, QUIET, HPos::Center);
        let title = hand(14.0, Weight::Bold, INK, HPos::Center);
        let high = self.time.axis.high;
        for (mark, text) in self.time.axis.marks() {
            let x = LEFT + (RIGHT - LEFT) * mark / high;
            self.canvas.words(&text, (x, BOTTOM + 15.0), label)?;
        }
        let middle = f64::midpoint(LEFT, RIGHT);
        self.canvas.words(self.time.title, (middle, BOTTOM + 39.0), title)?;
        if losses(self.bins).is_empty() {
            return Ok(());
        }
        let (text, y) = ("shaded: telemetry lost", BOTTOM + 39.0);
        let note = hand(13.0, Weight::Regular, QUIET, HPos::Right);
        self.canvas.words(text, (RIGHT, y), note)?;
        let right = RIGHT - self.width(text, note) - 8.0;
        let ink = Ink::fill(LOST, LOST_COVER);
        self.canvas.rectangle((right - SIGN_WIDTH, y - 6.0), (right, y + 6.0), ink)
    }

    fn width(&self, text: &str, hand: Hand) -> f64 {
        self.lettering.width(text, hand.size, hand.weight)
    }
}

/// Stretches in which telemetry was lost: from, to in seconds, and how much of it, in levels.
/// Each lasts until the next row that came through, or came through better.
fn losses(bins: &Bins) -> Vec<(f64, f64, f64)> {
    let mut losses = Vec::new();
    let mut open: Option<(f64, f64)> = None;
    for bin in bins.iter() {
        let level = (bin.lost() * LOST_LEVELS).ceil();
        if let Some((from_s, before)) = open
            && (before - level).abs() > 0.5
        {
            losses.push((from_s, bin.first_s, before));
            open = None;
        }
        if open.is_none() && level > 0.0 {
            open = Some((bin.first_s, level));
        }
    }
    if let Some((from_s, level)) = open {
        losses.push((from_s, bins.span_s(), level));
    }
    losses
}

pub(super) fn hand(size: f64, weight: Weight, colour: RGBColor, side: HPos) -> Hand {
    Hand { size, weight, colour, side }
}

/// The drawing, brought from the fine units back to pixels, with a name that can be read aloud.
pub(super) fn framed(drawing: &str, name: &str, (wide, high): (u32, u32)) -> String {
    let (width, height) = (wide * FINENESS, high * FINENESS);
    let name = name.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;");
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{wide}\" height=\"{high}\" \
         viewBox=\"0 0 {width} {height}\" role=\"img\" stroke-linejoin=\"round\">\n\
         <title>{name}</title>\n{drawing}</svg>\n"
    )
}
