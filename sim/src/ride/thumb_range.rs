//! The counts of a thumb's sensor, and where between its ends the thumb is.
//!
//! Part of a mapping, for logs that hold what the converter read.

use std::fmt;

use serde::{Deserialize, Serialize};

/// Three readings of a raw thumb. Between them its position is a straight line; beyond the
/// outer ones it is at its end.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ThumbRange {
    /// Read at full brake; left out where the thumb can't ask for brake.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub full_brake: Option<f64>,
    /// Read where the thumb rests.
    pub neutral: f64,
    /// Read at full drive; may be the lower end.
    pub full_drive: f64,
}

impl ThumbRange {
    /// Whether the three are finite and in order, rising or falling.
    #[must_use]
    pub fn is_ordered(&self) -> bool {
        let full_brake = self.full_brake.unwrap_or(2.0 * self.neutral - self.full_drive);
        let finite = [full_brake, self.neutral, self.full_drive].into_iter().all(f64::is_finite);
        let rising = full_brake < self.neutral && self.neutral < self.full_drive;
        let falling = full_brake > self.neutral && self.neutral > self.full_drive;
        finite && (rising || falling)
    }

    /// Where the thumb is at this reading, -1 (full brake) to 1 (full drive). The range must
    /// be ordered.
    #[must_use]
    pub fn position(&self, reading: f64) -> f64 {
        let drive = (reading - self.neutral) / (self.full_drive - self.neutral);
        if drive >= 0.0 {
            return drive.min(1.0);
        }
        match self.full_brake {
            Some(full_brake) => -((reading - self.neutral) / (full_brake - self.neutral)).min(1.0),
            None => 0.0,
        }
    }
}

impl fmt::Display for ThumbRange {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(full_brake) = self.full_brake {
            write!(f, "full_brake = {full_brake}, ")?;
        }
        let (neutral, full_drive) = (self.neutral, self.full_drive);
        write!(f, "neutral = {neutral}, full_drive = {full_drive}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const RISING: ThumbRange =
        ThumbRange { full_brake: Some(100.0), neutral: 500.0, full_drive: 700.0 };

    #[test]
    fn the_three_readings_are_the_three_positions() {
        for (reading, position) in [(0.0, -1.0), (100.0, -1.0), (300.0, -0.5), (500.0, 0.0)] {
            assert_eq!(RISING.position(reading).total_cmp(&position), std::cmp::Ordering::Equal);
        }
        for (reading, position) in [(600.0, 0.5), (700.0, 1.0), (4095.0, 1.0)] {
            assert_eq!(RISING.position(reading).total_cmp(&position), std::cmp::Ordering::Equal);
        }
    }

    #[test]
    fn a_thumb_without_brake_never_brakes() {
        let range = ThumbRange { full_brake: None, neutral: 10.0, full_drive: 0.0 };
        assert!(range.is_ordered());
        assert!(range.position(20.0).abs() < f64::EPSILON);
        assert!((range.position(5.0) - 0.5).abs() < f64::EPSILON);
    }

    #[test]
    fn readings_out_of_order_are_refused() {
        for (full_brake, neutral, full_drive) in
            [(1.0, 0.0, 2.0), (0.0, 0.0, 1.0), (0.0, 1.0, 1.0), (f64::NAN, 1.0, 2.0)]
        {
            let full_brake = Some(full_brake);
            let range = ThumbRange { full_brake, neutral, full_drive };
            assert!(!range.is_ordered());
        }
    }

    proptest! {
        #[test]
        fn law_more_reading_is_never_less_drive(a in -1e4..1e4f64, b in -1e4..1e4f64) {
            let (low, high) = if a < b { (a, b) } else { (b, a) };
            prop_assert!(RISING.position(low) <= RISING.position(high));
            prop_assert!(RISING.position(a).abs() <= 1.0);
        }
    }
}
