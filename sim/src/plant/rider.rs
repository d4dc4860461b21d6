//! A person on the board: sees, thinks for a while, moves the thumb, and puts a foot down.
//!
//! Asked by `world` fifty times a second for the thumb; told what is to be seen of the way. Knows
//! nothing of the pack or of the library. Follows the wished speed like a person does: with the
//! delay of a reaction, a thumb that trembles, and in small corrections.
//! Source: a crossover model of a human controller in its simplest form (proportional and slow
//! integral action behind a pure delay; D. T. McRuer and E. S. Krendel, AGARDograph 188, 1974,
//! from memory); the figures are common practice, no source, unless a constant says otherwise.

use rand::Rng as _;
use rand_chacha::ChaCha8Rng;
use serde::Deserialize;
use thiserror::Error;

use crate::random::{Purpose, stream};

/// The rider looks and moves this often.
pub const TICK_S: f64 = 0.02;

/// A reaction to what is seen takes about a quarter of a second, and longer on the road
/// (M. Green, Transportation Human Factors 2 (2000) 195, from memory, finds no single value).
const USUAL_REACTION_S: f64 = 0.35;

/// The longest reaction that fits the memory of what was seen.
const LONGEST_REACTION_S: f64 = 1.26;
const SEEN: usize = 64;

/// How fast a rider wants to be at the wished speed: the error is to be gone in this time.
const SETTLE_S: f64 = 1.6;

/// What a rider expects of the whole thumb, learned by riding.
const THUMB_M_S2: f64 = 1.6;

/// Share of a standing error that a rider learns away each second.
const LEARN_PER_S: f64 = 0.12;

/// The thumb goes from one end to the other in half a second.
const THUMB_PER_S: f64 = 4.0;

/// Less than this the thumb lets go altogether.
const LETS_GO_UNDER: f64 = 0.04;

/// A foot on the ground brakes a walking board, at the most with this deceleration.
pub const FOOT_M_S2: f64 = 1.5;

/// A board that stands or rolls back is held by a foot on the ground, on any street.
const HOLDS_M_S2: f64 = 4.0;
const ROLLS_BACK_M_S: f64 = -0.02;

/// The foot comes down where stopping would take this much more than the rider's own braking.
const FOOT_BEYOND: f64 = 1.5;

/// Slower than this, where the board is to stand, the rider stands on the ground.
const STEPS_OFF_M_S: f64 = 0.4;

/// What makes one rider another one.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct RiderSettings {
    /// From seeing to moving, 0 to 1.26 s.
    pub reaction_s: f64,
    /// Braking that the rider plans with, 0.3 to 3 m/s².
    pub brakes_with_m_s2: f64,
    /// How much faster than the wished speed, 0.5 to 1.5: 1 keeps to it.
    pub haste: f64,
    /// Tremble of the thumb, 0 to 0.2 of its way.
    pub tremble: f64,
}

impl Default for RiderSettings {
    fn default() -> Self {
        Self { reaction_s: USUAL_REACTION_S, brakes_with_m_s2: 1.1, haste: 1.0, tremble: 0.01 }
    }
}

impl RiderSettings {
    /// Nothing, if there can be such a rider.
    ///
    /// # Errors
    /// [`RiderError`] for the first setting that no person has.
    pub fn check(&self) -> Result<(), RiderError> {
        for (key, given, lowest, highest) in [
            ("reaction_s", self.reaction_s, 0.0, LONGEST_REACTION_S),
            ("brakes_with_m_s2", self.brakes_with_m_s2, 0.3, 3.0),
            ("haste", self.haste, 0.5, 1.5),
            ("tremble", self.tremble, 0.0, 0.2),
        ] {
            if !(lowest..=highest).contains(&given) {
                return Err(RiderError { key, given, lowest, highest });
            }
        }
        Ok(())
    }
}

/// A setting that no person has.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
#[error("rider's `{key}` is {given}; allowed is {lowest} to {highest}")]
pub struct RiderError {
    /// Its name.
    pub key: &'static str,
    /// What it is.
    pub given: f64,
    /// The least that is allowed.
    pub lowest: f64,
    /// The most that is allowed.
    pub highest: f64,
}

/// What there is to be seen.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Sight {
    /// How fast the board goes, forward positive.
    pub speed_m_s: f64,
    /// How fast the rider wants to go here.
    pub wish_m_s: f64,
    /// How far it is to where the board is to stand; nothing where there is no such place in sight.
    pub stand_in_m: Option<f64>,
}

/// What the rider does.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Action {
    /// -1 (full brake) to 1 (full drive).
    pub thumb: f64,
    /// Against the way, by a foot on the ground, per kilogram of all that moves: m/s².
    pub foot_m_s2: f64,
    /// Whether the thumb only lets go because nothing came of it, to ask anew.
    pub lets_go: bool,
}

/// A rider on one ride.
#[derive(Clone, Debug)]
pub struct Rider {
    settings: RiderSettings,
    numbers: ChaCha8Rng,
    /// What was seen of late, a slot each tick.
    seen: [Sight; SEEN],
    next: usize,
    delay: usize,
    learned: f64,
    thumb: f64,
    patience: Patience,
}

/// A rider whose thumb is well down while the board gets slower, or creeps, lets go after some seconds
/// and asks anew: what anybody does with a thing that does not answer. One that keeps its speed answers.
/// Common practice, no source.
#[derive(Clone, Copy, Debug, Default)]
struct Patience {
    /// Ticks in which the thumb asked for more, and the speed when that began.
    in_vain: u32,
    began_at_m_s: f64,
    /// Ticks for which the thumb lets go and comes back.
    lets_go: u32,
}

impl Patience {
    /// Ticks until the rider lets go, for how long, and until the thumb is back where it was.
    const LASTS: u32 = 150;
    const LETS_GO: u32 = 40;
    const COMES_BACK: u32 = 30;

    /// Slower than this nobody takes a board for one that answers.
    const WALK_M_S: f64 = 1.4;

    /// Whether the thumb lets go.
    const fn lets_go(self) -> bool {
        self.lets_go > Self::COMES_BACK
    }

    /// After a tick more in which `thumb` asked for more speed by `missing_m_s`.
    fn after(self, thumb: f64, speed_m_s: f64, missing_m_s: f64) -> Self {
        if self.lets_go > 0 {
            return Self { lets_go: self.lets_go - 1, ..Self::default() };
        }
        let asks = thumb > 0.6 && missing_m_s > 0.7;
        let answered = speed_m_s > self.began_at_m_s + 0.15;
        let begins = Self { in_vain: u32::from(asks), began_at_m_s: speed_m_s, lets_go: 0 };
        if !asks || self.in_vain == 0 || answered {
            return begins;
        }
        if self.in_vain < Self::LASTS {
            return Self { in_vain: self.in_vain + 1, ..self };
        }
        if speed_m_s > Self::WALK_M_S && speed_m_s > self.began_at_m_s - 0.3 {
            return begins;
        }
        Self { lets_go: Self::LETS_GO + Self::COMES_BACK, ..Self::default() }
    }
}

impl Rider {
    /// A rider who stands on the board, thumb at rest.
    ///
    /// # Errors
    /// [`RiderError`] for the first setting that no person has.
    #[allow(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "checked to lie within 0 to 63 on the lines before"
    )]
    pub fn new(settings: RiderSettings, seed: u64) -> Result<Self, RiderError> {
        settings.check()?;
        Ok(Self {
            settings,
            numbers: stream(seed, Purpose::Rider),
            seen: [Sight::default(); SEEN],
            next: 0,
            delay: (settings.reaction_s / TICK_S).round() as usize,
            learned: 0.0,
            thumb: 0.0,
            patience: Patience::default(),
        })
    }

    /// What the rider does in the next tick, seeing this now.
    pub fn act(&mut self, now: Sight) -> Action {
        let sight = self.remember(now);
        let standing = sight.stand_in_m.is_some_and(|way_m| way_m < 1.0);
        if standing && now.speed_m_s.abs() < STEPS_OFF_M_S {
            self.learned = 0.0;
            self.thumb = toward(self.thumb, 0.0, THUMB_PER_S * TICK_S);
            self.patience = Patience::default();
            return Action { thumb: self.thumb, foot_m_s2: HOLDS_M_S2, lets_go: false };
        }
        let planned = self.settings.brakes_with_m_s2;
        let wish_m_s = sight.wish_m_s * self.settings.haste;
        let wish_m_s = match sight.stand_in_m {
            // Aims a little short of the line, and rolls up to it at a walk.
            Some(way_m) => wish_m_s.min((2.0 * planned * (way_m - 1.0).max(0.05)).sqrt()),
            None => wish_m_s,
        };
        let error_m_s = wish_m_s - sight.speed_m_s;
        let seeks = error_m_s / (SETTLE_S * THUMB_M_S2);
        let full = seeks + self.learned;
        // Learns only what the thumb can still follow.
        if full.abs() < 1.0 {
            self.learned = (self.learned + seeks * LEARN_PER_S * TICK_S).clamp(-0.5, 0.9);
        }
        let tremble = self.tremble();
        let aim = (full + tremble).clamp(-1.0, 1.0);
        let aim = if aim.abs() < LETS_GO_UNDER { 0.0 } else { aim };
        self.patience = self.patience.after(self.thumb, sight.speed_m_s, error_m_s);
        let lets_go = self.patience.lets_go > 0;
        let aim = if self.patience.lets_go() { aim.min(0.0) } else { aim };
        self.thumb = toward(self.thumb, aim, THUMB_PER_S * TICK_S);
        Action { thumb: self.thumb, foot_m_s2: self.foot(sight, now.speed_m_s), lets_go }
    }

    /// The sight that a reaction ago was the newest.
    fn remember(&mut self, now: Sight) -> Sight {
        let slots = self.seen.len();
        if let Some(slot) = self.seen.get_mut(self.next % slots) {
            *slot = now;
        }
        let at = (self.next + slots - self.delay) % slots;
        self.next = (self.next + 1) % slots;
        self.seen.get(at).copied().unwrap_or(now)
    }

    /// The foot helps where the thumb's brake would not do in time.
    fn foot(&self, sight: Sight, now_m_s: f64) -> f64 {
        if now_m_s < ROLLS_BACK_M_S {
            return HOLDS_M_S2;
        }
        let Some(way_m) = sight.stand_in_m else { return 0.0 };
        let needs_m_s2 = sight.speed_m_s * sight.speed_m_s / (2.0 * way_m.max(0.3));
        let beyond = needs_m_s2 - FOOT_BEYOND * self.settings.brakes_with_m_s2;
        if sight.speed_m_s > 0.0 { beyond.clamp(0.0, FOOT_M_S2) } else { 0.0 }
    }

    /// Of a triangle's shape: two halves of one number.
    fn tremble(&mut self) -> f64 {
        let bits = self.numbers.next_u64();
        let part = |bits: u64| f64::from(u32::try_from(bits & 0xffff_ffff).unwrap_or(0));
        let sum = (part(bits) + part(bits >> 32)) / 4_294_967_296.0;
        (sum - 1.0) * self.settings.tremble
    }
}

fn toward(from: f64, to: f64, most: f64) -> f64 {
    from + (to - from).clamp(-most, most)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// A board that does as the thumb says, half a second late.
    fn ride(settings: RiderSettings, seconds: u32, sight: impl Fn(f64, f64) -> Sight) -> Vec<f64> {
        let mut rider = Rider::new(settings, 1).unwrap();
        let (mut way_m, mut speed_m_s, mut pull) = (0.0, 0.0_f64, 0.0);
        let mut speeds = Vec::new();
        for _ in 0..seconds * 50 {
            let act = rider.act(sight(way_m, speed_m_s));
            pull += (act.thumb - pull) * TICK_S / 0.3;
            let slows = if speed_m_s > 0.0 { act.foot_m_s2 + 0.15 } else { 0.0 };
            speed_m_s = (speed_m_s + (THUMB_M_S2 * pull - slows) * TICK_S).max(0.0);
            way_m += speed_m_s * TICK_S;
            speeds.push(speed_m_s);
        }
        speeds
    }

    #[test]
    fn a_rider_reaches_the_wished_speed_and_keeps_it() {
        let speeds = ride(RiderSettings::default(), 120, |_, speed_m_s| Sight {
            speed_m_s,
            wish_m_s: 6.0,
            stand_in_m: None,
        });
        let worst = speeds.iter().fold(0.0_f64, |worst, &speed| worst.max(speed));
        assert!(worst < 7.0, "overshoots to {worst} m/s");
        // Drag of 0.15 m/s² is learned within some tens of seconds.
        for speed in speeds.iter().skip(80 * 50) {
            assert!((speed - 6.0).abs() < 0.25, "{speed} m/s");
        }
    }

    #[test]
    fn a_rider_stands_where_the_board_is_to_stand() {
        let line_m = 80.0;
        let speeds = ride(RiderSettings::default(), 60, |way_m, speed_m_s| Sight {
            speed_m_s,
            wish_m_s: 6.0,
            stand_in_m: Some((line_m - way_m).max(0.0)),
        });
        let way_m: f64 = speeds.iter().map(|speed| speed * TICK_S).sum();
        assert!((line_m - 4.0..line_m + 1.0).contains(&way_m), "{way_m} m");
        assert!(speeds.last().copied().unwrap_or(9.9) < 0.05);
    }

    #[test]
    fn a_thumb_moves_a_reaction_after_the_eye() {
        let mut rider = Rider::new(RiderSettings::default(), 1).unwrap();
        let go = Sight { speed_m_s: 0.0, wish_m_s: 5.0, stand_in_m: None };
        let first = (0..100).find(|_| rider.act(go).thumb > 0.02).unwrap();
        assert_eq!(first, 18, "0.36 s");
    }

    proptest! {
        #[test]
        fn law_a_thumb_stays_within_its_way(
            seed: u64, reaction_s in 0.0..1.26, speed_m_s in -5.0..20.0, wish_m_s in 0.0..15.0,
            stand_in_m in proptest::option::of(0.0..200.0),
        ) {
            let settings = RiderSettings { reaction_s, ..RiderSettings::default() };
            let mut rider = Rider::new(settings, seed).unwrap();
            for _ in 0..200 {
                let act = rider.act(Sight { speed_m_s, wish_m_s, stand_in_m });
                prop_assert!((-1.0..=1.0).contains(&act.thumb));
                prop_assert!((0.0..=HOLDS_M_S2).contains(&act.foot_m_s2));
            }
        }
    }

    #[test]
    fn a_setting_that_no_person_has_is_named() {
        let settings = RiderSettings { haste: 3.0, ..RiderSettings::default() };
        let message = Rider::new(settings, 1).unwrap_err().to_string();
        assert_eq!(message, "rider's `haste` is 3; allowed is 0.5 to 1.5");
    }
}
