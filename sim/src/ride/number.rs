//! Turns a field into a number, or says why it is none.
//!
//! Shared by `reader` and `import`, so that both refuse the same things.

use super::error::{Place, RideError};
use super::excerpt::excerpt;

/// How a file writes the point in 12.5.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Point {
    /// `12.5`
    Dot,
    /// `12,5`; a dot is then refused, since it may have been meant to part thousands.
    Comma,
}

/// The number in `text`, or nothing where the field is empty. `name` is the column's name there.
pub(super) fn number(
    text: &str,
    point: Point,
    name: &str,
    place: impl FnOnce() -> Place,
) -> Result<Option<f64>, RideError> {
    if text.is_empty() {
        return Ok(None);
    }
    let parsed = match point {
        Point::Dot => text.parse::<f64>().ok(),
        Point::Comma if text.contains('.') => None,
        Point::Comma => text.replace(',', ".").parse().ok(),
    };
    match parsed {
        Some(value) if value.is_finite() => Ok(Some(value)),
        Some(_) => {
            Err(RideError::NotFinite { place: place(), name: excerpt(name), value: excerpt(text) })
        }
        None => {
            Err(RideError::NotANumber { place: place(), name: excerpt(name), value: excerpt(text) })
        }
    }
}

/// The flag in `text`: 1 where it is empty, as where the whole column is missing.
pub(super) fn flag(
    text: &str,
    name: &str,
    place: impl FnOnce() -> Place,
) -> Result<bool, RideError> {
    match text {
        "" | "1" | "1.0" => Ok(true),
        "0" | "0.0" => Ok(false),
        _ => Err(RideError::LinkFlag { place: place(), name: excerpt(name), value: excerpt(text) }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn place() -> Place {
        Place { file: "ride.csv".into(), line: 9 }
    }

    fn read(text: &str, point: Point) -> Result<Option<f64>, String> {
        number(text, point, "thumb", place).map_err(|error| error.to_string())
    }

    #[test]
    fn a_field_is_a_number_or_nothing() {
        assert_eq!(read("-0.25", Point::Dot), Ok(Some(-0.25)));
        assert_eq!(read("1e-3", Point::Dot), Ok(Some(0.001)));
        assert_eq!(read("", Point::Dot), Ok(None));
        assert_eq!(read("12,5", Point::Comma), Ok(Some(12.5)));
    }

    #[test]
    fn a_comma_is_a_point_only_where_the_mapping_says_so() {
        assert_eq!(
            read("12,5", Point::Dot).unwrap_err(),
            "ride.csv, line 9, column `thumb`: `12,5` is not a number"
        );
        assert_eq!(
            read("1.234", Point::Comma).unwrap_err(),
            "ride.csv, line 9, column `thumb`: `1.234` is not a number"
        );
        assert!(read("1,234,5", Point::Comma).is_err());
    }

    #[test]
    fn a_number_too_large_to_hold_is_not_finite() {
        assert_eq!(
            read("1e999", Point::Dot).unwrap_err(),
            "ride.csv, line 9, column `thumb`: `1e999` is not a finite number"
        );
    }

    #[test]
    fn an_empty_flag_is_one() {
        assert!(flag("", "link_ok", place).unwrap());
        assert!(flag("1.0", "link_ok", place).unwrap());
        assert!(!flag("0", "link_ok", place).unwrap());
    }
}
