//! What each handle of a curve may be while the others stay.
//!
//! For the page, which shows it and stops a drag there. The bounds are the library's own (`throttle::curve`);
//! what is legal is decided where a draft is read, not here.

use homestretch::throttle::curve::{GREATEST_ACCELERATION, LEAST_ACCELERATION, NEAREST_HANDLES};
use serde::Serialize;

/// The ends of a handle.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub(super) struct Allowed {
    /// Lowest and highest thumb, 0 to 1.
    pub(super) thumb: (f64, f64),
    /// Lowest and highest acceleration.
    pub(super) m_s2: (f64, f64),
}

/// The ends of each of `handles`, pairs of thumb and m/s², on a board that does `full_m_s2` at the most.
pub(super) fn allowed(handles: &[(f64, f64)], full_m_s2: f64) -> Vec<Allowed> {
    let nearest = NEAREST_HANDLES.to_f64();
    let highest_m_s2 = GREATEST_ACCELERATION.to_f64().min(full_m_s2);
    let before = std::iter::once((0.0, 0.0)).chain(handles.iter().copied());
    let after = handles.iter().copied().skip(1).map(Some).chain([None]);
    before
        .zip(after)
        .map(|(before, after)| match after {
            Some(after) => Allowed {
                thumb: (before.0 + nearest, after.0 - nearest),
                m_s2: (before.1, after.1),
            },
            None => Allowed {
                thumb: (1.0, 1.0),
                m_s2: (LEAST_ACCELERATION.to_f64().max(before.1), highest_m_s2),
            },
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use homestretch::throttle::Half;
    use proptest::prelude::*;

    use super::*;
    use crate::tuning::Draft;

    fn lantern() -> Draft {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../examples/boards/lantern.toml");
        Draft::new(path, std::fs::read_to_string(path).unwrap()).unwrap()
    }

    fn handles() -> impl Strategy<Value = Vec<(f64, f64)>> {
        let steps = prop::collection::btree_set(2_u32..31, 0..4);
        let rise = prop::collection::vec(0.05_f64..0.5, 5);
        (steps, rise).prop_map(|(steps, rise)| {
            let thumbs = steps.into_iter().map(|step| f64::from(step) / 32.0).chain([1.0]);
            let mut reached = 0.0;
            thumbs
                .zip(rise)
                .map(|(thumb, rise)| {
                    reached += rise;
                    (thumb, reached)
                })
                .collect()
        })
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(24))]

        #[test]
        fn law_the_ends_are_legal_and_what_lies_beyond_is_not(handles in handles()) {
            let draft = lantern();
            let full_m_s2 = draft.values().values["throttle.full_current_m_s2"];
            for (at, allowed) in allowed(&handles, full_m_s2).into_iter().enumerate() {
                let put = |thumb: f64, m_s2: f64| {
                    let mut moved = handles.clone();
                    moved[at] = (thumb, m_s2);
                    draft.with_handles(Half::Drive, &moved).is_ok()
                };
                let (thumb, m_s2) = handles[at];
                let ((left, right), (low, high)) = (allowed.thumb, allowed.m_s2);
                prop_assert!(put(thumb, low) && put(thumb, high), "{at} {allowed:?}");
                prop_assert!(!put(thumb, low - 0.02) && !put(thumb, high + 0.02), "{at} {allowed:?}");
                if left < right {
                    prop_assert!(put(left, m_s2) && put(right, m_s2), "{at} {allowed:?}");
                    prop_assert!(!put(left - 0.01, m_s2) && !put(right + 0.01, m_s2), "{at}");
                }
            }
        }
    }
}
