//! What a scenario can get wrong.

use std::io;

use thiserror::Error;

use crate::plant::OutOfRange;
use crate::plant::cell::CellFault;
use crate::plant::radio::RadioError;
use crate::plant::rider::RiderError;
use crate::route::RouteError;
use crate::sensors::SensorError;

/// A scenario that cannot be read or cannot be.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum ScenarioError {
    /// The file cannot be read.
    #[error("cannot read the scenario `{file}`")]
    Unread {
        /// Its name.
        file: String,
        /// What the system said.
        source: io::Error,
    },
    /// It is no TOML, or has a key or a value that is not understood.
    #[error("scenario `{file}`, line {line}: {what}")]
    Unclear {
        /// Its name.
        file: String,
        /// Counted from 1.
        line: usize,
        /// What is not understood.
        what: String,
    },
    /// A value is out of its range.
    #[error("scenario: `{key}` is {given}; allowed is {lowest} to {highest}")]
    OutOfRange {
        /// Its name.
        key: &'static str,
        /// What it is.
        given: f64,
        /// The least that is allowed.
        lowest: f64,
        /// The most that is allowed.
        highest: f64,
    },
    /// In a file.
    #[error("in `{file}`")]
    InFile {
        /// Its name.
        file: String,
        /// What is wrong there.
        #[source]
        fault: Box<ScenarioError>,
    },
    /// The rider.
    #[error("no such rider")]
    Rider(#[from] RiderError),
    /// The sensors.
    #[error("no such sensors")]
    Sensors(#[from] SensorError),
    /// The radio.
    #[error("no such radio")]
    Radio(#[from] RadioError),
    /// The cells of the board file make no truth.
    #[error("a synthetic ride cannot be made of the board's cell")]
    Cell(#[from] CellFault),
    /// The vehicle of the board file makes no truth.
    #[error("a synthetic ride cannot be made of the board's vehicle")]
    Vehicle(#[from] OutOfRange),
    /// The route does not go with the wind.
    #[error("the route does not go with the wind")]
    Route(#[from] RouteError),
}

impl ScenarioError {
    /// The same, said of a file.
    pub(super) fn of_file(self, file: String) -> Self {
        Self::InFile { file, fault: Box::new(self) }
    }
}
