//! The same traces under harder conditions: entered late, or with a curve of other cells.
//!
//! Asked by `cli::accuracy` before the traces are scored; what comes out are traces as any other.

use std::sync::Arc;

use crate::reference::{Reference, ReferenceError};
use crate::resting::RestingCurve;

/// The traces without their first `seconds`: the handheld is switched on in the middle of a ride, with no
/// idea of the load before. What is shorter is left out.
#[must_use]
pub fn late(references: Vec<Reference>, seconds: f64) -> Vec<Reference> {
    let cut = |mut reference: Reference| {
        let from_s = reference.rows.first()?.measured.time_s + seconds;
        reference.rows.retain(|row| row.measured.time_s >= from_s);
        (!reference.rows.is_empty()).then_some(reference)
    };
    references.into_iter().filter_map(cut).collect()
}

/// The traces of unworn cells, each with the board file of a builder who took the resting curve of
/// another published cell of the same chemistry among them: one trace for each such pair, named for
/// both.
///
/// # Errors
/// Those of reading the other curve.
pub fn with_another_curve(references: &[Reference]) -> Result<Vec<Reference>, ReferenceError> {
    let mut pairs = Vec::new();
    for reference in references.iter().filter(|reference| reference.facts.aged.is_none()) {
        let mut tried = vec![reference.facts.cell.as_str()];
        for other in references.iter().filter(|other| is_alike(reference, other)) {
            if tried.contains(&other.facts.cell.as_str()) {
                continue;
            }
            tried.push(&other.facts.cell);
            let mut pair = reference.clone();
            pair.name = format!("{} < {}", reference.name, other.facts.cell);
            pair.resting_file.clone_from(&other.resting_file);
            let mut build = (*pair.build).clone();
            build.resting = RestingCurve::read(&other.resting_file)?;
            pair.build = Arc::new(build);
            pairs.push(pair);
        }
    }
    Ok(pairs)
}

/// Whether two traces name the same chemistry: what stands before the first comma.
fn is_alike(one: &Reference, other: &Reference) -> bool {
    let chemistry = |reference: &Reference| {
        reference.facts.chemistry.split(',').next().unwrap_or_default().to_owned()
    };
    chemistry(one) == chemistry(other)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::path::Path;

    fn references() -> Vec<Reference> {
        Reference::all(&Path::new(env!("CARGO_MANIFEST_DIR")).join("data")).unwrap()
    }

    #[test]
    fn a_late_start_leaves_the_beginning_out_and_nothing_else() {
        let all = references();
        let cut = late(all.clone(), 600.0);
        assert_eq!(cut.len(), all.len());
        for (cut, whole) in cut.iter().zip(&all) {
            assert!(cut.rows[0].measured.time_s >= 600.0);
            assert_eq!(cut.rows.last().unwrap().true_soc, whole.rows.last().unwrap().true_soc);
        }
        assert!(late(all, 1e9).is_empty());
    }

    #[test]
    fn another_curve_is_that_of_the_same_chemistry_and_never_the_own() {
        let pairs = with_another_curve(&references()).unwrap();
        let names: Vec<&str> = pairs.iter().map(|pair| pair.name.as_str()).collect();
        assert!(names.contains(&"crossings-morning < nmc811_21700_oregan"), "{names:?}");
        assert!(!names.iter().any(|name| name.starts_with("hot-noon")), "{names:?}");
        for pair in &pairs {
            assert!(!pair.name.ends_with(&pair.facts.cell), "{}", pair.name);
        }
    }
}
