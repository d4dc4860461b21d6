//! What our charge has to reach at the least, so that a change that loses it does not pass.
//!
//! Asked by `cli::accuracy` under `--floor`. Source of the bounds: the textbook filter in the same
//! run, for each group and for each cell with nickel or cobalt; and three percent for the latter.

use std::collections::BTreeSet;

use crate::accuracy::{PooledLine, Scoreboard};
use crate::group::Group;

/// Pooled rms error of a cell, in percent of charge.
const MOST_RMS_PERCENT: f64 = 3.0;

/// With a temperature sensor: each cell with nickel or cobalt whose pooled rms error is above the
/// filter's or above three percent, and each group that is above the filter's.
#[must_use]
pub fn broken(boards: &[Scoreboard]) -> Vec<String> {
    let with_temperature = || boards.iter().filter(|board| board.with_temperature);
    with_temperature()
        .flat_map(broken_cells)
        .chain(with_temperature().flat_map(broken_groups))
        .collect()
}

fn broken_groups(board: &Scoreboard) -> Vec<String> {
    board.by_group.iter().filter_map(|line| verdict(line, f64::INFINITY)).collect()
}

/// What is wrong with a line that may have at most the filter's rms error, and at most `most`.
fn verdict(line: &PooledLine, most: f64) -> Option<String> {
    let (ours, filter) = (line.scores.ours?.rms_percent, line.scores.filter?.rms_percent);
    let bound = filter.min(most);
    (ours > bound)
        .then(|| format!("{} is {ours:.2} % rms, at most {bound:.2} % is allowed", line.name))
}

fn broken_cells(board: &Scoreboard) -> Vec<String> {
    let nickel_or_cobalt = |group| {
        matches!(group, Group::NickelCobalt | Group::NickelCobaltCold | Group::NickelCobaltHot)
    };
    let traces = board.traces.iter().filter(|trace| nickel_or_cobalt(trace.group));
    let cells: BTreeSet<&str> = traces.map(|trace| trace.cell.as_str()).collect();
    let judged = board.by_cell.iter().filter(|line| cells.contains(line.name.as_str()));
    judged.filter_map(|line| verdict(line, MOST_RMS_PERCENT)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::accuracy::TraceLine;
    use crate::score::Summary;
    use crate::side_by_side::SideBySide;

    fn board(ours: f64, filter: f64, group: Group) -> Scoreboard {
        let summary = |rms_percent| Some(Summary { rms_percent, ..Summary::default() });
        let scores = SideBySide { counting: None, filter: summary(filter), ours: summary(ours) };
        let trace = TraceLine {
            ride: "r".into(),
            cell: "c".into(),
            group,
            seeds: Vec::new(),
            pooled: scores.clone(),
        };
        let by_cell = vec![PooledLine { name: "c".into(), scores: scores.clone() }];
        Scoreboard {
            with_temperature: true,
            traces: vec![trace],
            by_cell,
            by_group: Vec::new(),
            iron_phosphate_told: scores.clone(),
            all: scores,
        }
    }

    #[test]
    fn the_floor_breaks_above_the_filter_and_above_three_percent() {
        let broken = |ours, filter, group| !broken(&[board(ours, filter, group)]).is_empty();
        assert!(!broken(1.5, 1.6, Group::NickelCobalt));
        assert!(broken(1.7, 1.6, Group::NickelCobalt));
        assert!(broken(3.1, 4.0, Group::NickelCobaltCold));
        assert!(!broken(9.0, 4.0, Group::IronPhosphate));
    }

    #[test]
    fn the_floor_breaks_where_a_group_is_above_the_filter() {
        let pooled = |ours, filter| {
            let mut board = board(1.0, 2.0, Group::IronPhosphate);
            let summary = |rms_percent| Some(Summary { rms_percent, ..Summary::default() });
            let scores =
                SideBySide { counting: None, filter: summary(filter), ours: summary(ours) };
            board.by_group = vec![PooledLine { name: "g".into(), scores }];
            broken(&[board])
        };
        assert!(pooled(5.7, 6.1).is_empty());
        assert_eq!(pooled(6.2, 6.1).len(), 1);
    }
}
