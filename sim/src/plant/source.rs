//! Where pack and vehicle meet, once a step.
//!
//! The pack says what it is over the coming step; the vehicle says what it took. A switch that has
//! opened is a source of great resistance, not one of no voltage: that would be a short circuit.

use crate::plant::range::{greater, nearest};

/// More than any pack of such a board has; keeps arithmetic finite.
const EMF_V: (f64, f64) = (0.0, 1000.0);
const RESISTANCE_OHM: (f64, f64) = (0.0, 1_000_000.0);

/// The pack over one step: mean terminal voltage = `emf_V` - `resistance_ohm` x mean current.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Source {
    /// Voltage without current, 0 to 1000 V.
    pub emf_V: f64,
    /// Loss of voltage per ampere over the step, 0 to 1 megohm.
    pub resistance_ohm: f64,
}

/// What one step took from the pack.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Drawn {
    /// Mean current out of the pack, charging negative, A.
    pub battery_current_A: f64,
    /// Mean voltage at the pack's terminals, V.
    pub battery_voltage_V: f64,
    /// Mean current of each motor, driving positive, braking negative, A.
    pub motor_current_A: f64,
}

impl Source {
    /// This source with every value moved to the nearest allowed one.
    #[inline]
    pub(crate) fn bounded(self) -> Self {
        Self {
            emf_V: nearest(self.emf_V, EMF_V),
            resistance_ohm: nearest(self.resistance_ohm, RESISTANCE_OHM),
        }
    }

    /// The current at which `power_W` leaves the terminals (negative: enters them).
    ///
    /// The smaller root of P = (emf - R I) I; where the source cannot give as much, the current at
    /// which it gives most.
    #[inline]
    pub(crate) fn current_A(self, power_W: f64) -> f64 {
        let under = self.emf_V * self.emf_V - 4.0 * self.resistance_ohm * power_W;
        let divisor = self.emf_V + greater(under, 0.0).sqrt();
        if divisor > 0.0 { 2.0 * power_W / divisor } else { 0.0 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn current_times_terminal_voltage_is_the_power() {
        let source = Source { emf_V: 36.0, resistance_ohm: 0.1 };
        for power_W in [-2000.0, -1.0, 0.0, 50.0, 3000.0] {
            let current_A = source.current_A(power_W);
            let given_W = (source.emf_V - source.resistance_ohm * current_A) * current_A;
            // Rounding.
            assert!((given_W - power_W).abs() < 1e-9 * power_W.abs().max(1.0));
        }
    }

    #[test]
    fn a_dead_source_gives_nothing() {
        let source = Source { emf_V: 0.0, resistance_ohm: 0.1 };
        assert!(source.current_A(0.0).abs() < f64::EPSILON);
    }
}
