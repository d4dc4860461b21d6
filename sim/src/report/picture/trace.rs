//! Paints the curves of a panel into its frame, and what the legend shows of each.
//!
//! Called by `page` with the looks that `panel` chose and the bins of `thinning`. A curve breaks
//! where rows held no value for it.

use super::PictureError;
use super::axis::Axis;
use super::canvas::{Canvas, Ink, Place};
use super::panel::{Curve, Look};
use super::series::Series;
use super::thinning::{Bin, Bins};

/// How much bands cover what lies beneath.
const PALE: f64 = 0.24;
/// How much peaks cover.
const HALF: f64 = 0.4;
/// How much a mean covers.
const DARK: f64 = 0.85;

/// Width of a curve's sign in the legend.
pub(super) const SIGN_WIDTH: f64 = 26.0;

/// Where the values of one panel lie on the sheet.
#[derive(Clone, Copy, Debug)]
pub(super) struct Frame {
    pub(super) left: f64,
    pub(super) right: f64,
    pub(super) top: f64,
    pub(super) bottom: f64,
    /// Seconds from the left to the right edge.
    pub(super) span_s: f64,
    /// Values from the bottom to the top.
    pub(super) axis: Axis,
}

impl Frame {
    /// Pixels from the left of the sheet.
    pub(super) fn x(&self, time_s: f64) -> f64 {
        self.left + (self.right - self.left) * (time_s / self.span_s)
    }

    /// Pixels from the top of the sheet.
    pub(super) fn y(&self, value: f64) -> f64 {
        let share = (value - self.axis.low) / (self.axis.high - self.axis.low);
        self.bottom - (self.bottom - self.top) * share
    }

    fn place(&self, time_s: f64, value: f64) -> Place {
        (self.x(time_s), self.y(value))
    }
}

/// Paints `curve`.
pub(super) fn paint(
    canvas: &Canvas<'_>,
    frame: &Frame,
    bins: &Bins,
    curve: &Curve,
) -> Result<(), PictureError> {
    match curve.look {
        Look::Line { series, thickness } => {
            let ink = Ink::line(curve.colour, thickness);
            lines(frame, bins, series).iter().try_for_each(|run| canvas.line(run, ink))
        }
        Look::Dashes { series, thickness } => {
            let ink = Ink::line(curve.colour, thickness);
            lines(frame, bins, series).iter().try_for_each(|run| canvas.dashes(run, ink))
        }
        Look::Band { low, high } => {
            let ink = Ink::fill(curve.colour, PALE);
            let edges = |bin: &Bin| {
                let (low, high) = (bin.extent(low)?, bin.extent(high)?);
                let time_s = high.middle_s();
                Some((
                    frame.place(time_s, high.highest.value),
                    frame.place(time_s, low.lowest.value),
                ))
            };
            fill(canvas, &runs(bins, edges), ink)
        }
        Look::Reach { series } => {
            let edges = |bin: &Bin| {
                let extent = bin.extent(series)?;
                let time_s = extent.middle_s();
                Some((
                    frame.place(time_s, extent.highest.value.max(0.0)),
                    frame.place(time_s, extent.lowest.value.min(0.0)),
                ))
            };
            fill(canvas, &runs(bins, edges), Ink::fill(curve.colour, HALF))
        }
        Look::Above { series } => area(canvas, frame, bins, (series, curve, f64::max)),
        Look::Below { series } => area(canvas, frame, bins, (series, curve, f64::min)),
    }
}

/// The part of a series on one side of zero: peaks pale, means dark.
fn area(
    canvas: &Canvas<'_>,
    frame: &Frame,
    bins: &Bins,
    (series, curve, side): (Series, &Curve, fn(f64, f64) -> f64),
) -> Result<(), PictureError> {
    let edges = |of_peak: bool| {
        runs(bins, |bin| {
            let extent = bin.extent(series)?;
            let time_s = extent.middle_s();
            let value = if of_peak {
                side(extent.lowest.value, extent.highest.value)
            } else {
                extent.mean()
            };
            Some((frame.place(time_s, side(value, 0.0)), frame.place(time_s, 0.0)))
        })
    };
    fill(canvas, &edges(true), Ink::fill(curve.colour, HALF))?;
    fill(canvas, &edges(false), Ink::fill(curve.colour, DARK))
}

fn fill(canvas: &Canvas<'_>, runs: &[Vec<(Place, Place)>], ink: Ink) -> Result<(), PictureError> {
    runs.iter().try_for_each(|run| {
        let (upper, lower): (Vec<Place>, Vec<Place>) = run.iter().copied().unzip();
        canvas.between(&upper, &lower, ink)
    })
}

/// The unbroken lines of `series`.
fn lines(frame: &Frame, bins: &Bins, series: Series) -> Vec<Vec<Place>> {
    let points = |bin: &Bin| {
        bin.extent(series)
            .map(|extent| extent.points().map(|point| frame.place(point.time_s, point.value)))
    };
    runs(bins, points).into_iter().map(|run| run.concat()).collect()
}

/// What `of` makes of each bin, in stretches that end where it makes nothing.
fn runs<T>(bins: &Bins, of: impl Fn(&Bin) -> Option<T>) -> Vec<Vec<T>> {
    let mut runs = Vec::new();
    let mut run = Vec::new();
    for bin in bins.iter() {
        match of(bin) {
            Some(item) => run.push(item),
            None if run.is_empty() => {}
            None => runs.push(std::mem::take(&mut run)),
        }
    }
    if !run.is_empty() {
        runs.push(run);
    }
    runs
}

/// Draws the sign of `curve` in the legend, from `left` on, around the height `y`.
pub(super) fn sign(
    canvas: &Canvas<'_>,
    curve: &Curve,
    (left, y): Place,
) -> Result<(), PictureError> {
    let right = left + SIGN_WIDTH;
    let block = |cover| {
        let ink = Ink::fill(curve.colour, cover);
        canvas.rectangle((left, y - 5.0), (right, y + 5.0), ink)
    };
    match curve.look {
        Look::Line { thickness, .. } => {
            canvas.line(&[(left, y), (right, y)], Ink::line(curve.colour, thickness))
        }
        // Two dashes, so that the sign looks dashed whatever the pace of the dashes.
        Look::Dashes { thickness, .. } => [left, left + 15.0].iter().try_for_each(|start| {
            let ink = Ink::line(curve.colour, thickness);
            canvas.line(&[(*start, y), (start + 11.0, y)], ink)
        }),
        Look::Band { .. } => block(PALE),
        Look::Reach { .. } => block(HALF),
        Look::Above { .. } | Look::Below { .. } => block(DARK),
    }
}
