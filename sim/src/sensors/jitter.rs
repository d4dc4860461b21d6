//! When telemetry frames are sent: nearly, but not quite, at a steady rate.
//!
//! Asked by `Sensors` for each exact row, and picks those that are sent.

use rand::RngExt;
use rand_chacha::ChaCha8Rng;

use super::settings::Span;

/// Times closer than this are the same: rows and frames are sums of steps that have no end in
/// binary, and must not miss each other by a rounding error.
const SAME_WITHIN_S: f64 = 1e-6;

/// The times at which frames are due. Nominal times are a period apart; each frame leaves a
/// random part of a period after its own, so lateness does not add up.
#[derive(Clone, Debug)]
pub(super) struct Schedule {
    period_s: f64,
    jitter: f64,
    next: Option<Next>,
    numbers: ChaCha8Rng,
}

#[derive(Clone, Copy, Debug)]
struct Next {
    nominal_s: f64,
    due_s: f64,
}

impl Schedule {
    /// A schedule of a rate drawn from `rate_Hz`, each frame late by up to `jitter` of a period
    /// (0 to 1).
    pub(super) fn new(rate_Hz: Span, jitter: f64, mut numbers: ChaCha8Rng) -> Self {
        Self { period_s: rate_Hz.draw(&mut numbers).recip(), jitter, next: None, numbers }
    }

    /// Whether a frame would be sent with a row at `time_s`; nothing comes of asking.
    pub(super) fn would_be_due(&self, time_s: f64) -> bool {
        self.next.is_none_or(|next| time_s + SAME_WITHIN_S >= next.due_s)
    }

    /// Whether a frame is sent with the row at `time_s`: the first row at or after its due time.
    ///
    /// The first row of all is sent. Where rows come more slowly than frames, each is.
    pub(super) fn is_due(&mut self, time_s: f64) -> bool {
        let nominal_s = match self.next {
            None => time_s,
            Some(next) if time_s + SAME_WITHIN_S < next.due_s => return false,
            Some(next) => next.nominal_s,
        };
        // All frames that were due up to here are this one.
        let passed = ((time_s - nominal_s + SAME_WITHIN_S) / self.period_s).floor();
        let nominal_s = nominal_s + (passed + 1.0) * self.period_s;
        let late: f64 = self.numbers.random();
        self.next = Some(Next { nominal_s, due_s: nominal_s + late * self.jitter * self.period_s });
        true
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::random::{Purpose, stream};

    fn sent(rate_Hz: f64, jitter: f64, step_s: f64, rows: u32) -> Vec<f64> {
        let span = Span::exactly(rate_Hz);
        let mut schedule = Schedule::new(span, jitter, stream(3, Purpose::Schedule));
        (0..rows)
            .map(|row| f64::from(row) * step_s)
            .filter(|&time_s| schedule.is_due(time_s))
            .collect()
    }

    #[test]
    fn without_jitter_every_tenth_of_a_hundred_rows_a_second_is_sent() {
        let times = sent(10.0, 0.0, 0.01, 1000);
        assert_eq!(times.len(), 100);
        for pair in times.windows(2) {
            assert!((pair[1] - pair[0] - 0.1).abs() < 1e-6, "{pair:?}");
        }
    }

    #[test]
    fn jitter_moves_frames_and_keeps_the_rate() {
        let times = sent(8.0, 0.3, 0.001, 100_000);
        // 100 s at 8 Hz; none is lost when rows are much finer than frames.
        assert!((799..=801).contains(&times.len()), "{}", times.len());
        for pair in times.windows(2) {
            let step_s = pair[1] - pair[0];
            // A period more or less what two frames may be late, and a row.
            assert!((0.125 * 0.7 - 0.002..0.125 * 1.3 + 0.002).contains(&step_s), "{pair:?}");
        }
        let steps = times.windows(2).map(|pair| pair[1] - pair[0]);
        assert!(steps.clone().fold(0.0, f64::max) > 0.14);
        assert!(steps.fold(1.0, f64::min) < 0.11);
    }

    #[test]
    fn of_a_slow_log_every_row_is_sent() {
        assert_eq!(sent(5.0, 0.5, 10.0, 500).len(), 500);
    }

    #[test]
    fn a_log_at_the_same_rate_is_sent_whole() {
        assert_eq!(sent(5.0, 0.0, 0.2, 5000).len(), 5000);
    }
}
