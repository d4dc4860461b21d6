use std::path::Path;

use super::*;
use crate::estimator::Estimate;

fn short(name: &str, rows: usize) -> Reference {
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("data");
    let mut reference = Reference::read(&data, name).unwrap();
    reference.rows.truncate(rows);
    reference
}

/// Looks at its board file and then always says the same.
fn dummy(board_file: &Path) -> anyhow::Result<Plugged> {
    let board: toml::Table = std::fs::read_to_string(board_file)?.parse()?;
    anyhow::ensure!(board.contains_key("pack"), "no pack");
    Ok(Plugged::new(|_| Estimate::within(0.7, 0.8, 0.9)))
}

fn trial(seeds: &[u64]) -> Trial {
    Trial {
        seeds: seeds.to_vec(),
        exact: false,
    }
}

#[test]
fn an_estimator_that_is_plugged_in_is_scored_beside_the_others() {
    let references = [short("udds-town", 3000), short("brim-downhill", 2000)];
    let boards = run(
        &references,
        &trial(&[1, 2]),
        Some(&dummy),
        &ProgressBar::hidden(),
    );
    let boards = boards.unwrap();
    assert_eq!(boards.len(), 2);
    for board in &boards {
        assert_eq!(board.traces.len(), 2);
        let town = &board.traces[0];
        assert_eq!(town.seeds.len(), 2);
        let ours = town.pooled.ours.unwrap();
        // The truth goes from 0.74 downwards, the dummy stays at 0.8.
        assert!(ours.mean_percent > 6.0 && ours.mean_percent < 20.0);
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
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap();
        let boards = pool
            .install(|| run(&references, &trial(&[3, 4]), None, &ProgressBar::hidden()))
            .unwrap();
        serde_json::to_string(&boards).unwrap()
    };
    assert_eq!(on(1), on(3));
}

#[test]
fn exact_rows_are_scored_once_and_from_two_minutes_on() {
    let references = [short("udds-town", 1000)];
    let exact = Trial {
        seeds: vec![1, 2, 3],
        exact: true,
    };
    let boards = run(&references, &exact, None, &ProgressBar::hidden()).unwrap();
    let line = &boards[0].traces[0];
    assert!(line.seeds.is_empty());
    // A row each 0.2 s from 0 s on: 600 of them lie under 120 s.
    assert_eq!(line.pooled.filter.unwrap().rows, 400);
}

#[test]
fn an_estimator_that_refuses_its_board_is_named_with_the_trace() {
    let references = [short("udds-town", 100)];
    let refusing = |_: &Path| anyhow::bail!("no such pack");
    let error = run(
        &references,
        &trial(&[1]),
        Some(&refusing),
        &ProgressBar::hidden(),
    );
    assert_eq!(
        format!("{:#}", error.unwrap_err()),
        "udds-town: no such pack"
    );
}
