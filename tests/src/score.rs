//! How far an estimator was from the truth over the rows of a ride.
//!
//! Each row from [`SCORED_FROM`] after the ride's first on counts once, those too whose frame was lost:
//! then what the estimator still said stands. Rides of several days have sparse rows while they
//! stand, so hours of rest don't drown the riding; shares by time are kept beside, for who wants
//! to know how often a glance at the gauge was met.
//! Errors are in percent of a full charge.

use serde::Serialize;

use crate::estimator::Estimate;

/// Seconds. The first two minutes are the estimators' own, to find their feet. The same for all.
pub const SCORED_FROM: f64 = 120.0;

/// What is collected row by row.
#[derive(Clone, Debug, Default)]
pub struct Score {
    /// Estimate less truth, in percent. Single precision: a ten-thousandth of a percent is enough.
    errors_percent: Vec<f32>,
    claims: u64,
    met: u64,
    width_sum_percent: f64,
    claims_s: f64,
    met_s: f64,
}

/// What is told of it.
#[derive(Default, Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Summary {
    /// How many rows were scored.
    pub rows: usize,
    /// Root of the mean square of the error.
    pub rms_percent: f64,
    /// The mean error, estimate less truth.
    pub mean_percent: f64,
    /// Not exceeded by 99 errors in a hundred, whatever their sign.
    pub p99_percent: f64,
    /// The largest error, whatever its sign.
    pub largest_percent: f64,
    /// Of the intervals, if there are any.
    pub interval: Option<IntervalSummary>,
}

/// How the intervals fared that were to hold the truth nine times in ten.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct IntervalSummary {
    /// Share of rows whose interval held the truth, 0 to 1.
    pub covered: f64,
    /// The same by time instead of by rows.
    pub covered_by_time: f64,
    /// Mean width, from end to end.
    pub mean_width_percent: f64,
}

impl Score {
    /// Counts one row that stood for `lasts_s`. Whether it is late enough is the caller's care.
    pub fn add(&mut self, estimate: Estimate, true_soc: f64, lasts_s: f64) {
        #[expect(clippy::cast_possible_truncation, reason = "precision as documented")]
        self.errors_percent.push((100.0 * (estimate.soc - true_soc)) as f32);
        if let Some(interval) = estimate.interval {
            let met = (interval.low..=interval.high).contains(&true_soc);
            self.claims += 1;
            self.met += u64::from(met);
            self.claims_s += lasts_s;
            self.met_s += if met { lasts_s } else { 0.0 };
            self.width_sum_percent += 100.0 * (interval.high - interval.low);
        }
    }

    /// Counts all rows of `other` too.
    pub fn absorb(&mut self, other: &Self) {
        self.errors_percent.extend_from_slice(&other.errors_percent);
        self.claims += other.claims;
        self.met += other.met;
        self.width_sum_percent += other.width_sum_percent;
        self.claims_s += other.claims_s;
        self.met_s += other.met_s;
    }

    /// What is told; `None` if no row was scored.
    #[must_use]
    pub fn summary(&self) -> Option<Summary> {
        let rows = self.errors_percent.len();
        let mut sizes: Vec<f32> = self.errors_percent.iter().map(|error| error.abs()).collect();
        sizes.sort_unstable_by(f32::total_cmp);
        let largest = *sizes.last()?;
        // The smallest error that at least 99 in a hundred do not exceed.
        let p99 = *sizes.get((rows * 99).div_ceil(100).saturating_sub(1))?;
        Some(Summary {
            rows,
            rms_percent: (self.sum(|error| error * error) / real(rows)).sqrt(),
            mean_percent: self.sum(|error| error) / real(rows),
            p99_percent: f64::from(p99),
            largest_percent: f64::from(largest),
            interval: self.interval(),
        })
    }

    fn interval(&self) -> Option<IntervalSummary> {
        #[expect(clippy::cast_precision_loss, reason = "far fewer rows than 2 to the 52")]
        let (claims, met) = (self.claims as f64, self.met as f64);
        (self.claims > 0).then(|| IntervalSummary {
            covered: met / claims,
            covered_by_time: self.met_s / self.claims_s,
            mean_width_percent: self.width_sum_percent / claims,
        })
    }

    fn sum(&self, of: impl Fn(f64) -> f64) -> f64 {
        let errors = self.errors_percent.iter();
        errors.map(|&error| of(f64::from(error))).sum()
    }

    /// The sum of squared errors and their count, for pooling without keeping them.
    #[must_use]
    pub fn squares(&self) -> (f64, f64) {
        (self.sum(|error| error * error), real(self.errors_percent.len()))
    }
}

#[expect(clippy::cast_precision_loss, reason = "far fewer rows than 2 to the 52")]
const fn real(count: usize) -> f64 {
    count as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hundred_errors_of_one_to_a_hundred_are_told_as_by_hand() {
        let mut score = Score::default();
        for error in 1..=100 {
            score.add(Estimate::bare(f64::from(error) / 100.0), 0.0, 1.0);
        }
        let summary = score.summary().unwrap();
        assert_eq!(summary.rows, 100);
        // The sum of the squares of 1 to 100 is 338 350.
        assert!((summary.rms_percent - 3383.5_f64.sqrt()).abs() < 1e-4);
        assert!((summary.mean_percent - 50.5).abs() < 1e-4);
        assert!((summary.p99_percent - 99.0).abs() < 1e-4);
        assert!((summary.largest_percent - 100.0).abs() < 1e-4);
        assert_eq!(summary.interval, None);
    }

    #[test]
    fn an_interval_is_met_by_rows_and_by_time() {
        let mut score = Score::default();
        score.add(Estimate::within(0.4, 0.5, 0.6), 0.6, 1.0);
        score.add(Estimate::within(0.4, 0.5, 0.6), 0.7, 9.0);
        let interval = score.summary().unwrap().interval.unwrap();
        assert!((interval.covered - 0.5).abs() < 1e-12);
        assert!((interval.covered_by_time - 0.1).abs() < 1e-12);
        assert!((interval.mean_width_percent - 20.0).abs() < 1e-9);
    }

    #[test]
    fn pooling_is_the_same_as_scoring_together() {
        let rows = [(0.5, 0.4), (0.3, 0.35), (0.9, 0.91)];
        let (mut whole, mut pooled) = (Score::default(), Score::default());
        for (soc, truth) in rows {
            let estimate = Estimate::within(soc - 0.06, soc, soc + 0.06);
            whole.add(estimate, truth, 2.0);
            let mut one = Score::default();
            one.add(estimate, truth, 2.0);
            pooled.absorb(&one);
        }
        assert_eq!(whole.summary(), pooled.summary());
    }

    #[test]
    fn a_score_of_nothing_tells_nothing() {
        assert_eq!(Score::default().summary(), None);
    }
}
