//! Round numbers along an axis, and the words for time.
//!
//! Asked by `page` for each panel and for the shared time.
//! Source: common practice, no source.

/// Steps within one power of ten that read easily.
const ROUND: [f64; 3] = [1.0, 2.0, 5.0];

/// Longest ride whose time is counted in seconds, and longest one counted in minutes.
const SECONDS_UP_TO_S: f64 = 180.0;
const MINUTES_UP_TO_S: f64 = 3.0 * 3600.0;

/// Steps that read easily on a clock; beyond the last one days are doubled.
const CLOCK_SECONDS: [f64; 8] = [0.1, 0.5, 1.0, 2.0, 5.0, 10.0, 15.0, 30.0];
const CLOCK_MINUTES: [f64; 7] = [0.5, 1.0, 2.0, 5.0, 10.0, 15.0, 30.0];
const CLOCK_HOURS: [f64; 6] = [0.5, 1.0, 2.0, 3.0, 6.0, 12.0];

/// From which value to which, with a mark at every whole step.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Axis {
    /// The lowest value.
    pub(super) low: f64,
    /// The highest value, above the lowest one.
    pub(super) high: f64,
    step: f64,
    decimals: usize,
}

impl Axis {
    /// An axis from a whole step to a whole step that holds `low` to `high` in at most
    /// `most_steps` (at least 2) of the smallest round step that does.
    pub(super) fn around(low: f64, high: f64, most_steps: f64) -> Self {
        let most_steps = most_steps.max(2.0);
        let smallest = ((high - low) / most_steps).max(1e-6);
        let mut power = smallest.log10().floor();
        loop {
            for factor in ROUND {
                let step = factor * 10.0_f64.powf(power);
                let first = (low / step).floor();
                let last = (high / step).ceil().max(first + 1.0);
                if last - first <= most_steps {
                    return Self {
                        low: first * step,
                        high: last * step,
                        step,
                        decimals: decimals(step),
                    };
                }
            }
            power += 1.0;
        }
    }

    /// The marks, rising: value and label.
    pub(super) fn marks(&self) -> impl Iterator<Item = (f64, String)> {
        let axis = *self;
        // A millionth of a step forgives what rounding does to a mark at the very end.
        let first = (axis.low / axis.step - 1e-6).ceil();
        std::iter::successors(Some(first), |index| Some(index + 1.0))
            .take_while(move |index| index * axis.step <= axis.high + axis.step * 1e-6)
            .map(move |index| (index * axis.step, axis.label(index)))
    }

    fn label(&self, index: f64) -> String {
        let digits = format!("{:.*}", self.decimals, (index * self.step).abs());
        if index < 0.0 { format!("\u{2212}{digits}") } else { digits }
    }
}

/// The decimals that a label needs to tell one step from the next.
fn decimals(step: f64) -> usize {
    (0..6)
        .find(|places| {
            let scaled = step * 10.0_f64.powi(*places);
            (scaled - scaled.round()).abs() < 1e-6 * scaled
        })
        .and_then(|places| usize::try_from(places).ok())
        .unwrap_or(6)
}

/// The shared axis of time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct TimeAxis {
    /// Marks and ends, in its own unit.
    pub(super) axis: Axis,
    /// What one unit is in seconds.
    pub(super) unit_s: f64,
    /// Its title.
    pub(super) title: &'static str,
}

impl TimeAxis {
    /// An axis from 0 to `span_s` exactly, with at most `most_steps` steps.
    pub(super) fn over(span_s: f64, most_steps: f64) -> Self {
        // A ride of one row still needs a width to be drawn on.
        let span_s = span_s.max(0.5);
        let (unit_s, title, steps): (f64, &'static str, &[f64]) = if span_s <= SECONDS_UP_TO_S {
            (1.0, "Time since start (s)", &CLOCK_SECONDS)
        } else if span_s <= MINUTES_UP_TO_S {
            (60.0, "Time since start (min)", &CLOCK_MINUTES)
        } else {
            (3600.0, "Time since start (h)", &CLOCK_HOURS)
        };
        let high = span_s / unit_s;
        let fits = |step: &f64| high / step <= most_steps;
        let days = || std::iter::successors(Some(24.0), |step| Some(step * 2.0)).find(fits);
        let step = steps.iter().copied().find(fits).or_else(days).unwrap_or(high);
        Self { axis: Axis { low: 0.0, high, step, decimals: decimals(step) }, unit_s, title }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn labels(axis: &Axis) -> Vec<String> {
        axis.marks().map(|(_, label)| label).collect()
    }

    #[test]
    fn marks_are_round_and_enclose_the_values() {
        assert_eq!(
            labels(&Axis::around(66.8, 93.0, 6.0)),
            ["65", "70", "75", "80", "85", "90", "95"]
        );
        assert_eq!(labels(&Axis::around(-18.0, 41.0, 4.0)), ["\u{2212}20", "0", "20", "40", "60"]);
        assert_eq!(labels(&Axis::around(0.1, 0.44, 5.0)), ["0.1", "0.2", "0.3", "0.4", "0.5"]);
    }

    #[test]
    fn time_is_counted_in_the_unit_that_fits_its_length() {
        let minutes = TimeAxis::over(2511.5, 12.0);
        assert_eq!(minutes.title, "Time since start (min)");
        assert_eq!(labels(&minutes.axis), ["0", "5", "10", "15", "20", "25", "30", "35", "40"]);
        assert_eq!(TimeAxis::over(90.0, 12.0).title, "Time since start (s)");
        let week = TimeAxis::over(7.0 * 86_400.0, 12.0);
        assert_eq!(labels(&week.axis), ["0", "24", "48", "72", "96", "120", "144", "168"]);
    }

    proptest! {
        #[test]
        fn law_an_axis_holds_its_values_in_few_rising_marks(
            low in -1.0e6..1.0e6_f64, width in 0.0..1.0e6_f64, most in 2.0..9.0_f64
        ) {
            let axis = Axis::around(low, low + width, most);
            prop_assert!(axis.low <= low && axis.high >= low + width && axis.high > axis.low);
            let marks: Vec<f64> = axis.marks().map(|(value, _)| value).collect();
            prop_assert!(marks.len() >= 2 && marks.len() <= 10);
            prop_assert!(marks.windows(2).all(|pair| pair[0] < pair[1]));
        }

        #[test]
        fn law_time_has_few_marks_and_all_lie_within(span_s in 0.0..1.0e9_f64) {
            let time = TimeAxis::over(span_s, 12.0);
            let marks: Vec<f64> = time.axis.marks().map(|(value, _)| value).collect();
            prop_assert!(!marks.is_empty() && marks.len() <= 13);
            prop_assert!(marks.iter().all(|mark| *mark <= time.axis.high * 1.000_001));
        }
    }
}
