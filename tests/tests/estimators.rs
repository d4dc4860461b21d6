//! Counting and the textbook filter on the package's own traces: are they worth being beaten?
//!
//! Source: the reference traces of `data/`.

use std::path::Path;

use homestretch_checks::accuracy::{self, Trial};
use homestretch_checks::reference::Reference;
use indicatif::ProgressBar;

#[test]
fn the_filter_errs_less_than_counting_over_all_traces() {
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("data");
    let references = Reference::all(&data).unwrap();
    let trial = Trial { seeds: vec![1], exact: false };
    let boards = accuracy::run(&references, &trial, &ProgressBar::hidden()).unwrap();
    for board in boards {
        let (counting, filter) = (board.all.counting.unwrap(), board.all.filter.unwrap());
        assert!(
            filter.rms_percent < counting.rms_percent,
            "{} {}",
            filter.rms_percent,
            counting.rms_percent
        );
    }
}

#[test]
fn counting_exact_rows_of_a_rested_start_errs_by_its_first_voltage_only() {
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("data");
    let references = [Reference::read(&data, "crossings-morning").unwrap()];
    let trial = Trial { seeds: Vec::new(), exact: true };
    let boards = accuracy::run(&references, &trial, &ProgressBar::hidden()).unwrap();
    let counting = boards[0].all.counting.unwrap();
    // Where it starts, near 93 %, the curve rises by less than three millivolts a percent, and the
    // first row already has some eight tenths of a millivolt of sag.
    assert!(counting.largest_percent < 0.5, "{counting:?}");
    let spread = counting.largest_percent - counting.mean_percent.abs();
    assert!(spread < 0.05, "{counting:?}");
}
