//! The way left, against what was really left on a ride to empty.
//!
//! Source: the reference trace that was ridden until its controller cut, of an electrochemical model of a
//! published cell (J. Electrochem. Soc. 160, 2013, A616), and what is common practice.

use std::path::Path;

use homestretch_checks::range::told;
use homestretch_checks::reference::Reference;

#[test]
fn source_the_way_left_is_told_better_than_common_practice_with_the_true_charge() {
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("data");
    let references = Reference::all(&data).unwrap();
    let told = told(&references, &[1, 2, 3]).unwrap();
    assert_eq!(told.len(), 1, "one bundled trace was ridden to empty");
    let trace = &told[0];
    assert!(trace.ours.claims > 10_000);
    // It is no good figure: the model's cell ends earlier than any table of pulses foresees.
    assert!(trace.ours.median_percent < 0.8 * trace.common.median_percent, "{trace:?}");
}
