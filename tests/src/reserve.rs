//! What folding drive and speed back is worth at the end of a pack, in metres, against a plain stop at its
//! lowest voltage.
//!
//! Two rides of each seed, same pack, rider and road: one on the board as its file has it, until it goes
//! slower than a walk; one with nothing folded back, until its pack has stood under the stop voltage for
//! half a second, where a motor controller that knows nothing else ends the ride. Roads are invented:
//! one level, one with a hill of four percent after the other.

use std::sync::Arc;

use anyhow::Context as _;
use homestretch::throttle::{Band, LimitSettings, Parts, Settings};
use homestretch::units::{MetresPerSecond, Ratio, Volts};
use homestretch_sim::board_file::BoardFile;
use homestretch_sim::route::{Outline, Route, Segment, Slope, Surface, Way, Wind};
use homestretch_sim::scenario::{AirOfDay, PackOfDay, Scenario};
use homestretch_sim::world::{Ending, Pattern, World};
use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;
use serde::Serialize;

/// The last third of a pack is enough.
const CHARGE: f64 = 0.35;
const LONGEST_S: f64 = 4.0 * 3600.0;

/// What came of one road.
#[derive(Clone, Debug, Serialize)]
pub struct Bought {
    /// Which.
    pub road: &'static str,
    /// Pairs of rides.
    pub rides: usize,
    /// Metres from the plain stop to where no drive was left: half of the rides got at least these,
    pub median_m: f64,
    /// nine in ten at least these.
    pub nine_in_ten_m: f64,
}

/// What `rides` seeds get on each road.
///
/// # Errors
/// A board, a road or a world that cannot be.
pub fn bought(board: &BoardFile, rides: u64) -> anyhow::Result<Vec<Bought>> {
    let plain = plain(board)?;
    [("level", 0.0), ("hills of 4 %", 4.0)]
        .into_iter()
        .map(|(road, percent)| {
            let route = Arc::new(hills(percent)?);
            let mut metres = (1..=rides)
                .into_par_iter()
                .map(|seed| pair(board, &plain, &route, seed))
                .collect::<anyhow::Result<Vec<_>>>()?;
            metres.sort_by(f64::total_cmp);
            let at = |part: usize| metres.get(metres.len() * part / 10).copied();
            Ok(Bought {
                road,
                rides: metres.len(),
                median_m: at(5).unwrap_or(f64::NAN),
                nine_in_ten_m: at(1).unwrap_or(f64::NAN),
            })
        })
        .collect()
}

/// The board with nothing folded back but at the very end.
fn plain(board: &BoardFile) -> anyhow::Result<BoardFile> {
    let parts = board.throttle.parts();
    let stop = board.board.pack().stop_below;
    let limits = LimitSettings {
        sagging: Band { begin: stop + Volts::from_milli(110), end: stop },
        reserve: Band { begin: Ratio::from_percent(2), end: Ratio::ZERO },
        reserve_drive: Ratio::ONE,
        reserve_speed: MetresPerSecond::from_whole(40),
        ..parts.limits
    };
    let throttle = Settings::new(Parts { limits, ..*parts })
        .map_err(|error| anyhow::anyhow!("{error}"))
        .context("a board without fold-back")?;
    let mut plain = board.clone();
    plain.throttle = throttle;
    Ok(plain)
}

fn hills(percent: f64) -> anyhow::Result<Route> {
    let segment = |grade| Segment {
        length_m: 250.0,
        slope: Slope::GradePercent(grade),
        surface: Surface::Asphalt,
        speed_wish_m_s: 6.0,
        wind: Wind::Headwind(0.0),
        heading_deg: None,
    };
    Ok(Route::new(&Outline {
        name: "hills, invented".to_owned(),
        start_elevation_m: 0.0,
        way: Way::Again,
        segments: vec![segment(percent), segment(-percent)],
        stops: Vec::new(),
    })?)
}

fn pair(
    board: &BoardFile,
    plain: &BoardFile,
    route: &Arc<Route>,
    seed: u64,
) -> anyhow::Result<f64> {
    let mut numbers = ChaCha8Rng::seed_from_u64(seed);
    let mut span = |low: f64, high: f64| low + (high - low) * numbers.random::<f64>();
    let usual = Scenario::default();
    let day = Scenario {
        air: AirOfDay { temperature_degC: span(-5.0, 35.0), ..usual.air },
        pack: PackOfDay {
            charge: CHARGE,
            capacity_share: span(0.8, 1.0),
            resistance_share: span(1.0, 1.6),
            ..usual.pack
        },
        ..usual
    };
    let setup =
        |board| day.setup(board, Pattern::Route(Arc::clone(route)), 1).context("the drawn day");
    let whole = setup(board)?;
    let mut world = World::new(board, &whole, None, seed)?;
    world.ride_on();
    while world.ending().is_none() && world.now_s() < LONGEST_S {
        world.tick();
    }
    anyhow::ensure!(world.ending() == Some(Ending::NoDriveLeft), "seed {seed} is stuck");
    let empty_m = world.vehicle().distance_m();
    let bare = setup(plain)?;
    let mut world = World::new(plain, &bare, None, seed)?;
    world.ride_on();
    while world.plain_stop_m().is_none() && world.ending().is_none() && world.now_s() < LONGEST_S {
        world.tick();
    }
    let stop_m = world.plain_stop_m().unwrap_or_else(|| world.vehicle().distance_m());
    Ok(empty_m - stop_m)
}
