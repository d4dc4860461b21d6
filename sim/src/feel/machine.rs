//! The board as it was built, on a day: what a tuning is tried on.
//!
//! Motors, gear and controller follow from the board file where it does not say them (`scenario`), and some
//! of that from the very numbers that are tuned. What was built does not change with a tuning: so the machine
//! is made of the file that is on the board, and the settings that are tried on it come from another.

use homestretch::handheld::Handheld;
use homestretch::throttle::Settings;
use homestretch::time::Instant;
use homestretch::units::Ratio;

use super::stand::Stand;
use crate::board_file::BoardFile;
use crate::plant::pack::{Pack, PackFault};
use crate::plant::radio::RadioSettings;
use crate::plant::{OutOfRange, Road, Vehicle, air_density_kg_m3};
use crate::replay::{telemetry, tick_through};
use crate::ride::Measured;
use crate::route::{Outline, Route, RouteErrors, Segment, Slope, Surface, Way, Wind};
use crate::scenario::{Scenario, ScenarioError};
use crate::world::{Pattern, Setup, WorldError};

/// At the sea.
const PRESSURE_PA: f64 = 101_325.0;

/// How long the hand looks at a pack that rests before its word on the charge is taken.
const LOOKS_FOR_TENTHS: u32 = 20;

/// Why nothing can be felt.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum FeelError {
    /// The board file and the plant do not fit together.
    #[error(transparent)]
    Scenario(#[from] ScenarioError),
    /// The way is none.
    #[error("the way cannot be ridden")]
    Route(#[from] RouteErrors),
    /// The pack cannot be.
    #[error("the pack cannot be")]
    Pack(#[from] PackFault),
    /// The vehicle, the road or the rider cannot be.
    #[error("the vehicle cannot be")]
    Vehicle(#[from] OutOfRange),
    /// The world cannot be.
    #[error(transparent)]
    World(#[from] WorldError),
    /// There is no such ride.
    #[error("`{0}` is no ride; {1} are")]
    NoRide(String, String),
}

/// A board as it was built: new, evenly matched cells, true to its file.
#[derive(Clone, Debug)]
pub struct Machine {
    built: BoardFile,
    setup: Setup,
}

/// The machine on a [`Stand`], at rest.
#[derive(Clone, Debug)]
pub struct Standing {
    /// Rider and board.
    pub vehicle: Vehicle,
    /// The pack, which has rested.
    pub pack: Pack,
    /// What lies under the wheels.
    pub road: Road,
    /// The charge that the library makes of it.
    pub charge: Ratio,
    /// The upper end of the library's interval.
    pub charge_high: Ratio,
}

impl Machine {
    /// The machine of a board file.
    ///
    /// # Errors
    /// [`FeelError`] where no such board can be.
    pub fn new(built: &BoardFile) -> Result<Self, FeelError> {
        let mut day = Scenario { radio: RadioSettings::Perfect {}, ..Scenario::default() };
        let pack = &mut day.pack;
        (pack.capacity_spread, pack.resistance_spread, pack.charge_spread) = (0.0, 0.0, 0.0);
        let setup = day.setup(built, Pattern::Route(level()?.into()), 1)?;
        Ok(Self { built: built.clone(), setup: Setup { seal: false, ..setup } })
    }

    /// The file that it was built by.
    #[must_use]
    pub const fn built(&self) -> &BoardFile {
        &self.built
    }

    /// What makes a ride of it on a stand.
    #[must_use]
    pub fn setup(&self, stand: &Stand) -> Setup {
        let mut setup = self.setup.clone();
        setup.pack.start_soc = stand.charge;
        setup.pack.temperature_degC = stand.cell_degC;
        setup.pack.air_degC = stand.air_degC;
        setup.air.temperature_degC = stand.air_degC;
        setup.vehicle.air_degC = stand.air_degC;
        setup.vehicle.body = setup.vehicle.body.weighing(stand.mass_kg);
        setup
    }

    /// The machine on a stand, under `settings`.
    ///
    /// # Errors
    /// [`FeelError`] where the stand lies outside of what the plant knows.
    pub fn on(&self, stand: &Stand, settings: &Settings) -> Result<Standing, FeelError> {
        let setup = self.setup(stand);
        let pack = Pack::new(setup.cell, &setup.pack)?;
        let (charge, charge_high) = self.look(&pack, settings);
        let road = Road {
            grade: stand.grade,
            friction: stand.surface.friction(),
            rolling_factor: stand.surface.rolling_factor(),
            headwind_m_s: 0.0,
            air_density_kg_m3: air_density_kg_m3(stand.air_degC, PRESSURE_PA),
        };
        road.check()?;
        Ok(Standing { vehicle: Vehicle::new(setup.vehicle)?, pack, road, charge, charge_high })
    }

    /// What the library makes of a pack that rests: its charge, and how much it may be.
    fn look(&self, pack: &Pack, settings: &Settings) -> (Ratio, Ratio) {
        let mut hand = Handheld::new(&self.built.board, settings, None);
        let centre = settings.parts().calibration.counts().centre;
        let row = Measured {
            pack_voltage_V: Some(pack.voltage_V()),
            pack_current_A: Some(0.0),
            cell_temperature_degC: Some(pack.cell_temperature_degC()),
            speed_m_s: Some(0.0),
            distance_m: Some(0.0),
            ..Measured::at(0.0)
        };
        let frame = telemetry(&row);
        let mut estimate = None;
        for tenth in 0..LOOKS_FOR_TENTHS {
            let now = Instant::from_millis(u64::from(tenth) * 100);
            let output = tick_through(&mut hand, now, centre, frame.as_ref());
            estimate = Some(output.status.charge);
        }
        estimate.map_or((Ratio::ZERO, Ratio::ONE), |charge| (charge.soc, charge.high))
    }
}

/// A level road, for a setup that is not ridden.
fn level() -> Result<Route, RouteErrors> {
    let piece = Segment {
        length_m: 1000.0,
        slope: Slope::GradePercent(0.0),
        surface: Surface::Asphalt,
        speed_wish_m_s: 1.0,
        wind: Wind::Headwind(0.0),
        heading_deg: None,
    };
    let name = "level".to_owned();
    Route::new(&Outline { name, way: Way::Again, segments: vec![piece], ..Outline::default() })
}
