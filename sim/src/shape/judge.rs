//! What a candidate is worth, and which laws it breaks: felt on stands that are set up once.

use homestretch::throttle::{Curve, Settings};
use homestretch::units::Ratio;
use rayon::prelude::*;

use super::ShapeError;
use crate::board_file::BoardFile;
use crate::feel::{
    Conditioned, FeelError, LawId, Machine, Stand, Standing, Stands, Trial, Verdict, Worst,
    allowed_m_s, ride, stop, verdict_over, worst_of_trials,
};
use crate::route::Surface;

/// Surfaces of every search.
const SURFACES: [Surface; 4] =
    [Surface::Asphalt, Surface::WetAsphalt, Surface::Paving, Surface::WetPaving];

/// Riders of the last look, from the lightest to the heaviest.
const RIDERS: u32 = 5;

/// Fineness is looked at where a rider doses finest: the first of a drive or a brake. About what a slope
/// of 3 % does; no source.
pub(super) const FIRST_M_S2: f64 = 0.3;

/// Whoever is slower does not arrive.
const LONGEST_S: f64 = 30.0;

/// Laws of what riders feel, whose share counts as gentleness.
const FELT: [LawId; 5] = [
    LawId::DriveAcceleration,
    LawId::DriveJerk,
    LawId::LetGoJerk,
    LawId::BrakeAcceleration,
    LawId::BrakeJerk,
];

/// A speed is kept that is no less than this share of what it was: steps of the library's tables.
const KEPT: f64 = 0.995;

/// What settings are worth. Less is better of all but the last, of which more is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Worth {
    /// From a slow roll to the speed that was chosen, by the usual rider, s.
    pub to_speed_s: f64,
    /// How much of what riders bear is used, 0 to 1: the mean over acceleration and jerk of drive and brake
    /// and the jerk of letting go.
    pub strain: f64,
    /// How far the heaviest rider goes on, with the full brake from the speed that the board allows now, on a
    /// half full, warm pack, m.
    pub stop_m: f64,
    /// The way of the thumb per m/s², for the first of drive or brake, whichever is less: 1 is the whole way.
    pub fineness_s2_m: f64,
}

/// A candidate and what was found.
#[derive(Clone, Debug, PartialEq)]
pub struct Judged {
    /// What it is worth.
    pub worth: Worth,
    /// The worst of each law and on which stand, in the order of [`LawId::ALL`].
    pub worst: Vec<(Worst, usize)>,
    /// By how much each law is broken, as a share of its limit; not above zero where it is kept. The last one
    /// is the speed that a weaker brake would cost.
    pub broken: Vec<f64>,
}

/// The stands of a search, set up.
#[derive(Clone, Debug)]
pub struct Judge {
    machine: Machine,
    stands: Vec<(String, Standing)>,
    finer: Vec<Conditioned>,
    usual: Standing,
    heaviest: Standing,
    allowed_m_s: f64,
    to_speed_m_s: f64,
}

impl Judge {
    /// The judge of a board, who measures how soon it is at `to_speed_m_s`.
    ///
    /// # Errors
    /// [`ShapeError::Speed`]; [`ShapeError::Feel`] where a stand cannot be.
    pub fn new(board: &BoardFile, to_speed_m_s: f64) -> Result<Self, ShapeError> {
        let (lowest, highest) = (1.0, 0.9 * top_m_s(board));
        if !(lowest..=highest).contains(&to_speed_m_s) {
            return Err(ShapeError::Speed { given: to_speed_m_s, lowest, highest });
        }
        let machine = Machine::new(board)?;
        let set_up = |case: Conditioned| -> Result<_, FeelError> {
            let standing = machine.on(&case.stand, &board.throttle)?;
            Ok((case.name, standing))
        };
        // Accelerations are felt most by the lightest, and stops take longest with the heaviest.
        let ends = Conditioned::all(board, &SURFACES)
            .into_iter()
            .filter(|case| !case.name.starts_with("usual"));
        let stands = ends.map(set_up).collect::<Result<_, _>>()?;
        let usual = Stand {
            mass_kg: board.board.vehicle().mass.to_f64(),
            charge: 0.5,
            cell_degC: 22.0,
            air_degC: 22.0,
            surface: Surface::Asphalt,
            grade: 0.0,
        };
        let heaviest = Stand { mass_kg: board.riders.heaviest_kg, ..usual };
        let heaviest = machine.on(&heaviest, &board.throttle)?;
        let usual = machine.on(&usual, &board.throttle)?;
        let allowed_m_s = allowed_m_s(&usual, &board.throttle);
        Ok(Self {
            stands,
            finer: finer(board),
            usual,
            heaviest,
            allowed_m_s,
            to_speed_m_s,
            machine,
        })
    }

    /// The speed that liveliness is measured to where nobody says: six tenths of the top speed.
    #[must_use]
    pub fn usual_speed_m_s(board: &BoardFile) -> f64 {
        ((top_m_s(board) * 0.6 * 2.0).round() / 2.0).clamp(1.0, 0.9 * top_m_s(board))
    }

    /// What the settings of `tried` are worth and break, over the stands of the search.
    #[must_use]
    pub fn judge(&self, tried: &BoardFile) -> Judged {
        let settings = &tried.throttle;
        let mut worst = vec![(Worst::default(), 0); LawId::ALL.len()];
        for (number, (_, standing)) in self.stands.iter().enumerate() {
            let found = worst_of_trials(standing, settings);
            for (kept, found) in worst.iter_mut().zip(found) {
                if found.found > kept.0.found {
                    *kept = (found, number);
                }
            }
        }
        let share = |law: &LawId| {
            let at = LawId::ALL.iter().position(|known| known == law);
            let found = at.and_then(|at| worst.get(at)).map_or(0.0, |worst| worst.0.found);
            found / law.limit(tried)
        };
        let mut broken: Vec<f64> = LawId::ALL.iter().map(|law| share(law) - 1.0).collect();
        broken.push(1.0 - allowed_m_s(&self.usual, settings) / (self.allowed_m_s * KEPT));
        let felt: f64 = FELT.iter().map(share).sum();
        let laws = f64::from(u32::try_from(FELT.len()).unwrap_or(1));
        let worth = Worth {
            to_speed_s: self.to_speed_s(settings),
            strain: felt / laws,
            stop_m: stop(&self.heaviest, settings, self.allowed_m_s).distance_m,
            fineness_s2_m: fineness_s2_m(settings),
        };
        Judged { worth, worst, broken }
    }

    /// The laws over a finer grid than that of the search: more riders, and a pack that is half full.
    ///
    /// # Errors
    /// [`ShapeError::Feel`] where a stand cannot be.
    pub fn look_again(&self, tried: &BoardFile) -> Result<Verdict, ShapeError> {
        Ok(verdict_over(&self.machine, tried, &self.finer)?)
    }

    /// The speed that the board allows now, m/s.
    #[must_use]
    pub const fn allowed_m_s(&self) -> f64 {
        self.allowed_m_s
    }

    /// How a stand of the search is called.
    #[must_use]
    pub fn stand_name(&self, number: usize) -> &str {
        self.stands.get(number).map_or("", |(name, _)| name)
    }

    /// How many stands a candidate is tried on, and how many on the finer grid.
    #[must_use]
    pub const fn stands(&self) -> (usize, usize) {
        (self.stands.len(), self.finer.len())
    }

    /// The speed that liveliness is measured to, m/s.
    #[must_use]
    pub const fn to_speed_m_s(&self) -> f64 {
        self.to_speed_m_s
    }

    fn to_speed_s(&self, settings: &Settings) -> f64 {
        /// A shuffle, from which a rider sets off.
        const FROM_M_S: f64 = 0.5;
        let mut trial = Trial::rolling(&self.usual, settings, FROM_M_S);
        let mut time_s = LONGEST_S;
        ride(
            &mut trial,
            LONGEST_S,
            |_| 1.0,
            |point| {
                let arrived = point.felt.speed_m_s >= self.to_speed_m_s;
                if arrived {
                    time_s = point.felt.time_s;
                }
                !arrived
            },
        );
        time_s
    }
}

fn top_m_s(board: &BoardFile) -> f64 {
    board.throttle.parts().limits.top_speed.end.to_f64()
}

/// The finer grid.
fn finer(board: &BoardFile) -> Vec<Conditioned> {
    let Stands { charges, airs, .. } = Stands::of(board);
    let (lightest_kg, heaviest_kg) = (board.riders.lightest_kg, board.riders.heaviest_kg);
    let mut all = Vec::new();
    for rider in 0..RIDERS {
        let share = f64::from(rider) / f64::from(RIDERS - 1);
        let mass_kg = lightest_kg + share * (heaviest_kg - lightest_kg);
        for charge in &charges {
            for air in &airs {
                all.extend(SURFACES.iter().map(|&surface| Conditioned {
                    stand: Stand {
                        mass_kg,
                        charge: charge.charge,
                        cell_degC: air.temperature_degC,
                        air_degC: air.temperature_degC,
                        surface,
                        grade: 0.0,
                    },
                    name: format!(
                        "{mass_kg:.0} kg, {} pack, {}, {}",
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

fn fineness_s2_m(settings: &Settings) -> f64 {
    let curves = &settings.parts().curves;
    first_thumb(&curves.drive).min(first_thumb(&curves.brake)) / FIRST_M_S2
}

/// The thumb that asks for the first of a curve; all of it where the curve never does.
fn first_thumb(curve: &Curve) -> f64 {
    const STEPS: u32 = 1024;
    let share = |step: u32| f64::from(step) / f64::from(STEPS);
    let asks = |step: u32| {
        Ratio::from_f64(share(step)).map_or(0.0, |thumb| curve.acceleration(thumb).to_f64())
    };
    let first = (0..=STEPS).find(|&step| asks(step) >= FIRST_M_S2);
    share(first.unwrap_or(STEPS))
}

/// Judges many at once, on all cores; in the order in which they are given.
pub(super) fn judge_all(
    judge: &Judge,
    tried: &[Option<BoardFile>],
    judged: impl Fn() + Sync,
) -> Vec<Option<Judged>> {
    let one = |tried: &Option<BoardFile>| {
        let found = tried.as_ref().map(|tried| judge.judge(tried));
        judged();
        found
    };
    tried.par_iter().map(one).collect()
}
