use std::path::Path;

use super::*;

fn short(name: &str, rows: usize) -> Reference {
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("data");
    let mut reference = Reference::read(&data, name).unwrap();
    reference.rows.truncate(rows);
    reference
}

fn trial(seeds: &[u64]) -> Trial {
    Trial { seeds: seeds.to_vec(), exact: false }
}

#[test]
fn the_library_is_scored_beside_the_others() {
    let references = [short("udds-town", 3000), short("brim-downhill", 2000)];
    let boards = run(&references, &trial(&[1, 2]), &ProgressBar::hidden());
    let boards = boards.unwrap();
    assert_eq!(boards.len(), 2);
    for board in &boards {
        assert_eq!(board.traces.len(), 2);
        let town = &board.traces[0];
        assert_eq!(town.seeds.len(), 2);
        let ours = town.pooled.ours.unwrap();
        assert!(ours.interval.is_some());
        let counting = town.pooled.counting.unwrap();
        assert_eq!(counting.rows, ours.rows);
        assert!(counting.interval.is_none());
        assert!(board.all.ratios().unwrap().ours_over_counting > 0.0);
    }
}

#[test]
fn results_do_not_depend_on_the_number_of_threads() {
    let references = [short("udds-town", 2000), short("last-drop-lfp", 2000)];
    let on = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let boards =
            pool.install(|| run(&references, &trial(&[3, 4]), &ProgressBar::hidden())).unwrap();
        serde_json::to_string(&boards).unwrap()
    };
    assert_eq!(on(1), on(3));
}

#[test]
fn exact_rows_are_scored_once_and_from_two_minutes_on() {
    let references = [short("udds-town", 1000)];
    let exact = Trial { seeds: vec![1, 2, 3], exact: true };
    let boards = run(&references, &exact, &ProgressBar::hidden()).unwrap();
    let line = &boards[0].traces[0];
    assert!(line.seeds.is_empty());
    // A row each 0.2 s from 0 s on: 600 of them lie under 120 s.
    assert_eq!(line.pooled.filter.unwrap().rows, 400);
}
