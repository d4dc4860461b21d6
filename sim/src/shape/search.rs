//! The search itself: generations of candidates, each judged once, and the few that are shown.

use std::collections::BTreeMap;
use std::fmt;
use std::sync::{Arc, Mutex, PoisonError};

use moors::algorithms::Nsga2Builder;
use moors::duplicates::NoDuplicatesCleaner;
use moors::operators::{GaussianMutation, RandomSamplingFloat, SimulatedBinaryCrossover};
use ndarray::Array2;

use super::candidate::{NUMBERS, Space};
use super::front::{Member, OBJECTIVES, objectives, ordered, undominated};
use super::judge::{Judge, Judged, judge_all};
use super::tell::{Shaped, TradeOff};
use super::{Candidate, ShapeError};
use crate::feel::LawId;
use crate::tuning::Draft;

/// Candidates of a generation.
const POPULATION: usize = 40;

/// Generations after the first, of a search that goes its whole way.
pub const GENERATIONS: usize = 24;

/// So many candidates are judged at the most.
pub const CANDIDATES: u64 = 1000;

/// So many trade-offs are shown at the most.
const SHOWN: usize = 7;

/// A number moves by so much of its range where it mutates at all. Common practice, no source, like the two
/// rates and the index of the crossover.
const MUTATES_BY: f64 = 0.15;
const MUTATION_RATE: f64 = 0.5;
const GENE_RATE: f64 = 0.25;
const CROSSOVER_RATE: f64 = 0.9;
const CROSSOVER_INDEX: f64 = 10.0;

/// What does not even make a legal file breaks every law by ten times.
const ILLEGAL: f64 = 10.0;

/// What is asked of a search.
#[derive(Clone)]
pub struct Order {
    /// Chance: the same seed is the same search, whatever the number of threads.
    pub seed: u64,
    /// The speed that liveliness is measured to; the usual one without it.
    pub to_speed_m_s: Option<f64>,
    /// Generations after the first; [`GENERATIONS`] as a rule.
    pub generations: usize,
    /// Asked after each generation: whether to stop with what is there.
    pub stop: Arc<dyn Fn() -> bool + Send + Sync>,
}

impl fmt::Debug for Order {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Order").field("seed", &self.seed).finish_non_exhaustive()
    }
}

/// Everything that was judged, by the bits of its shares.
type Known = BTreeMap<Vec<u64>, Option<Judged>>;

/// The candidates of a search, and what is known of them.
struct Pool<'d> {
    draft: &'d Draft,
    space: Space,
    judge: &'d Judge,
    known: Mutex<Known>,
    judged: &'d (dyn Fn() + Sync),
    stop: &'d dyn Fn() -> bool,
}

impl Pool<'_> {
    /// What was found of each row, judging those that are new.
    fn found(&self, genes: &Array2<f64>) -> Vec<Option<Judged>> {
        let mut known = self.known.lock().unwrap_or_else(PoisonError::into_inner);
        let rows: Vec<Vec<f64>> = genes.outer_iter().map(|row| row.to_vec()).collect();
        let mut fresh: BTreeMap<Vec<u64>, &Vec<f64>> = BTreeMap::new();
        for row in &rows {
            if !known.contains_key(&key(row)) {
                fresh.insert(key(row), row);
            }
        }
        if !known.is_empty() && (self.stop)() {
            // What is new is not looked at any more: the rest of the generations takes no time.
            return rows.iter().map(|row| known.get(&key(row)).cloned().flatten()).collect();
        }
        let candidates = fresh.values().map(|row| self.space.candidate(row));
        let tried: Vec<_> = candidates
            .map(|candidate| candidate.applied(self.draft).ok().map(|draft| draft.file().clone()))
            .collect();
        let found = judge_all(self.judge, &tried, self.judged);
        known.extend(fresh.into_keys().zip(found));
        rows.iter().map(|row| known.get(&key(row)).cloned().flatten()).collect()
    }

    fn fitness(&self, genes: &Array2<f64>) -> Array2<f64> {
        let found = self.found(genes);
        Array2::from_shape_fn((genes.nrows(), OBJECTIVES), |(row, objective)| {
            let judged = found.get(row).and_then(Option::as_ref);
            let worth = judged.map(|judged| objectives(&judged.worth));
            worth.and_then(|worth| worth.get(objective).copied()).unwrap_or(f64::from(u16::MAX))
        })
    }

    fn constraints(&self, genes: &Array2<f64>) -> Array2<f64> {
        let found = self.found(genes);
        Array2::from_shape_fn((genes.nrows(), LawId::ALL.len() + 1), |(row, law)| {
            let judged = found.get(row).and_then(Option::as_ref);
            judged.and_then(|judged| judged.broken.get(law).copied()).unwrap_or(ILLEGAL)
        })
    }
}

fn key(row: &[f64]) -> Vec<u64> {
    row.iter().map(|share| share.to_bits()).collect()
}

/// Searches settings for the board of `draft`; `judged` is called for each candidate.
///
/// Laws: the same draft and seed give the same, whatever the number of threads, unless it is stopped; every
/// trade-off keeps all laws on the finer grid; none dominates another.
///
/// # Errors
/// [`ShapeError`]: the speed is none of the board's, or nothing keeps all laws.
pub fn search(
    draft: &Draft,
    order: &Order,
    judged: &(dyn Fn() + Sync),
) -> Result<Shaped, ShapeError> {
    let board = draft.file();
    let to_speed_m_s = order.to_speed_m_s.unwrap_or_else(|| Judge::usual_speed_m_s(board));
    let judge = Judge::new(board, to_speed_m_s)?;
    let space = Space::of(board);
    let pool =
        Pool { draft, space, judge: &judge, known: Mutex::default(), judged, stop: &*order.stop };
    let mut algorithm = Nsga2Builder::default()
        .sampler(RandomSamplingFloat::new(0.0, 1.0))
        .crossover(SimulatedBinaryCrossover::new(CROSSOVER_INDEX))
        .mutation(GaussianMutation::new(GENE_RATE, MUTATES_BY))
        // One that looks for duplicates talks on standard output; what is known is judged only once anyway.
        .duplicates_cleaner(NoDuplicatesCleaner)
        .fitness_fn(|genes: &Array2<f64>| pool.fitness(genes))
        .constraints_fn(|genes: &Array2<f64>| pool.constraints(genes))
        .num_vars(NUMBERS)
        .population_size(POPULATION)
        .num_offsprings(POPULATION)
        .num_iterations(order.generations)
        .mutation_rate(MUTATION_RATE)
        .crossover_rate(CROSSOVER_RATE)
        .seed(order.seed)
        .build()
        .map_err(|error| ShapeError::Search(error.to_string()))?;
    algorithm.run().map_err(|error| ShapeError::Search(error.to_string()))?;
    drop(algorithm);
    let known = pool.known.into_inner().unwrap_or_else(PoisonError::into_inner);
    chosen(draft, &judge, &members(&space, known))
}

/// All that were legal, with their numbers.
fn members(space: &Space, known: Known) -> Vec<Member> {
    let member = |(bits, judged): (Vec<u64>, Option<Judged>)| {
        let shares: Vec<f64> = bits.into_iter().map(f64::from_bits).collect();
        judged.map(|judged| Member { candidate: space.candidate(&shares), judged })
    };
    known.into_iter().filter_map(member).collect()
}

/// The few that are shown: undominated among those that keep all laws, and looked at again.
fn chosen(draft: &Draft, judge: &Judge, all: &[Member]) -> Result<Shaped, ShapeError> {
    let keeps = |member: &&Member| member.judged.broken.iter().all(|broken| *broken <= 0.0);
    let mut front = undominated(all.iter().filter(keeps).cloned().collect());
    let feasible = all.iter().filter(keeps).count();
    if front.is_empty() {
        return Err(nearest(draft, judge, all));
    }
    // What fails on the finer grid leaves the front, and the rest is ordered anew.
    let mut passed: BTreeMap<usize, TradeOff> = BTreeMap::new();
    let mut last_broken = None;
    loop {
        let order: Vec<_> = ordered(&front).into_iter().take(SHOWN).collect();
        let open = order.iter().find(|(_, at)| !passed.contains_key(at)).copied();
        let Some((_, at)) = open else {
            let mut shown = Vec::new();
            for (name, at) in order {
                shown.extend(passed.remove(&at).map(|one| TradeOff { name, ..one }));
            }
            return match shown.is_empty() {
                true => Err(last_broken.unwrap_or(ShapeError::Stopped)),
                false => Shaped::new(draft, judge, shown, (all.len(), feasible)),
            };
        };
        let Some(member) = front.get(at) else { return Err(ShapeError::Stopped) };
        let looked = looked_at(draft, judge, member)?;
        match looked {
            Ok(trade_off) => {
                passed.insert(at, trade_off);
            }
            Err(broken) => {
                last_broken = Some(broken);
                front.remove(at);
                let moved = passed
                    .into_iter()
                    .map(|(known, one)| (if known > at { known - 1 } else { known }, one));
                passed = moved.collect();
            }
        }
    }
}

/// A member on the finer grid: what is shown of it, or the law that it breaks there.
fn looked_at(
    draft: &Draft,
    judge: &Judge,
    member: &Member,
) -> Result<Result<TradeOff, ShapeError>, ShapeError> {
    let Member { candidate, judged } = member;
    let Ok(changed) = candidate.applied(draft) else {
        return Ok(Err(ShapeError::Search("settings that were legal are not any more".to_owned())));
    };
    let verdict = judge.look_again(changed.file())?;
    if let Some(law) = verdict.laws.iter().find(|law| !law.holds) {
        return Ok(Err(ShapeError::Infeasible {
            law: law.law.to_owned(),
            found: law.found,
            limit: law.limit,
            unit: law.unit,
            place: law.r#where.clone(),
        }));
    }
    let worth = judged.worth;
    Ok(Ok(TradeOff { name: "", candidate: *candidate, worth, draft: changed, verdict }))
}

/// What the nearest of those that keep not all laws breaks.
fn nearest(draft: &Draft, judge: &Judge, all: &[Member]) -> ShapeError {
    let worst = |member: &Member| member.judged.broken.iter().copied().fold(f64::MIN, f64::max);
    let Some(member) = all.iter().min_by(|one, other| worst(one).total_cmp(&worst(other))) else {
        return ShapeError::Stopped;
    };
    let to_thousandth = |value: f64| (value * 1e3).round() / 1e3;
    let laws = LawId::ALL.iter().zip(&member.judged.broken).zip(&member.judged.worst);
    let broken = laws.max_by(|one, other| one.0.1.total_cmp(other.0.1));
    let Some(((law, _), (found, stand))) = broken.filter(|((_, share), _)| **share > 0.0) else {
        return ShapeError::Slower { allowed_m_s: to_thousandth(judge.allowed_m_s()) };
    };
    let (_, words, unit) = law.words();
    let place = format!("{}, at {:.1} m/s", judge.stand_name(*stand), found.at_m_s);
    let limit = member.candidate.applied(draft).map_or(0.0, |draft| law.limit(draft.file()));
    ShapeError::Infeasible {
        law: words.to_owned(),
        found: to_thousandth(found.found),
        limit: to_thousandth(limit),
        unit,
        place,
    }
}

/// The board's own settings are a candidate of nobody; what they are worth is told beside the others.
pub(super) fn as_it_is(draft: &Draft, judge: &Judge) -> Judged {
    judge.judge(draft.file())
}

impl Candidate {
    /// Its numbers by their keys, as the report tells them.
    #[must_use]
    pub fn numbers(&self) -> [(&'static str, f64); NUMBERS] {
        [
            ("full_drive_m_s2", self.full_drive_m_s2),
            ("half_drive_share", self.half_drive_share),
            ("drive_on_m_s3", self.drive_on_m_s3),
            ("drive_off_s", self.drive_off_s),
            ("taper_to", self.taper_to),
            ("full_brake_m_s2", self.full_brake_m_s2),
            ("half_brake_share", self.half_brake_share),
            ("brake_on_m_s3", self.brake_on_m_s3),
        ]
    }
}
