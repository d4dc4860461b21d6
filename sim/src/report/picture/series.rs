//! The series that a picture can show, in the units in which it shows them.
//!
//! Read from rows by `picture`, kept apart by `thinning`, put into panels by `panel`.

use super::Sample;

/// How many series there are.
pub(super) const COUNT: usize = 11;

/// Larger magnitudes are taken for a fault of the file. Chosen far above anything on wheels: one
/// such value would flatten all others, and the sums of an axis stay exact below it.
const LARGEST: f64 = 1e9;

const PERCENT: f64 = 100.0;
const KM_H_PER_M_S: f64 = 3.6;

/// One curve of the ride.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Series {
    /// Believed charge, %.
    Charge,
    /// Lower end of the believed interval, %.
    ChargeLow,
    /// Upper end of the believed interval, %.
    ChargeHigh,
    /// True charge, %.
    TrueCharge,
    /// Pack voltage, V.
    Voltage,
    /// Pack current, A, discharge positive.
    Current,
    /// Speed, km/h.
    Speed,
    /// Likely range, km.
    Range,
    /// Range that is met nine times in ten, km.
    RangeLow,
    /// Allowed demand, % of full.
    Demand,
    /// Asked demand, % of full.
    Thumb,
}

impl Series {
    /// Its place in an array of [`COUNT`].
    pub(super) const fn place(self) -> usize {
        match self {
            Self::Charge => 0,
            Self::ChargeLow => 1,
            Self::ChargeHigh => 2,
            Self::TrueCharge => 3,
            Self::Voltage => 4,
            Self::Current => 5,
            Self::Speed => 6,
            Self::Range => 7,
            Self::RangeLow => 8,
            Self::Demand => 9,
            Self::Thumb => 10,
        }
    }

    /// The values of a row in the order of [`Series::place`], scaled for the eye; what cannot be
    /// drawn is missing.
    pub(super) fn values(sample: &Sample) -> [Option<f64>; COUNT] {
        // No charge lies outside 0 to 1, so an interval that reaches further says no more than one
        // that ends there.
        let share = |value: f64| drawable(value * PERCENT);
        [
            share(sample.soc),
            share(sample.soc_low.clamp(0.0, 1.0)),
            share(sample.soc_high.clamp(0.0, 1.0)),
            sample.true_soc.and_then(share),
            sample.pack_voltage_V.and_then(drawable),
            sample.pack_current_A.and_then(drawable),
            sample.speed_m_s.and_then(|speed| drawable(speed * KM_H_PER_M_S)),
            drawable(sample.range_km),
            drawable(sample.range_low_km),
            drawable(sample.allowed_m_s2),
            sample.asked_m_s2.and_then(drawable),
        ]
    }
}

/// The value, unless it is no number or a fault.
pub(super) fn drawable(value: f64) -> Option<f64> {
    (value.abs() <= LARGEST).then_some(value)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_no_number_cannot_be_drawn() {
        assert_eq!(drawable(f64::NAN), None);
        assert_eq!(drawable(f64::INFINITY), None);
        assert_eq!(drawable(-2e9), None);
        assert_eq!(drawable(-12.5), Some(-12.5));
    }

    #[test]
    fn every_value_stands_at_the_place_of_its_series() {
        let sample = Sample {
            time_s: 0.0,
            soc: 0.5,
            soc_low: 0.25,
            soc_high: 0.75,
            true_soc: Some(1.0),
            pack_voltage_V: Some(40.0),
            pack_current_A: Some(-7.0),
            speed_m_s: Some(10.0),
            range_km: 12.0,
            range_low_km: 9.0,
            allowed_m_s2: -0.5,
            asked_m_s2: Some(-1.0),
            link_ok: true,
        };
        let values = Series::values(&sample);
        for (series, value) in [
            (Series::Charge, 50.0),
            (Series::ChargeLow, 25.0),
            (Series::ChargeHigh, 75.0),
            (Series::TrueCharge, 100.0),
            (Series::Voltage, 40.0),
            (Series::Current, -7.0),
            (Series::Speed, 36.0),
            (Series::Range, 12.0),
            (Series::RangeLow, 9.0),
            (Series::Demand, -0.5),
            (Series::Thumb, -1.0),
        ] {
            assert_eq!(values[series.place()], Some(value), "{series:?}");
        }
    }
}
