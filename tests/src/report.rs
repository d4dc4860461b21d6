//! Scores as text for people and as JSON for programs.

mod text;

use serde::Serialize;

use crate::accuracy::Scoreboard;
use crate::ekf::FilterSettings;
use crate::side_by_side::Ratios;

pub use text::{found_text, text};

/// A whole run, to be printed one way or the other.
#[derive(Clone, Debug, Serialize)]
pub struct Report {
    /// As it was typed.
    pub command: String,
    /// Where the traces were read.
    pub folder: String,
    /// None if the rows were exact.
    pub seeds: Vec<u64>,
    /// Of the textbook filter.
    pub filter: FilterSettings,
    /// With and without a temperature sensor.
    pub scoreboards: Vec<Scoreboard>,
    /// Ours beside the others; empty while nothing is plugged in.
    pub ratios: Vec<GroupRatios>,
}

/// How a group fares beside the other estimators.
#[derive(Clone, Debug, Serialize)]
pub struct GroupRatios {
    /// Its name, or `all`.
    pub name: String,
    /// Whether there is a temperature sensor.
    pub with_temperature: bool,
    /// The ratios.
    #[serde(flatten)]
    pub ratios: Ratios,
}

impl Report {
    /// The report of `scoreboards`, with their ratios.
    #[must_use]
    pub fn new(command: String, folder: String, seeds: Vec<u64>, boards: Vec<Scoreboard>) -> Self {
        let ratios = boards.iter().flat_map(|board| {
            let groups = board.by_group.iter().map(|line| (&*line.name, &line.scores));
            let lines = groups.chain([("all", &board.all)]);
            lines.filter_map(|(name, scores)| {
                Some(GroupRatios {
                    name: name.to_owned(),
                    with_temperature: board.with_temperature,
                    ratios: scores.ratios()?,
                })
            })
        });
        Self {
            command,
            folder,
            seeds,
            filter: crate::ekf::FOUND,
            ratios: ratios.collect(),
            scoreboards: boards,
        }
    }
}
