//! Which panels there are, what each one shows, and how its curves are told apart.
//!
//! Asked by `page`; its curves are painted by `trace`. A panel, or a curve, without data is left
//! out.

use plotters::style::RGBColor;

use super::axis::Axis;
use super::palette::{BELIEF, BRAKING, DRIVING, OUTSIDE, SPEED, VOLTAGE};
use super::series::Series;
use super::thinning::Bins;

/// How a curve looks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Look {
    /// A line.
    Line { series: Series, thickness: f64 },
    /// A dashed line.
    Dashes { series: Series, thickness: f64 },
    /// The stretch between two series.
    Band { low: Series, high: Series },
    /// All that lies between zero and the peaks, pale.
    Reach { series: Series },
    /// The part above zero as an area: the mean dark, the peaks pale.
    Above { series: Series },
    /// The part below zero, in the same way.
    Below { series: Series },
}

impl Look {
    /// The series that it is drawn from.
    fn series(self) -> (Series, Option<Series>) {
        match self {
            Self::Line { series, .. }
            | Self::Dashes { series, .. }
            | Self::Reach { series }
            | Self::Above { series }
            | Self::Below { series } => (series, None),
            Self::Band { low, high } => (low, Some(high)),
        }
    }

    /// The lowest and highest value, or nothing where there is nothing to see.
    fn reach(self, bins: &Bins) -> Option<(f64, f64)> {
        let (first, second) = self.series();
        let (low, high) = bins.reach(first)?;
        let reach = match second {
            None => (low, high),
            Some(second) => {
                let (lower, higher) = bins.reach(second)?;
                (low.min(lower), high.max(higher))
            }
        };
        let seen = match self {
            Self::Above { .. } => high > 0.0,
            Self::Below { .. } => low < 0.0,
            Self::Line { .. } | Self::Dashes { .. } | Self::Band { .. } | Self::Reach { .. } => {
                true
            }
        };
        seen.then_some(reach)
    }
}

/// A curve with its name.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Curve {
    pub(super) name: &'static str,
    pub(super) look: Look,
    pub(super) colour: RGBColor,
}

impl Curve {
    const fn new(name: &'static str, look: Look, colour: RGBColor) -> Self {
        Self { name, look, colour }
    }
}

/// A panel that has something to show.
#[derive(Clone, Debug)]
pub(super) struct Panel {
    /// Its title: quantity and unit.
    pub(super) title: &'static str,
    /// Its height compared with that of the others.
    pub(super) weight: f64,
    /// Its curves, the lowest layer first.
    pub(super) curves: Vec<Curve>,
    low: f64,
    high: f64,
}

impl Panel {
    /// Its axis, with at most `most_steps` steps.
    pub(super) fn axis(&self, most_steps: f64) -> Axis {
        Axis::around(self.low, self.high, most_steps)
    }
}

/// What could be shown, before looking at the data.
struct Plan {
    title: &'static str,
    weight: f64,
    /// The least that the axis spans: less would blow noise up to a mountain range.
    span: f64,
    from_zero: bool,
    curves: Vec<Curve>,
}

impl Plan {
    fn panel(self, bins: &Bins) -> Option<Panel> {
        let mut curves = Vec::new();
        let mut reach: Option<(f64, f64)> = self.from_zero.then_some((0.0, 0.0));
        for curve in self.curves {
            if let Some((low, high)) = curve.look.reach(bins) {
                curves.push(curve);
                let (lowest, highest) = reach.unwrap_or((low, high));
                reach = Some((low.min(lowest), high.max(highest)));
            }
        }
        let (low, high) = reach?;
        let missing = (self.span - (high - low)).max(0.0);
        // From zero the room goes on top, elsewhere to both sides.
        let (low, high) = if self.from_zero {
            (low, high + missing)
        } else {
            (low - missing / 2.0, high + missing / 2.0)
        };
        (!curves.is_empty()).then_some(Panel {
            title: self.title,
            weight: self.weight,
            curves,
            low,
            high,
        })
    }
}

/// The panels that have something to show, from top to bottom.
pub(super) fn panels(bins: &Bins) -> Vec<Panel> {
    let thumb = bins.reach(Series::Thumb).map(|_| thumb());
    [charge(), voltage(), current(), speed()]
        .into_iter()
        .chain(thumb)
        .chain([range()])
        .filter_map(|plan| plan.panel(bins))
        .collect()
}

fn charge() -> Plan {
    let (low, high) = (Series::ChargeLow, Series::ChargeHigh);
    Plan {
        title: "Charge (%)",
        weight: 1.5,
        span: 4.0,
        from_zero: false,
        curves: vec![
            Curve::new("nine times in ten within", Look::Band { low, high }, BELIEF),
            Curve::new("believed", line(Series::Charge, 2.2), BELIEF),
            Curve::new("true", dashes(Series::TrueCharge, 2.2), OUTSIDE),
        ],
    }
}

fn voltage() -> Plan {
    Plan {
        title: "Pack voltage (V)",
        weight: 0.9,
        span: 2.0,
        from_zero: false,
        curves: vec![Curve::new("", line(Series::Voltage, 1.2), VOLTAGE)],
    }
}

fn current() -> Plan {
    let series = Series::Current;
    Plan {
        title: "Pack current (A)",
        weight: 1.1,
        span: 2.0,
        from_zero: true,
        curves: vec![
            Curve::new("out of the pack (pale: peaks)", Look::Above { series }, DRIVING),
            Curve::new("back into it", Look::Below { series }, BRAKING),
        ],
    }
}

fn speed() -> Plan {
    Plan {
        title: "Speed (km/h)",
        weight: 1.0,
        span: 5.0,
        from_zero: true,
        curves: vec![Curve::new("", line(Series::Speed, 1.4), SPEED)],
    }
}

fn thumb() -> Plan {
    let series = Series::Thumb;
    Plan {
        title: "Thumb, as acceleration (m/s²; below zero brakes)",
        weight: 1.1,
        span: 1.0,
        from_zero: true,
        curves: vec![
            Curve::new("asked", Look::Reach { series }, OUTSIDE),
            Curve::new("allowed", line(Series::Demand, 1.4), BELIEF),
        ],
    }
}

fn range() -> Plan {
    let (low, high) = (Series::RangeLow, Series::Range);
    Plan {
        title: "Range left (km)",
        weight: 1.1,
        span: 1.0,
        from_zero: true,
        curves: vec![
            Curve::new("", Look::Band { low, high }, BELIEF),
            Curve::new("likely", line(Series::Range, 2.2), BELIEF),
            Curve::new("met nine times in ten", dashes(Series::RangeLow, 1.8), BELIEF),
        ],
    }
}

fn line(series: Series, thickness: f64) -> Look {
    Look::Line { series, thickness }
}

fn dashes(series: Series, thickness: f64) -> Look {
    Look::Dashes { series, thickness }
}
