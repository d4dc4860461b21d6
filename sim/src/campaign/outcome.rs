//! One drawn ride, lived from switching on to its end, and on to where no drive is left.
//!
//! Used by `campaign`. A world can be cloned and is the same for the same seed, so that riding on
//! from the end of a ride gives, at once, the way that was left at each of its kilometres.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use super::before;
use super::draw;
use super::homeward::{self, HomeOutcome};
use super::score::{ChargeScore, Claim, RangeScore};
use super::town::{town, town_away};
use super::{CampaignError, Plan};
use crate::board_file::BoardFile;
use crate::faults;
use crate::scenario::Scenario;
use homestretch::handheld::Output;

use crate::world::{Ending, Moment, Pattern, TICKS_PER_S, Violations, World};

/// No ride lasts longer, and no riding on either: a board that neither arrives nor empties is stuck.
const LONGEST_S: f64 = 6.0 * 3600.0;

/// What the handheld says of the way left is noted this often.
const CLAIM_EVERY_KM: f64 = 1.0;

/// What came of one ride.
#[derive(Clone, Debug)]
pub struct Outcome {
    /// Its number in the campaign, from 0.
    pub index: u64,
    /// Its own seed.
    pub seed: u64,
    /// What it was like.
    pub day: Scenario,
    /// What was ridden.
    pub pattern: String,
    /// How it ended; nothing where it was still under way after six hours.
    pub ending: Option<Ending>,
    /// How far it went.
    pub distance_m: f64,
    /// How long it took.
    pub duration_s: f64,
    /// Of all the riding, that beyond its end as well.
    pub simulated_s: f64,
    /// True charge at its beginning and at its end.
    pub true_soc: (f64, f64),
    /// Telemetry frames due, and lost.
    pub frames: (u64, u64),
    /// Its charge.
    pub charge: ChargeScore,
    /// Where no drive was left, measured from the start, and what the handheld had said of it;
    /// nothing where that was not measured.
    pub range: Option<(f64, RangeScore)>,
    /// What the handheld said on the way, where the range was measured.
    pub claims: Vec<Claim>,
    /// Energy at the terminals to where no drive was left, J.
    pub energy_to_empty_J: f64,
    /// Where a plain stop at the lowest voltage would have ended the ride, metres from the start.
    pub plain_stop_m: Option<f64>,
    /// What should not have happened.
    pub violations: Violations,
    /// Mass over that of the board file.
    pub load_share: f64,
    /// Metres climbed on each kilometre.
    pub climb_m_per_km: f64,
    /// What came of turning when told, on a ride for that.
    pub home: Option<HomeOutcome>,
    /// What broke, by name.
    pub faults: Vec<&'static str>,
    /// How often a demand for drive had to wait for a neutral thumb after a silence.
    pub lockouts: u32,
}

impl Outcome {
    /// Each promise of range: the way that was left indeed, and the way that was promised nine
    /// times in ten.
    pub fn promises(&self) -> impl Iterator<Item = (f64, f64)> {
        let empty_at_m = self.range.map_or(0.0, |(empty_at_m, _)| empty_at_m);
        self.claims.iter().map(move |claim| ((empty_at_m - claim.at_m).max(0.0), claim.low_m))
    }
}

/// The seed of a ride: its number spread over all 64 bits, so that the seeds of two campaigns do
/// not overlap (the finaliser of `SplitMix64`; G. L. Steele et al., OOPSLA 2014, from memory).
pub(super) const fn seed_of(campaign: u64, index: u64) -> u64 {
    let mut bits = campaign
        .wrapping_mul(0xd134_2543_de82_ef95)
        .wrapping_add(index.wrapping_add(1).wrapping_mul(0x9e37_79b9_7f4a_7c15));
    bits = (bits ^ (bits >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    bits = (bits ^ (bits >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    bits ^ (bits >> 31)
}

/// Lives ride `index` of a campaign; nothing where it was told to stop.
pub(super) fn live(
    board: &BoardFile,
    plan: &Plan,
    index: u64,
    stop: &AtomicBool,
) -> Result<Option<Outcome>, CampaignError> {
    let seed = seed_of(plan.seed, index);
    let day = draw::day(seed, board);
    let top_speed_m_s = board.throttle.parts().limits.top_speed.end.to_f64();
    let pattern = |seed, turns: bool| match &plan.pattern {
        Some(pattern) => Ok(pattern.clone()),
        None if turns => town_away(seed, top_speed_m_s).map(|town| Pattern::Route(Arc::new(town))),
        None => town(seed, top_speed_m_s).map(|town| Pattern::Route(Arc::new(town))),
    };
    let first = |seed| pattern(seed, false);
    let Some(life) = before::lives((board, plan), (&day, seed), &first, stop)? else {
        return Ok(None);
    };
    let pattern = pattern(seed, plan.turns(index))?;
    let told_kg = board.board.vehicle().mass.to_f64();
    let load_share = day.vehicle.mass_kg.map_or(1.0, |mass_kg| mass_kg / told_kg);
    let name = pattern.name().to_owned();
    let mut setup = day.setup(board, pattern, 1)?;
    setup.seal = plan.seal;
    if plan.breaks(index) {
        setup.faults = faults::draw(seed);
    }
    let faults = setup.faults.faults.iter().map(|fault| fault.kind.name()).collect();
    let mut world = World::new(board, &setup, life.as_ref(), seed)?;
    let height_m = world.here().elevation_m;
    let mut ride = Ride { before: world.true_soc(), height_m, ..Ride::default() };
    let mut home_outcome = None;
    if plan.turns(index) {
        let reserve_from = board.throttle.parts().limits.reserve.begin.to_f64();
        home_outcome = homeward::ride(&mut world, &mut ride, reserve_from, stop);
        if home_outcome.is_none() {
            return Ok(None);
        }
    } else if !ride.run(&mut world, stop) {
        return Ok(None);
    }
    let mut outcome = Outcome {
        index,
        seed,
        day,
        pattern: name,
        ending: world.ending(),
        distance_m: world.vehicle().distance_m(),
        duration_s: world.now_s(),
        simulated_s: world.now_s(),
        true_soc: (ride.before, world.true_soc()),
        frames: ride.frames,
        charge: ride.charge,
        range: None,
        claims: Vec::new(),
        energy_to_empty_J: 0.0,
        plain_stop_m: world.plain_stop_m(),
        violations: *world.violations(),
        load_share,
        climb_m_per_km: ride.climbed_m / (world.vehicle().distance_m() / 1000.0).max(0.1),
        home: home_outcome,
        faults,
        lockouts: world.lockouts(),
    };
    if plan.measures_range(index) {
        world.ride_on();
        if !ride.run(&mut world, stop) {
            return Ok(None);
        }
        if world.ending() == Some(Ending::NoDriveLeft) {
            let empty_at_m = world.vehicle().distance_m();
            outcome.range = Some((empty_at_m, RangeScore::of(&ride.claims, empty_at_m)));
            outcome.claims = ride.claims;
            outcome.energy_to_empty_J = world.energy_drawn_J();
        }
        outcome.plain_stop_m = world.plain_stop_m();
        outcome.simulated_s = world.now_s();
    }
    Ok(Some(outcome))
}

/// What is gathered while riding.
#[derive(Debug, Default)]
pub(super) struct Ride {
    before: f64,
    frames: (u64, u64),
    charge: ChargeScore,
    claims: Vec<Claim>,
    next_km: f64,
    climbed_m: f64,
    height_m: f64,
}

impl Ride {
    /// Rides to the end; whether it was let to.
    pub(super) fn run(&mut self, world: &mut World<'_>, stop: &AtomicBool) -> bool {
        self.run_with(world, stop, |_, _| {})
    }

    /// The same with a rider who does something of their own after each tick.
    pub(super) fn run_with(
        &mut self,
        world: &mut World<'_>,
        stop: &AtomicBool,
        mut then: impl FnMut(&mut World<'_>, &Output),
    ) -> bool {
        let mut ticks = 0_u32;
        while world.ending().is_none() && world.now_s() < LONGEST_S {
            let moment = world.tick();
            self.note(&moment, world);
            then(world, &moment.output);
            ticks = ticks.wrapping_add(1);
            if ticks.is_multiple_of(TICKS_PER_S * 60) && stop.load(Ordering::Relaxed) {
                return false;
            }
        }
        true
    }

    fn note(&mut self, moment: &Moment, world: &World<'_>) {
        if let Some(row) = &moment.row {
            self.frames.0 += 1;
            self.frames.1 += u64::from(!row.measured.link_ok);
            if let Some(true_soc) = row.true_soc {
                self.charge.add(&moment.output, true_soc);
            }
        }
        let height_m = world.here().elevation_m;
        self.climbed_m += (height_m - self.height_m).max(0.0);
        self.height_m = height_m;
        let at_m = world.vehicle().distance_m();
        if at_m >= self.next_km * 1000.0 && moment.output.status.heard {
            let status = &moment.output.status;
            self.claims.push(Claim {
                at_m,
                at_s: moment.time_s,
                likely_m: status.range.likely.to_f64(),
                low_m: status.range.nine_in_ten.to_f64(),
                energy_J: status.usable.energy().to_f64(),
                per_metre_J: world.per_metre_J(),
                soc: status.charge.soc.to_f64(),
                drawn_J: world.energy_drawn_J(),
                true_soc: world.true_soc(),
                elevation_m: world.here().elevation_m,
            });
            self.next_km += CLAIM_EVERY_KM;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_two_rides_of_two_campaigns_share_a_seed() {
        let mut seeds: Vec<u64> =
            (0..20).flat_map(|seed| (0..500).map(move |index| seed_of(seed, index))).collect();
        seeds.sort_unstable();
        seeds.dedup();
        assert_eq!(seeds.len(), 10_000);
    }
}
