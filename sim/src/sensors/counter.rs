//! A charge counter at the pack's end of the radio.
//!
//! Fed with every reading of the current sensor, sent or not, and so it knows what happened
//! during a loss. As wrong as the sensor whose readings it adds up. Restarts now and then, as
//! electronics do that lose their supply.
//! Source: the trapezoid rule; restarts are common practice, no source.

use rand_chacha::ChaCha8Rng;

use super::quantise::Steps;
use crate::random::exponential;

const SECONDS_PER_HOUR: f64 = 3600.0;

/// Charge drawn since the last restart.
#[derive(Clone, Debug)]
pub(super) struct Counter {
    charge_Ah: f64,
    /// Time and reading of the last row that had a current.
    last: Option<(f64, f64)>,
    steps: Steps,
    /// How long it runs between restarts, on average.
    lives_s: Option<f64>,
    restart_at_s: Option<f64>,
    numbers: ChaCha8Rng,
}

impl Counter {
    /// A counter at nothing. `restarts_per_hour` is a mean, at least 0.
    pub(super) fn new(step_Ah: f64, restarts_per_hour: f64, numbers: ChaCha8Rng) -> Self {
        let lives_s = (restarts_per_hour > 0.0).then(|| SECONDS_PER_HOUR / restarts_per_hour);
        Self {
            charge_Ah: 0.0,
            last: None,
            steps: Steps::new(step_Ah),
            lives_s,
            restart_at_s: None,
            numbers,
        }
    }

    /// Adds the charge since the last reading; where a reading is missing, the next one
    /// closes the gap.
    pub(super) fn count(&mut self, time_s: f64, current_A: Option<f64>) {
        if let Some(lives_s) = self.lives_s {
            let restart_at_s = self
                .restart_at_s
                .get_or_insert_with(|| time_s + exponential(lives_s, &mut self.numbers));
            if time_s >= *restart_at_s {
                // From now, not from when it was due: over a long step one restart is
                // like many.
                *restart_at_s = time_s + exponential(lives_s, &mut self.numbers);
                self.charge_Ah = 0.0;
                self.last = None;
            }
        }
        if let Some(current_A) = current_A {
            if let Some((last_s, last_A)) = self.last {
                let mean_A = f64::midpoint(last_A, current_A);
                self.charge_Ah += mean_A * (time_s - last_s) / SECONDS_PER_HOUR;
            }
            self.last = Some((time_s, current_A));
        }
    }

    /// What it would send now.
    pub(super) fn shown_Ah(&self) -> f64 {
        self.steps.read(self.charge_Ah)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::random::{Purpose, stream};

    fn counter(step_Ah: f64, restarts_per_hour: f64) -> Counter {
        Counter::new(step_Ah, restarts_per_hour, stream(1, Purpose::Counter))
    }

    #[test]
    fn an_hour_at_two_amperes_is_two_ampere_hours() {
        let mut counter = counter(0.0, 0.0);
        for second in 0..=3600 {
            counter.count(f64::from(second), Some(2.0));
        }
        assert!((counter.shown_Ah() - 2.0).abs() < 1e-9);
    }

    #[test]
    fn a_charge_counts_down_and_a_gap_is_closed() {
        let mut counter = counter(0.001, 0.0);
        counter.count(0.0, Some(-1.0));
        counter.count(600.0, None);
        counter.count(1800.0, Some(-3.0));
        assert!(counter.shown_Ah().total_cmp(&-1.0).is_eq());
    }

    #[test]
    fn it_restarts_about_as_often_as_asked() {
        let mut counter = counter(0.0, 2.0);
        let mut restarts = 0;
        let mut before_Ah = 0.0;
        for step in 0..=360_000 {
            counter.count(f64::from(step) * 10.0, Some(1.0));
            restarts += i32::from(counter.shown_Ah() < before_Ah);
            before_Ah = counter.shown_Ah();
        }
        // 1000 hours: 2000 restarts, give or take four times the root of that.
        assert!((1821..=2179).contains(&restarts), "{restarts}");
    }
}
