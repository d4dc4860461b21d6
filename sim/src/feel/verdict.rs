//! Whether all riders bear a tuning: laws, each with the worst that was found and where.
//!
//! Every law is looked at over riders, charges, airs and surfaces, on the level; one that does not hold says
//! by how much and on which stand. What riders bear is the board file's (`[riders]`), the distance of a stop
//! is what `brake.stop_with_m_s2` states, and currents are those of the cells and of `brake.charge_A`.

mod measure;

use homestretch::throttle::Settings;
use rayon::prelude::*;
use serde::Serialize;

use super::machine::{FeelError, Machine, Standing};
use super::stand::{Stand, Stands};
use super::stops::stated_m;
use super::words::rounded;
use crate::board_file::BoardFile;
use crate::route::Surface;

/// Surfaces that are looked at: what is ridden every day, dry and wet.
const SURFACES: [Surface; 2] = [Surface::Asphalt, Surface::WetAsphalt];

/// In which time drive has to be gone: the library's own word. The motors of assisted bicycles are off
/// within 2 m, 0.29 s at 25 km/h (EN 15194:2017, from memory).
const DRIVE_GONE_WITHIN_S: f64 = 0.3;

/// What a slope of 1 % does. Limits that chase a sagging pack or its greatest current swing by some of it, and
/// more thumb may meet them at another place. No source.
const LESS_PUSH_M_S2: f64 = 0.1;

/// Half a percent: steps of the library's numbers, and of the plant's time.
const TOLERANCE: f64 = 1.005;

/// What is asked of a tuning.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum LawId {
    /// Drive is felt as no more than riders bear.
    DriveAcceleration,
    /// It comes no harder.
    DriveJerk,
    /// It goes no harder.
    LetGoJerk,
    /// It is gone in time.
    LetGoTime,
    /// More thumb is never less push.
    MoreThumb,
    /// A brake is felt as no more than riders bear.
    BrakeAcceleration,
    /// It comes no harder.
    BrakeJerk,
    /// It does not fall away while it is held.
    BrakeStays,
    /// The board stops in the stated distance.
    StoppingDistance,
    /// No more leaves the cells than they bear.
    PackCurrent,
    /// No more charges them than the file says.
    ChargeCurrent,
}

impl LawId {
    /// All of them.
    pub const ALL: [Self; 11] = [
        Self::DriveAcceleration,
        Self::DriveJerk,
        Self::LetGoJerk,
        Self::LetGoTime,
        Self::MoreThumb,
        Self::BrakeAcceleration,
        Self::BrakeJerk,
        Self::BrakeStays,
        Self::StoppingDistance,
        Self::PackCurrent,
        Self::ChargeCurrent,
    ];

    /// Its short name, what it says and its unit.
    #[must_use]
    pub const fn words(self) -> (&'static str, &'static str, &'static str) {
        match self {
            Self::DriveAcceleration => {
                ("drive", "drive is felt as no more than the lightest rider bears", "m/s²")
            }
            Self::DriveJerk => {
                ("drive-jerk", "drive comes no harder than the lightest rider bears", "m/s³")
            }
            Self::LetGoJerk => {
                ("let-go-jerk", "drive goes no harder than the lightest rider bears", "m/s³")
            }
            Self::LetGoTime => ("let-go-time", "a thumb that lets go is no drive in time", "s"),
            Self::MoreThumb => ("more-thumb", "more thumb is never less push", "m/s²"),
            Self::BrakeAcceleration => {
                ("brake", "the brake is felt as no more than the lightest rider bears", "m/s²")
            }
            Self::BrakeJerk => {
                ("brake-jerk", "the brake comes no harder than the lightest rider bears", "m/s³")
            }
            Self::BrakeStays => {
                ("brake-stays", "a brake that is held does not fall away suddenly", "m/s³")
            }
            Self::StoppingDistance => {
                ("stop", "the heaviest rider stops in the stated distance", "m")
            }
            Self::PackCurrent => ("discharge", "no more current than the cells give", "A"),
            Self::ChargeCurrent => ("charge", "the brake charges with no more than is stated", "A"),
        }
    }

    /// What may be found at the most.
    #[must_use]
    pub fn limit(self, tried: &BoardFile) -> f64 {
        let riders = &tried.riders;
        match self {
            Self::DriveAcceleration => riders.bear_drive_m_s2,
            Self::DriveJerk => riders.bear_drive_jerk_m_s3,
            Self::LetGoJerk => riders.bear_let_go_jerk_m_s3,
            Self::LetGoTime => DRIVE_GONE_WITHIN_S,
            Self::MoreThumb => LESS_PUSH_M_S2,
            Self::BrakeAcceleration => riders.bear_brake_m_s2,
            Self::BrakeJerk | Self::BrakeStays => riders.bear_brake_jerk_m_s3,
            Self::StoppingDistance => stated_m(&tried.throttle),
            Self::PackCurrent => {
                let parallel = f64::from(tried.board.pack().parallel);
                tried.board.cell().max_discharge.to_f64() * parallel
            }
            Self::ChargeCurrent => tried.throttle.parts().limits.brake.charge_current.to_f64(),
        }
    }
}

/// A law and what was found of it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Law {
    /// Its short name.
    pub id: &'static str,
    /// In words.
    pub law: &'static str,
    /// Whether it holds.
    pub holds: bool,
    /// The worst that was found.
    pub found: f64,
    /// What may be.
    pub limit: f64,
    /// Of both.
    pub unit: &'static str,
    /// On which stand, and at which speed.
    pub r#where: String,
}

/// Whether a tuning passes, and why not.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Verdict {
    /// Whether all laws hold.
    pub passes: bool,
    /// One by one.
    pub laws: Vec<Law>,
}

/// The worst that was found of a law, and at which speed.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Worst {
    /// In the law's unit.
    pub found: f64,
    /// m/s.
    pub at_m_s: f64,
}

/// A stand with its name.
#[derive(Clone, Debug, PartialEq)]
pub struct Conditioned {
    /// The stand.
    pub stand: Stand,
    /// In words: rider, pack, air, surface.
    pub name: String,
}

impl Conditioned {
    /// Riders of a board, light, usual and heavy, with a full pack and a low one, warm and cold, on each of
    /// these surfaces.
    #[must_use]
    pub fn all(board: &BoardFile, surfaces: &[Surface]) -> Vec<Self> {
        let Stands { riders, charges, airs, .. } = Stands::of(board);
        let mut all = Vec::new();
        for rider in &riders {
            for charge in charges.iter().filter(|charge| charge.id != "half") {
                for air in &airs {
                    all.extend(surfaces.iter().map(|&surface| Self {
                        stand: Stand {
                            mass_kg: rider.mass_kg,
                            charge: charge.charge,
                            cell_degC: air.temperature_degC,
                            air_degC: air.temperature_degC,
                            surface,
                            grade: 0.0,
                        },
                        name: format!(
                            "{} rider, {} pack, {}, {}",
                            rider.name,
                            charge.name,
                            air.name,
                            surface.name().replace('_', " ")
                        ),
                    }));
                }
            }
        }
        all
    }

    /// The worst of every law on this stand, in the order of [`LawId::ALL`].
    ///
    /// # Errors
    /// [`FeelError`] where the stand cannot be.
    pub fn worst(
        &self,
        machine: &Machine,
        tried: &BoardFile,
    ) -> Result<[Worst; LawId::ALL.len()], FeelError> {
        let board = machine.on(&self.stand, &tried.throttle)?;
        Ok(measure::worst(&board, &tried.throttle))
    }
}

/// The worst of every law but more thumb, on a board that stands there already: for whoever tries many
/// settings on it.
#[must_use]
pub fn worst_of_trials(board: &Standing, settings: &Settings) -> [Worst; LawId::ALL.len()] {
    measure::of_trials(board, settings)
}

/// The verdict over the settings of `tried` on the machine.
///
/// # Errors
/// [`FeelError`] where a stand cannot be: a rider heavier than any plant.
pub fn verdict(machine: &Machine, tried: &BoardFile) -> Result<Verdict, FeelError> {
    verdict_over(machine, tried, &Conditioned::all(tried, &SURFACES))
}

/// The verdict over these stands alone.
///
/// # Errors
/// As [`verdict`].
pub fn verdict_over(
    machine: &Machine,
    tried: &BoardFile,
    cases: &[Conditioned],
) -> Result<Verdict, FeelError> {
    let found: Vec<_> =
        cases.par_iter().map(|case| case.worst(machine, tried)).collect::<Result<_, _>>()?;
    let laws: Vec<Law> = LawId::ALL
        .into_iter()
        .enumerate()
        .map(|(at, law)| {
            let of_law = cases.iter().zip(found.iter().filter_map(|worst| worst.get(at)));
            // The first of those that are equally bad, whatever the number of threads.
            let worst =
                of_law.reduce(|one, other| if other.1.found > one.1.found { other } else { one });
            told(law, tried, worst)
        })
        .collect();
    Ok(Verdict { passes: laws.iter().all(|law| law.holds), laws })
}

/// Whether something found is within a limit.
#[must_use]
pub fn holds(found: f64, limit: f64) -> bool {
    found <= limit * TOLERANCE
}

fn told(id: LawId, tried: &BoardFile, worst: Option<(&Conditioned, &Worst)>) -> Law {
    let limit = id.limit(tried);
    let worst = worst.filter(|(_, worst)| worst.found > 0.0);
    let (found, r#where) = worst.map_or((0.0, "nowhere".to_owned()), |(case, worst)| {
        (worst.found, format!("{}, at {:.1} m/s", case.name, worst.at_m_s))
    });
    let (name, law, unit) = id.words();
    let (shown, limit_shown) = (rounded(found), rounded(limit));
    Law {
        id: name,
        law,
        holds: holds(found, limit),
        found: shown,
        limit: limit_shown,
        unit,
        r#where,
    }
}
