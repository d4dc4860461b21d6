//! Scores as aligned plain text.

use std::fmt::{self, Write};

use super::Report;
use crate::accuracy::Scoreboard;
use crate::score::{SCORED_FROM, Summary};
use crate::search::Found;
use crate::side_by_side::Summaries;

/// Wide enough for the longest group.
const NAME: usize = 32;

const WITH_INTERVAL: &str = "   rms    p99    max  in90  time  width";
const WITHOUT_INTERVAL: &str = "   rms    p99    max";

/// The report in words and columns.
///
/// # Errors
/// None in practice: writing to a string does not fail.
pub fn text(report: &Report) -> Result<String, fmt::Error> {
    let mut out = String::new();
    writeln!(out, "{}", report.command)?;
    writeln!(out, "traces of {}", report.folder)?;
    if report.seeds.is_empty() {
        writeln!(out, "exact rows, nothing lost")?;
    } else {
        let seeds: Vec<String> = report.seeds.iter().map(u64::to_string).collect();
        writeln!(out, "default sensors and radio, seeds {}", seeds.join(" "))?;
    }
    writeln!(
        out,
        "\nError of the state of charge in % of a full charge, each row from {SCORED_FROM} s on \
         once.\nrms; p99, not exceeded by 99 in 100; max; in90, % of rows whose 90 % interval \
         held the\ntruth; time, the same by time; width, mean of that interval."
    )?;
    for board in &report.scoreboards {
        scoreboard(&mut out, board)?;
    }
    ratios(&mut out, report)?;
    Ok(out)
}

fn scoreboard(out: &mut String, board: &Scoreboard) -> fmt::Result {
    let title = if board.with_temperature {
        "With a temperature sensor"
    } else {
        "Without a temperature sensor"
    };
    writeln!(out, "\n{title}")?;
    header(out, "trace")?;
    for trace in &board.traces {
        line(out, &trace.ride, &trace.pooled)?;
    }
    header(out, "cell")?;
    for cell in &board.by_cell {
        line(out, &cell.name, &cell.scores)?;
    }
    header(out, "group")?;
    for group in &board.by_group {
        line(out, &group.name, &group.scores)?;
    }
    line(out, "iron phosphate, once told", &board.iron_phosphate_told)?;
    line(out, "all", &board.all)
}

fn header(out: &mut String, of: &str) -> fmt::Result {
    let (counting, filter) = (WITHOUT_INTERVAL.len(), WITH_INTERVAL.len());
    writeln!(
        out,
        "\n{:NAME$} |{:^counting$} |{:^filter$} |{:^filter$}",
        "", "counting", "filter", "ours"
    )?;
    writeln!(out, "{of:NAME$} |{WITHOUT_INTERVAL} |{WITH_INTERVAL} |{WITH_INTERVAL}")
}

fn line(out: &mut String, name: &str, scores: &Summaries) -> fmt::Result {
    write!(out, "{name:NAME$} |")?;
    errors(out, scores.counting)?;
    for summary in [scores.filter, scores.ours] {
        write!(out, " |")?;
        errors(out, summary)?;
        match summary.and_then(|summary| summary.interval) {
            None => write!(out, "{:>6}{:>6}{:>7}", "-", "-", "-")?,
            Some(interval) => write!(
                out,
                "{:6.1}{:6.1}{:7.2}",
                100.0 * interval.covered,
                100.0 * interval.covered_by_time,
                interval.mean_width_percent
            )?,
        }
    }
    writeln!(out)
}

fn errors(out: &mut String, summary: Option<Summary>) -> fmt::Result {
    match summary {
        None => write!(out, "{:>6}{:>7}{:>7}", "-", "-", "-"),
        Some(summary) => write!(
            out,
            "{:6.2}{:7.2}{:7.2}",
            summary.rms_percent, summary.p99_percent, summary.largest_percent
        ),
    }
}

fn ratios(out: &mut String, report: &Report) -> fmt::Result {
    writeln!(out, "\nRatios of rms errors, under 1 is better for ours")?;
    if report.ratios.is_empty() {
        return writeln!(out, "none: the library is not plugged in");
    }
    writeln!(
        out,
        "{:NAME$} {:>11} {:>11} {:>13}",
        "group", "temperature", "ours/filter", "ours/counting"
    )?;
    for line in &report.ratios {
        writeln!(
            out,
            "{:NAME$} {:>11} {:>11.2} {:>13.2}",
            line.name,
            if line.with_temperature { "yes" } else { "no" },
            line.ratios.ours_over_filter,
            line.ratios.ours_over_counting
        )?;
    }
    Ok(())
}

/// What a search found, in words.
///
/// # Errors
/// None in practice: writing to a string does not fail.
pub fn found_text(command: &str, found: &Found) -> Result<String, fmt::Error> {
    let mut out = String::new();
    let settings = found.settings;
    writeln!(out, "{command}")?;
    writeln!(out, "searched on    {}", found.searched.join(" "))?;
    writeln!(out, "  rms error    {:.3} %", found.searched_rms_percent)?;
    writeln!(out, "not looked at  {}", found.others.join(" "))?;
    match found.others_rms_percent {
        Some(rms_percent) => writeln!(out, "  rms error    {rms_percent:.3} %")?,
        None => writeln!(out, "  rms error    -")?,
    }
    writeln!(out, "settings tried {}", found.tried)?;
    writeln!(out)?;
    for (name, value) in [
        ("soc_drift_per_root_s", settings.soc_drift_per_root_s),
        ("polarisation_sd_V", settings.polarisation_sd_V),
        ("voltage_sd_V", settings.voltage_sd_V),
        ("first_soc_sd", settings.first_soc_sd),
        ("polarisation_time_s", settings.polarisation_time_s),
    ] {
        writeln!(out, "{name:22} {value:.3e}")?;
    }
    Ok(out)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::estimator::Estimate;
    use crate::score::Score;
    use crate::side_by_side::SideBySide;

    #[test]
    fn every_line_is_as_wide_as_its_header() {
        let mut score = Score::default();
        score.add(Estimate::within(0.1, 0.5, 0.9), 0.25, 1.0);
        let mut out = String::new();
        header(&mut out, "group").unwrap();
        for ours in [Score::default(), score.clone()] {
            let scores = SideBySide { counting: score.clone(), filter: score.clone(), ours };
            line(&mut out, "iron phosphate", &scores.summaries()).unwrap();
        }
        let bars = |line: &str| line.match_indices('|').map(|(at, _)| at).collect::<Vec<_>>();
        let lines: Vec<&str> = out.lines().skip(1).collect();
        assert_eq!(lines.len(), 4);
        for other in &lines[1..] {
            assert_eq!(bars(other), bars(lines[0]), "{out}");
            assert_eq!(other.len(), lines[1].len(), "{out}");
        }
    }
}
