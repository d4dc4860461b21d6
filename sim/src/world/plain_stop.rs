//! Where a motor controller that knows nothing but a lowest voltage would have ended the ride.
//!
//! Used by `world`; what the reserve is worth is measured against it.

/// A pack has to stand below the stop voltage for so many ticks, half a second: a spike ends no ride.
const TICKS: u32 = 25;

/// Watches for the first time.
#[derive(Clone, Copy, Debug)]
pub(super) struct PlainStop {
    stop_V: f64,
    below_for: u32,
    at_m: Option<f64>,
}

impl PlainStop {
    pub(super) const fn new(stop_V: f64) -> Self {
        Self { stop_V, below_for: 0, at_m: None }
    }

    /// A tick more, the pack at this voltage under load.
    pub(super) fn look(&mut self, pack_V: f64, distance_m: f64) {
        self.below_for = if pack_V < self.stop_V { self.below_for.saturating_add(1) } else { 0 };
        if self.below_for >= TICKS && self.at_m.is_none() {
            self.at_m = Some(distance_m);
        }
    }

    pub(super) const fn at_m(&self) -> Option<f64> {
        self.at_m
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn half_a_second_below_the_stop_voltage_ends_a_plain_ride_once() {
        let mut stop = PlainStop::new(33.0);
        for tick in 0..100 {
            stop.look(if tick % 25 == 24 { 33.1 } else { 32.0 }, f64::from(tick));
        }
        assert_eq!(stop.at_m(), None);
        for tick in 100..200 {
            stop.look(32.9, f64::from(tick));
        }
        assert_eq!(stop.at_m(), Some(124.0));
    }
}
