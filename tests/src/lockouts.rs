//! How often a rider has to let go of the thumb because the radio was silent for too long.
//!
//! The closed loop on invented towns, with radios from a grid: of radios for handhelds no fitted losses
//! are published, so that chances of going bad and of getting better again stand for them (papers on
//! losses of 2.4 GHz links only say that they come in bursts).

use std::sync::Arc;

use homestretch_sim::board_file::BoardFile;
use homestretch_sim::campaign::town;
use homestretch_sim::plant::radio::RadioSettings;
use homestretch_sim::scenario::Scenario;
use homestretch_sim::world::{Pattern, Violation, World};
use rayon::prelude::*;
use serde::Serialize;

/// Chances, each slot, that a good radio turns bad and a bad one good.
const GRID: [(f64, f64); 5] = [(0.0, 1.0), (0.01, 0.5), (0.02, 0.3), (0.05, 0.2), (0.01, 0.1)];

/// Slots in a second of silence.
const LONG_SLOTS: i32 = 50;

/// One radio of the grid.
#[derive(Clone, Debug, Serialize)]
pub struct Cell {
    /// Chance in each slot that a good radio turns bad.
    pub worsens: f64,
    /// Chance in each slot that a bad one turns good.
    pub recovers: f64,
    /// Share of frames lost.
    pub lost: f64,
    /// Slots in a burst, on average.
    pub burst: f64,
    /// Kilometres ridden.
    pub ridden_km: f64,
    /// Demands for drive that had to wait for a neutral thumb.
    pub lockouts: u32,
    /// On ten kilometres.
    pub per_10_km: f64,
    /// Silences of more than a second that such a radio has on ten kilometres at these rides' speed,
    /// by the chances alone: no receiver that locks after a second has much fewer.
    pub long_silences_per_10_km: f64,
    /// Laws of the thumb and the board's end that were broken.
    pub broken: u32,
}

/// The grid, `rides` rides for each radio.
///
/// # Errors
/// A board, a town or a world that cannot be.
pub fn grid(board: &BoardFile, rides: u64) -> anyhow::Result<Vec<Cell>> {
    GRID.iter().map(|&chances| cell(board, chances, rides)).collect()
}

fn cell(board: &BoardFile, (worsens, recovers): (f64, f64), rides: u64) -> anyhow::Result<Cell> {
    let lived = (1..=rides)
        .into_par_iter()
        .map(|seed| ride(board, (worsens, recovers), seed))
        .collect::<anyhow::Result<Vec<_>>>()?;
    let add = |one: &Lived, other: &Lived| Lived {
        km: one.km + other.km,
        seconds: one.seconds + other.seconds,
        lockouts: one.lockouts + other.lockouts,
        broken: one.broken + other.broken,
    };
    let all = lived.iter().fold(Lived::default(), |sum, one| add(&sum, one));
    let lost = worsens / (worsens + recovers);
    // A burst begins in so many slots, and lasts longer than a second with this chance.
    let bursts = all.seconds * 50.0 * worsens * (1.0 - lost);
    let long = bursts * (1.0 - recovers).powi(LONG_SLOTS);
    Ok(Cell {
        worsens,
        recovers,
        lost,
        burst: if worsens > 0.0 { 1.0 / recovers } else { 0.0 },
        ridden_km: all.km,
        lockouts: all.lockouts,
        per_10_km: f64::from(all.lockouts) / all.km * 10.0,
        long_silences_per_10_km: long / all.km * 10.0,
        broken: all.broken,
    })
}

#[derive(Clone, Debug, Default)]
struct Lived {
    km: f64,
    seconds: f64,
    lockouts: u32,
    broken: u32,
}

fn ride(board: &BoardFile, (worsens, recovers): (f64, f64), seed: u64) -> anyhow::Result<Lived> {
    let top_m_s = board.throttle.parts().limits.top_speed.end.to_f64();
    let pattern = Pattern::Route(Arc::new(town(seed, top_m_s)?));
    let radio =
        RadioSettings::GilbertElliott { worsens, recovers, loss_in_good: 0.0, loss_in_bad: 1.0 };
    let day = Scenario { radio, ..Scenario::default() };
    let setup = day.setup(board, pattern, 1)?;
    let mut world = World::new(board, &setup, None, seed)?;
    while world.ending().is_none() && world.now_s() < 4.0 * 3600.0 {
        world.tick();
    }
    let laws = [
        Violation::DriveInSilence,
        Violation::DriveBeforeNeutral,
        Violation::DriveAtNeutralThumb,
        Violation::DriveTooSoon,
        Violation::DriveOnTooFast,
        Violation::DriveOffTooFast,
        Violation::BrakeOnTooFast,
        Violation::BrakeOffTooFast,
        Violation::BrakeWeakened,
        Violation::Backwards,
        Violation::Jolt,
    ];
    let broken = laws.iter().map(|&law| world.violations().count(law)).sum();
    Ok(Lived {
        km: world.vehicle().distance_m() / 1000.0,
        seconds: world.now_s(),
        lockouts: world.lockouts(),
        broken,
    })
}
