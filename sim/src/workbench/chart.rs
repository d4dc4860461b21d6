//! Two lines over a pair of axes, as SVG: for the report, which needs no more.
//!
//! The page draws its own pictures; those of rides are `report::picture`.

use std::fmt::Write as _;

/// A line to be drawn.
#[derive(Clone, Debug)]
pub(super) struct Line {
    /// Across and up.
    pub(super) points: Vec<(f64, f64)>,
    /// Whether it is the one that is compared with.
    pub(super) dashed: bool,
}

/// What the axes say.
#[derive(Clone, Copy, Debug)]
pub(super) struct Chart {
    /// Unit or name of what lies across.
    pub(super) across: &'static str,
    /// Of what goes up.
    pub(super) up: &'static str,
}

/// Of the picture, and of the part that is drawn in.
const WIDTH: f64 = 720.0;
const HEIGHT: f64 = 300.0;
const LEFT: f64 = 56.0;
const RIGHT: f64 = 704.0;
const TOP: f64 = 24.0;
const BOTTOM: f64 = 264.0;

/// About so many lines of a grid.
const GRID: f64 = 5.0;

/// One axis: its ends, and the step of its grid.
#[derive(Clone, Copy, Debug)]
struct Axis {
    low: f64,
    high: f64,
    step: f64,
    /// Where the ends lie on the picture.
    place: (f64, f64),
}

impl Axis {
    fn of(values: impl Iterator<Item = f64> + Clone, place: (f64, f64)) -> Self {
        let low = values.clone().fold(0.0, f64::min);
        let high = values.fold(0.0, f64::max).max(low + 1e-6);
        let rough = (high - low) / GRID;
        let power = 10_f64.powf(rough.log10().floor());
        let step = [1.0, 2.0, 5.0, 10.0].map(|times| times * power);
        let step = step.into_iter().find(|step| *step >= rough).unwrap_or(rough);
        Self { low: (low / step).floor() * step, high: (high / step).ceil() * step, step, place }
    }

    fn at(&self, value: f64) -> f64 {
        let (from, to) = self.place;
        from + (value - self.low) / (self.high - self.low) * (to - from)
    }

    fn grid(&self) -> impl Iterator<Item = f64> {
        let Self { low, high, step, .. } = *self;
        let lines = (0..).map(move |line: i32| low + f64::from(line) * step);
        lines.take_while(move |value| *value <= high + step / 1e3)
    }
}

impl Chart {
    /// The picture of these lines.
    pub(super) fn of(&self, lines: &[Line]) -> String {
        let points = || lines.iter().flat_map(|line| line.points.iter());
        let across = Axis::of(points().map(|point| point.0), (LEFT, RIGHT));
        let up = Axis::of(points().map(|point| point.1), (BOTTOM, TOP));
        let mut svg = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH} {HEIGHT}\" width=\"{WIDTH}\" \
             height=\"{HEIGHT}\" font-size=\"13\" fill=\"none\" stroke=\"#d3d8dd\">"
        );
        for value in across.grid() {
            let x = across.at(value);
            // Writing to a text does not fail.
            let _ = write!(svg, "<path d=\"M{x:.1} {TOP}V{BOTTOM}\"/>");
            let _ = write!(svg, "{}", label((x, BOTTOM + 18.0), "middle", &short(value)));
        }
        for value in up.grid() {
            let y = up.at(value);
            let _ = write!(svg, "<path d=\"M{LEFT} {y:.1}H{RIGHT}\"/>");
            let _ = write!(svg, "{}", label((LEFT - 6.0, y + 4.0), "end", &short(value)));
        }
        svg.push_str(&label((LEFT, TOP - 10.0), "middle", self.up));
        svg.push_str(&label((RIGHT, BOTTOM + 34.0), "end", self.across));
        for line in lines {
            let (colour, dashes) = if line.dashed {
                ("#c2570c", " stroke-dasharray=\"6 5\"")
            } else {
                ("#1d5d9b", "")
            };
            let _ = write!(svg, "<path stroke=\"{colour}\" stroke-width=\"2\"{dashes} d=\"");
            for (at, (x, y)) in line.points.iter().enumerate() {
                let pen = if at == 0 { 'M' } else { 'L' };
                let _ = write!(svg, "{pen}{:.1} {:.1}", across.at(*x), up.at(*y));
            }
            svg.push_str("\"/>");
        }
        svg.push_str("</svg>");
        svg
    }
}

fn label((x, y): (f64, f64), anchor: &str, text: &str) -> String {
    format!(
        "<text x=\"{x:.1}\" y=\"{y:.1}\" text-anchor=\"{anchor}\" fill=\"#55606b\" stroke=\"none\">{text}</text>"
    )
}

/// Three figures are enough beside a grid; no zero with a sign.
fn short(value: f64) -> String {
    let rounded = (value * 1000.0).round() / 1000.0 + 0.0;
    rounded.to_string().replace('-', "\u{2212}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_picture_is_well_formed_holds_all_points_and_has_a_grid_about_zero() {
        let points = vec![(-1.0, -3.0), (0.0, 0.0), (1.0, 1.6)];
        let svg = Chart { across: "thumb", up: "m/s²" }
            .of(&[Line { points: points.clone(), dashed: false }, Line { points, dashed: true }]);
        let parsed = roxmltree::Document::parse(&svg).unwrap();
        let texts: Vec<_> = parsed
            .descendants()
            .filter(|node| node.has_tag_name("text"))
            .filter_map(|node| node.text())
            .collect();
        assert!(texts.contains(&"0") && texts.contains(&"−1") && texts.contains(&"thumb"));
        assert_eq!(svg.matches("stroke-dasharray").count(), 1);
        assert!(!svg.contains("NaN") && !svg.contains("inf"));
    }

    #[test]
    fn nothing_to_draw_is_still_a_picture() {
        let svg = Chart { across: "s", up: "m" }.of(&[Line { points: Vec::new(), dashed: false }]);
        assert!(roxmltree::Document::parse(&svg).is_ok() && !svg.contains("NaN"), "{svg}");
    }
}
