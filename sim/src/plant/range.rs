//! What is said about a value that no such board has.
//!
//! Used by every part's `check`. The ranges stand where the quantity is.

/// A value outside of the range in which the physics hold.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
#[error("{quantity} is {given}; {lowest} to {highest} is allowed")]
pub struct OutOfRange {
    /// Name of the quantity, with its unit.
    pub quantity: &'static str,
    /// What was given.
    pub given: f64,
    /// The lowest allowed.
    pub lowest: f64,
    /// The highest allowed.
    pub highest: f64,
}

/// Whether `given` lies in `lowest..=highest`; no number at all does not.
pub(crate) fn within(
    quantity: &'static str,
    given: f64,
    (lowest, highest): (f64, f64),
) -> Result<(), OutOfRange> {
    if (lowest..=highest).contains(&given) {
        return Ok(());
    }
    Err(OutOfRange { quantity, given, lowest, highest })
}

/// `given` or the nearest bound; no number at all becomes the lowest.
#[inline]
pub(crate) fn nearest(given: f64, (lowest, highest): (f64, f64)) -> f64 {
    // In this order: NaN is not above anything.
    lesser(greater(given, lowest), highest)
}

/// The greater of two; `b` where `a` is no number. One machine instruction, which `f64::max` with
/// its even-handed rule for NaN is not.
#[inline]
pub(crate) fn greater(a: f64, b: f64) -> f64 {
    if a > b { a } else { b }
}

/// The lesser of two; `b` where `a` is no number.
#[inline]
pub(crate) fn lesser(a: f64, b: f64) -> f64 {
    if a < b { a } else { b }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_refusal_names_quantity_value_and_range() {
        let error = within("mass_kg", -1.0, (1.0, 9.0)).unwrap_err();
        assert_eq!(error.to_string(), "mass_kg is -1; 1 to 9 is allowed");
        assert!(within("mass_kg", f64::NAN, (1.0, 9.0)).is_err());
        assert!(within("mass_kg", 9.0, (1.0, 9.0)).is_ok());
    }

    #[test]
    fn no_number_is_read_as_the_lowest_bound() {
        assert!((nearest(f64::NAN, (2.0, 3.0)) - 2.0).abs() < f64::EPSILON);
        assert!((nearest(f64::INFINITY, (2.0, 3.0)) - 3.0).abs() < f64::EPSILON);
    }
}
