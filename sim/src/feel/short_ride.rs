//! A ride of two or three minutes in the world, for what a kilometre takes.
//!
//! The whole loop of `world` with a perfect radio and without seals: a rider, a route, the handheld with its
//! charge and its range.

use std::sync::Arc;

use serde::Serialize;

use super::machine::{FeelError, Machine};
use super::stand::Stand;
use super::words::rounded;
use crate::board_file::BoardFile;
use crate::route::{Outline, Route, RouteErrors, Segment, Slope, Stop, Surface, Way, Wind};
use crate::world::{Pattern, World};

/// A ride that has not ended by then is ended.
const LONGEST_S: f64 = 300.0;

/// The same ride every time.
const SEED: u64 = 1;

/// A ride to choose.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct RideChoice {
    /// What the page calls it.
    pub id: &'static str,
    /// In words.
    pub name: &'static str,
}

/// All of them; invented, no street is meant.
pub const RIDES: [RideChoice; 3] = [
    RideChoice { id: "streets", name: "streets with three crossings, 700 m" },
    RideChoice { id: "hill", name: "over a hill of 6 % and down, 600 m" },
    RideChoice { id: "path", name: "along a level path, 800 m" },
];

/// What a ride came to.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct RideFelt {
    /// Out of the pack's terminals, by the way ridden.
    pub energy_Wh_km: f64,
    /// Kept for a lower figure where one is known; the plant knows none.
    pub energy_low_Wh_km: Option<f64>,
    /// What the library says is left at the end.
    pub range_km: f64,
    /// Stops included.
    pub mean_speed_m_s: f64,
    /// The greatest out of the pack.
    pub peak_current_A: f64,
    /// Whether the end was reached.
    pub arrived: bool,
}

/// Rides `id` with the settings of `tried` on the machine.
///
/// # Errors
/// [`FeelError`] where there is no such ride, or the world cannot be.
pub fn short_ride(
    machine: &Machine,
    tried: &BoardFile,
    (stand, id): (&Stand, &str),
) -> Result<RideFelt, FeelError> {
    let top_m_s = tried.throttle.parts().limits.top_speed.end.to_f64();
    let route = route(id, top_m_s, stand.surface)?.ok_or_else(|| {
        let known = RIDES.map(|ride| ride.id).join(", ");
        FeelError::NoRide(id.to_owned(), known)
    })?;
    let mut setup = machine.setup(stand);
    setup.pattern = Pattern::Route(Arc::new(route));
    let mut world = World::new(tried, &setup, None, SEED)?;
    let (mut peak_current_A, mut range_km) = (0.0_f64, 0.0);
    while world.ending().is_none() && world.now_s() < LONGEST_S {
        let moment = world.tick();
        peak_current_A = peak_current_A.max(world.pack().current_A());
        range_km = moment.output.status.range.likely.to_f64() / 1000.0;
    }
    let way_km = (world.vehicle().distance_m() / 1000.0).max(1e-3);
    Ok(RideFelt {
        energy_Wh_km: rounded(world.energy_drawn_J() / 3600.0 / way_km),
        energy_low_Wh_km: None,
        range_km: rounded(range_km),
        mean_speed_m_s: rounded(way_km * 1000.0 / world.now_s()),
        peak_current_A: rounded(peak_current_A),
        arrived: world.ending() == Some(crate::world::Ending::Arrived),
    })
}

/// The route of a ride; nothing where there is none.
fn route(id: &str, top_m_s: f64, surface: Surface) -> Result<Option<Route>, RouteErrors> {
    let piece = |length_m, percent, share: f64| Segment {
        length_m,
        slope: Slope::GradePercent(percent),
        surface,
        speed_wish_m_s: top_m_s * share,
        wind: Wind::Headwind(0.0),
        heading_deg: None,
    };
    let wait = |at_m| Stop { at_m, wait_s: 4.0 };
    let (segments, stops) = match id {
        "streets" => (
            vec![
                piece(200.0, 0.5, 0.8),
                piece(150.0, -1.0, 0.9),
                piece(150.0, 2.0, 0.7),
                piece(200.0, -1.2, 0.85),
            ],
            vec![wait(200.0), wait(350.0), wait(500.0)],
        ),
        "hill" => (vec![piece(300.0, 6.0, 0.8), piece(300.0, -6.0, 0.6)], Vec::new()),
        "path" => (vec![piece(800.0, 0.0, 0.8)], Vec::new()),
        _ => return Ok(None),
    };
    let name = id.to_owned();
    Route::new(&Outline { name, way: Way::Again, segments, stops, ..Outline::default() }).map(Some)
}
