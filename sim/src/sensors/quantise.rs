//! The steps in which a sensor or a telemetry field counts.
//!
//! Part of a `channel` and of the `counter`.

/// How far from a whole number the steps in one unit may be and still be meant as one.
const WHOLE_WITHIN: f64 = 1e-9;

/// Rounds to the nearest step.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Steps {
    /// As fine as numbers are.
    Endless,
    /// So many to one unit, a whole number: 10 where a step is 0.1.
    PerUnit(f64),
    /// Of this size.
    Of(f64),
}

impl Steps {
    /// Steps of size `step`, at least 0, in the sensor's unit; 0 for none.
    pub(super) fn new(step: f64) -> Self {
        if step <= 0.0 {
            return Self::Endless;
        }
        // Three steps of a tenth are 0.3 when divided by ten, and a little more when
        // multiplied by a tenth, which has no end in binary.
        let per_unit = step.recip().round();
        if per_unit >= 1.0 && (per_unit * step - 1.0).abs() < WHOLE_WITHIN {
            Self::PerUnit(per_unit)
        } else {
            Self::Of(step)
        }
    }

    /// `value` on its nearest step.
    pub(super) fn read(self, value: f64) -> f64 {
        match self {
            Self::Endless => value,
            Self::PerUnit(per_unit) => (value * per_unit).round() / per_unit,
            Self::Of(step) => (value / step).round() * step,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn tenths_are_the_numbers_that_a_person_would_write() {
        for (value, expected) in [(0.26, 0.3), (-0.26, -0.3), (0.04, 0.0), (36.449, 36.4)] {
            assert!(Steps::new(0.1).read(value).total_cmp(&expected).is_eq(), "{value}");
        }
    }

    #[test]
    fn a_step_over_one_unit_works_as_well() {
        assert!(Steps::new(2.5).read(6.0).total_cmp(&5.0).is_eq());
        assert_eq!(Steps::new(0.0), Steps::Endless);
    }

    proptest! {
        #[test]
        fn law_a_reading_is_on_a_step_and_the_nearest_one(
            value in -1000.0..1000.0f64, step in prop_oneof![Just(0.1), Just(0.01), Just(1.0), Just(0.3), Just(2.5)]
        ) {
            let read = Steps::new(step).read(value);
            // Rounding errors of numbers up to 1000 divided by steps down to 0.01.
            prop_assert!((read - value).abs() <= step / 2.0 + 1e-9);
            prop_assert!((read / step - (read / step).round()).abs() < 1e-7);
            prop_assert!(Steps::new(step).read(read).total_cmp(&read).is_eq());
        }
    }
}
