//! All rides of a campaign in one picture: how far off the charge, and which promises of range held.
//!
//! Fed ride by ride, written by `cli`. Points are gathered in small squares that are counted, so
//! that a campaign of any size needs the same memory; a square is the darker the more it holds.

use std::collections::BTreeMap;

use plotters::style::RGBColor;
use plotters::style::text_anchor::HPos;

use super::axis::Axis;
use super::canvas::{Canvas, Hand, Ink};
use super::lettering::{Lettering, Weight};
use super::page::{framed, hand};
use super::palette::{BELIEF, GRID, INK, OUTSIDE, PAGE, QUIET, SHEET};
use super::{Picture, PictureError};
use crate::campaign::Outcome;

const SIZE: (u32, u32) = (1200, 620);
const TOP: f64 = 132.0;
const BOTTOM: f64 = 540.0;
const SIDES: [(f64, f64); 2] = [(72.0, 580.0), (680.0, 1172.0)];

/// Side of a square: half a degree, a fifth of a percent, half a kilometre.
const DEGREES: f64 = 0.5;
const PERCENT: f64 = 0.2;
const KILOMETRES: f64 = 0.5;

/// What lies further out is drawn at the edge.
const MOST_SQUARES: f64 = 400.0;

type Squares = BTreeMap<(i32, i32), u32>;

/// The points of a campaign.
#[derive(Clone, Debug, Default)]
pub struct Cloud {
    rides: u64,
    charge: Squares,
    range: Squares,
    claims: u64,
    met: u64,
}

/// One half of the picture.
struct Half<'a> {
    title: &'static str,
    across: &'static str,
    squares: &'a Squares,
    /// Of a square, across and up.
    side: (f64, f64),
    sides: (f64, f64),
    colour: RGBColor,
    diagonal: bool,
}

impl Cloud {
    /// Takes one ride.
    pub fn add(&mut self, ride: &Outcome) {
        self.rides += 1;
        if let Some(rms) = ride.charge.rms() {
            let degC = ride.day.pack.temperature_degC.unwrap_or(ride.day.air.temperature_degC);
            count(&mut self.charge, (degC / DEGREES, rms * 100.0 / PERCENT));
        }
        for (left_m, low_m) in ride.promises() {
            self.claims += 1;
            self.met += u64::from(left_m >= low_m);
            let km = |metres: f64| metres / 1000.0 / KILOMETRES;
            count(&mut self.range, (km(left_m), km(low_m)));
        }
    }

    /// The picture, under the board's name.
    ///
    /// # Errors
    /// [`PictureError::Empty`] without a ride, [`PictureError::Drawing`] if the drawing library
    /// refuses.
    pub fn picture(&self, board: &str) -> Result<Picture, PictureError> {
        if self.charge.is_empty() {
            return Err(PictureError::Empty { ride: "campaign".to_owned(), rows: self.rides });
        }
        let mut drawing = String::new();
        let lettering = Lettering::new();
        let title = hand(27.0, Weight::Bold, INK, HPos::Left);
        let name = lettering.fitted(board, title.size, title.weight, 1100.0);
        {
            let canvas = Canvas::new(&mut drawing, SIZE);
            let whole = (f64::from(SIZE.0), f64::from(SIZE.1));
            canvas.rectangle((0.0, 0.0), whole, Ink::fill(PAGE, 1.0))?;
            canvas.words(&name, (SIDES[0].0, 35.0), title)?;
            let line = hand(17.0, Weight::Regular, INK, HPos::Left);
            canvas.words(&self.result(), (SIDES[0].0, 69.0), line)?;
            for half in self.halves() {
                half.draw(&canvas)?;
            }
            canvas.finish()?;
        }
        Ok(Picture { svg: framed(&drawing, &name, SIZE) })
    }

    fn result(&self) -> String {
        if self.claims == 0 {
            return format!("{} drawn rides", self.rides);
        }
        format!(
            "{} drawn rides; of {} promises of range, to be met nine times in ten, {} were",
            self.rides, self.claims, self.met
        )
    }

    fn halves(&self) -> [Half<'_>; 2] {
        [
            Half {
                title: "error of the charge, rms of a ride (%)",
                across: "cells at the start (\u{b0}C)",
                squares: &self.charge,
                side: (DEGREES, PERCENT),
                sides: SIDES[0],
                colour: BELIEF,
                diagonal: false,
            },
            Half {
                title: "way that was promised (km): above the line, too much",
                across: "way that was left indeed (km)",
                squares: &self.range,
                side: (KILOMETRES, KILOMETRES),
                sides: SIDES[1],
                colour: OUTSIDE,
                diagonal: true,
            },
        ]
    }
}

impl Half<'_> {
    fn draw(&self, canvas: &Canvas<'_>) -> Result<(), PictureError> {
        let (left, right) = self.sides;
        let (across, up) = self.axes();
        let x =
            |value: f64| left + (right - left) * (value - across.low) / (across.high - across.low);
        let y = |value: f64| BOTTOM - (BOTTOM - TOP) * (value - up.low) / (up.high - up.low);
        let bold = hand(14.0, Weight::Bold, INK, HPos::Left);
        canvas.words(self.title, (left, TOP - 18.0), bold)?;
        canvas.rectangle((left, TOP), (right, BOTTOM), Ink::fill(SHEET, 1.0))?;
        let mark = |side| hand(12.5, Weight::Regular, QUIET, side);
        for (value, text) in across.marks() {
            canvas.line(&[(x(value), TOP), (x(value), BOTTOM)], Ink::line(GRID, 1.0))?;
            canvas.words(&text, (x(value), BOTTOM + 15.0), mark(HPos::Center))?;
        }
        for (value, text) in up.marks() {
            canvas.line(&[(left, y(value)), (right, y(value))], Ink::line(GRID, 1.0))?;
            canvas.words(&text, (left - 9.0, y(value)), mark(HPos::Right))?;
        }
        let centre = Hand { side: HPos::Center, ..bold };
        canvas.words(self.across, (f64::midpoint(left, right), BOTTOM + 41.0), centre)?;
        if self.diagonal {
            let end = across.high.min(up.high);
            let places = [(x(0.0), y(0.0)), (x(end), y(end))];
            canvas.line(&places, Ink::line(INK, 1.5))?;
        }
        let most = self.squares.values().copied().max().unwrap_or(1);
        for (&(column, row), &count) in self.squares {
            let (from_x, to_x) = edges(column, self.side.0);
            let (from_y, to_y) = edges(row, self.side.1);
            // A root keeps the single ride visible beside the crowd.
            let cover = 0.25 + 0.75 * (f64::from(count) / f64::from(most)).sqrt();
            let ink = Ink::fill(self.colour, cover);
            canvas.rectangle((x(from_x), y(to_y)), (x(to_x), y(from_y)), ink)?;
        }
        Ok(())
    }

    /// From the outermost squares, and from zero where there is nothing below it.
    fn axes(&self) -> (Axis, Axis) {
        let reach = |squares: &mut dyn Iterator<Item = i32>, side: f64| {
            let (mut low, mut high) = (0.0_f64, side);
            for square in squares {
                let (from, to) = edges(square, side);
                low = low.min(from);
                high = high.max(to);
            }
            Axis::around(low, high, 10.0)
        };
        let across = reach(&mut self.squares.keys().map(|(column, _)| *column), self.side.0);
        let up = reach(&mut self.squares.keys().map(|(_, row)| *row), self.side.1);
        (across, up)
    }
}

fn edges(square: i32, side: f64) -> (f64, f64) {
    (f64::from(square) * side, f64::from(square + 1) * side)
}

#[allow(clippy::cast_possible_truncation, reason = "held to a few hundred on the line before")]
fn count(squares: &mut Squares, (across, up): (f64, f64)) {
    let square = |value: f64| value.floor().clamp(-MOST_SQUARES, MOST_SQUARES) as i32;
    let held = squares.entry((square(across), square(up))).or_insert(0);
    *held = held.saturating_add(1);
}
