//! How far charge and range were off, against a truth that the handheld never saw.
//!
//! Used by `campaign` for a ride, and summed over rides.

use homestretch::handheld::Output;

use super::histogram::Histogram;

/// Charge against the true charge, row by row.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ChargeScore {
    rows: u64,
    sum_of_squares: f64,
    largest: f64,
    inside: u64,
}

impl ChargeScore {
    /// Takes a row in which the pack has been heard of.
    pub(super) fn add(&mut self, output: &Output, true_soc: f64) {
        if !output.status.heard {
            return;
        }
        let charge = output.status.charge;
        let error = charge.soc.to_f64() - true_soc;
        self.rows += 1;
        self.sum_of_squares += error * error;
        self.largest = self.largest.max(error.abs());
        let held = (charge.low.to_f64()..=charge.high.to_f64()).contains(&true_soc);
        self.inside += u64::from(held);
    }

    /// Both together, row by row.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        Self {
            rows: self.rows + other.rows,
            sum_of_squares: self.sum_of_squares + other.sum_of_squares,
            largest: self.largest.max(other.largest),
            inside: self.inside + other.inside,
        }
    }

    /// Root of the mean square of the error, 0 to 1; nothing without a row.
    #[must_use]
    pub fn rms(&self) -> Option<f64> {
        (self.rows > 0).then(|| (self.sum_of_squares / counted(self.rows)).sqrt())
    }

    /// The largest error, 0 to 1.
    #[must_use]
    pub fn largest(&self) -> Option<f64> {
        (self.rows > 0).then_some(self.largest)
    }

    /// Share of the rows with the truth inside the interval.
    #[must_use]
    pub fn covered(&self) -> Option<f64> {
        (self.rows > 0).then(|| counted(self.inside) / counted(self.rows))
    }
}

/// What the handheld said of the way left, at one place.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Claim {
    /// Where it was made, metres from the start,
    pub at_m: f64,
    /// and when, seconds from it.
    pub at_s: f64,
    /// The likely way left.
    pub likely_m: f64,
    /// The one that is met nine times in ten.
    pub low_m: f64,
    /// Energy at the terminals that was thought to be left, J.
    pub energy_J: f64,
    /// What a metre was thought to take.
    pub per_metre_J: f64,
    /// The charge that was believed.
    pub soc: f64,
    /// Truly: energy drawn since the start, J,
    pub drawn_J: f64,
    /// the charge,
    pub true_soc: f64,
    /// and the height over the start, m.
    pub elevation_m: f64,
}

/// Claims against the way that was left indeed.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct RangeScore {
    claims: u64,
    met: u64,
    sum_of_error_km: f64,
    sum_of_squares_km2: f64,
    /// Errors over the way left, of claims with a way left worth the name.
    shares: u64,
    sum_of_shares: f64,
    sum_of_sizes: f64,
    /// Sizes over the way left, from the first kilometre on, and of its last third alone; the same over
    /// the whole way.
    sizes: Histogram,
    last: Histogram,
    last_of_whole: Histogram,
}

/// A first kilometre is for learning.
const LEARNED_AFTER_M: f64 = 1000.0;

/// Nearer to the end than this an error as a share of the way left says nothing.
const WORTH_A_SHARE_M: f64 = 3000.0;

impl RangeScore {
    /// The score of claims, no drive being left at `empty_at_m`.
    pub(super) fn of(claims: &[Claim], empty_at_m: f64) -> Self {
        let mut score = Self::default();
        for claim in claims {
            let left_m = (empty_at_m - claim.at_m).max(0.0);
            let error_m = claim.likely_m - left_m;
            score.claims += 1;
            score.met += u64::from(left_m >= claim.low_m);
            score.sum_of_error_km += error_m / 1000.0;
            score.sum_of_squares_km2 += error_m * error_m / 1e6;
            if claim.at_m >= LEARNED_AFTER_M && left_m > 0.0 {
                score.sizes.add((error_m / left_m).abs());
                if left_m < empty_at_m / 3.0 {
                    score.last.add((error_m / left_m).abs());
                    score.last_of_whole.add((error_m / empty_at_m).abs());
                }
            }
            if left_m >= WORTH_A_SHARE_M {
                score.shares += 1;
                score.sum_of_shares += error_m / left_m;
                score.sum_of_sizes += (error_m / left_m).abs();
            }
        }
        score
    }

    /// Both together, claim by claim.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        Self {
            claims: self.claims + other.claims,
            met: self.met + other.met,
            sum_of_error_km: self.sum_of_error_km + other.sum_of_error_km,
            sum_of_squares_km2: self.sum_of_squares_km2 + other.sum_of_squares_km2,
            shares: self.shares + other.shares,
            sum_of_shares: self.sum_of_shares + other.sum_of_shares,
            sum_of_sizes: self.sum_of_sizes + other.sum_of_sizes,
            sizes: self.sizes.and(&other.sizes),
            last: self.last.and(&other.last),
            last_of_whole: self.last_of_whole.and(&other.last_of_whole),
        }
    }

    /// How many claims.
    #[must_use]
    pub const fn claims(&self) -> u64 {
        self.claims
    }

    /// Share of the claims whose low end was met; promised are nine in ten.
    #[must_use]
    pub fn low_met(&self) -> Option<f64> {
        (self.claims > 0).then(|| counted(self.met) / counted(self.claims))
    }

    /// Mean of the likely range less the true one.
    #[must_use]
    pub fn bias_km(&self) -> Option<f64> {
        (self.claims > 0).then(|| self.sum_of_error_km / counted(self.claims))
    }

    /// Root of the mean square of that.
    #[must_use]
    pub fn rms_km(&self) -> Option<f64> {
        (self.claims > 0).then(|| (self.sum_of_squares_km2 / counted(self.claims)).sqrt())
    }

    /// Median size of the error over the way left, from the first kilometre on.
    #[must_use]
    pub fn median_share(&self) -> Option<f64> {
        self.sizes.median()
    }

    /// The same in the last third of the way.
    #[must_use]
    pub fn median_share_of_last_third(&self) -> Option<f64> {
        self.last.median()
    }

    /// In the last third, median size of the error over the whole way.
    #[must_use]
    pub fn median_of_whole_in_last_third(&self) -> Option<f64> {
        self.last_of_whole.median()
    }

    /// Mean error as a share of the way left, with more than 3 km left: signed.
    #[must_use]
    pub fn bias_share(&self) -> Option<f64> {
        (self.shares > 0).then(|| self.sum_of_shares / counted(self.shares))
    }

    /// Mean size of that.
    #[must_use]
    pub fn mean_share(&self) -> Option<f64> {
        (self.shares > 0).then(|| self.sum_of_sizes / counted(self.shares))
    }
}

#[allow(clippy::cast_precision_loss, reason = "rows of a campaign lie far below 2^53")]
fn counted(count: u64) -> f64 {
    count as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_claim_is_met_where_the_way_left_is_at_least_its_low_end() {
        let claim = |at_m, likely_m, low_m| Claim { at_m, likely_m, low_m, ..Claim::default() };
        let claims = [
            claim(0.0, 11_000.0, 9_000.0),
            claim(5_000.0, 5_000.0, 5_100.0),
            claim(9_000.0, 500.0, 400.0),
        ];
        let score = RangeScore::of(&claims, 10_000.0);
        assert_eq!(score.claims(), 3);
        assert!((score.low_met().unwrap() - 2.0 / 3.0).abs() < 1e-12);
        assert!((score.bias_km().unwrap() - 0.5 / 3.0).abs() < 1e-12);
        // A tenth of 10 km, nothing of 5 km, and the third is too near the end to count.
        assert!((score.mean_share().unwrap() - 0.05).abs() < 1e-12);
        assert_eq!(score.and(RangeScore::default()), score);
    }
}
