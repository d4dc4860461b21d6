//! Everything that makes one ride, as plain data.
//!
//! Made from a board file and a scenario, or drawn by a campaign; turned into a world by `World`.

use std::sync::Arc;

use thiserror::Error;

use super::course::Pattern;
use crate::faults::Script;
use crate::plant::OutOfRange;
use crate::plant::cell::Cell;
use crate::plant::pack::{Pack, PackFault, PackSettings};
use crate::plant::radio::{RadioError, RadioSettings};
use crate::plant::rider::{RiderError, RiderSettings};
use crate::plant::{Parts, Vehicle};
use crate::sensors::{SensorError, SensorSettings};

/// The air on one ride.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Air {
    /// Of the air, and of everything that has stood in it.
    pub temperature_degC: f64,
    /// 101 325 Pa at the sea.
    pub pressure_Pa: f64,
    /// Against the rider wherever the route says nothing else, on top of the route's own.
    pub headwind_m_s: f64,
}

/// A weld that lets go during the ride.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WeldFailure {
    /// Seconds after switching on.
    pub at_s: f64,
    /// The group, counted from 0.
    pub group: usize,
    /// How many of its cells are cut off; one at least stays.
    pub cells: u32,
}

/// What one ride is made of.
#[derive(Clone, Debug)]
pub struct Setup {
    /// The way, or the speed by time.
    pub pattern: Pattern,
    /// How often it is ridden.
    pub laps: u32,
    /// The character of the cells.
    pub cell: Arc<Cell>,
    /// The pack made of them.
    pub pack: PackSettings,
    /// Motors, gear, wheels, masses.
    pub vehicle: Parts,
    /// Who rides.
    pub rider: RiderSettings,
    /// What the sensors do to the truth.
    pub sensors: SensorSettings,
    /// Whether telemetry has the lowest cell's voltage.
    pub cell_voltages: bool,
    /// The way through the air of frames.
    pub radio: RadioSettings,
    /// The air itself.
    pub air: Air,
    /// A weld that fails.
    pub weld: Option<WeldFailure>,
    /// What else breaks.
    pub faults: Script,
    /// The number of the pace that is ridden in.
    pub pace: u8,
    /// Whether frames are sealed; without, they have a checksum instead, which saves time.
    pub seal: bool,
}

/// A part of a setup that cannot be.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum WorldError {
    /// Of the pack.
    #[error("the pack cannot be")]
    Pack(#[from] PackFault),
    /// Of the vehicle, the road or the air.
    #[error("the vehicle cannot be")]
    Vehicle(#[from] OutOfRange),
    /// Of the rider.
    #[error(transparent)]
    Rider(#[from] RiderError),
    /// Of the sensors.
    #[error(transparent)]
    Sensors(#[from] SensorError),
    /// Of the radio.
    #[error(transparent)]
    Radio(#[from] RadioError),
}

impl Setup {
    /// The pack that a seed makes.
    pub(super) fn pack(&self, seed: u64) -> Result<Pack, WorldError> {
        let settings = PackSettings { seed, air_degC: self.air.temperature_degC, ..self.pack };
        let pack = Pack::new(Arc::clone(&self.cell), &settings)?;
        if let Some(weld) = self.weld {
            // Tried on a copy, so that what cannot be is said before the ride.
            pack.clone().fail_weld(weld.group, weld.cells)?;
        }
        Ok(pack)
    }

    /// The vehicle, at rest.
    pub(super) fn vehicle(&self) -> Result<Vehicle, WorldError> {
        let parts = Parts { air_degC: self.air.temperature_degC, ..self.vehicle };
        Ok(Vehicle::new(parts)?)
    }
}
