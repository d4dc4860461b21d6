//! The laws of the whole throttle, over any thumb, any clock and any telemetry.

pub(super) use super::limits::tests::fine;
use super::limits::tests::{Scene, any_scene, usual_vehicle};
use super::*;
use crate::throttle::arming::NEUTRAL_FOR;
use proptest::prelude::*;
use std::vec::Vec;

pub(super) const CENTRE: u16 = 2000;

/// Settings that a receiver can be tested with as well.
pub(crate) fn settings() -> Settings {
    let calibration = Calibration::new(Counts {
        full_scale: 4095,
        low: 800,
        centre: CENTRE,
        high: 3300,
        deadband: 60,
        hysteresis: 20,
        broken_margin: 200,
        reversed: false,
    })
    .unwrap();
    let full = MetresPerSecondSquared::from_whole(4);
    let usual = Settings::standard(calibration, &usual_vehicle(), full).unwrap();
    Settings::new(Parts { reverse: true, ..*usual.parts() }).unwrap()
}

/// A ride in progress: settings, throttle and clock.
#[derive(Clone)]
pub(super) struct Ride {
    settings: Settings,
    throttle: Throttle,
    now: Instant,
}

impl Ride {
    pub(super) fn new() -> Self {
        let (settings, throttle) = (settings(), Throttle::new());
        Self { settings, throttle, now: Instant::from_millis(5000) }
    }

    /// Switched on and armed.
    pub(super) fn armed() -> Self {
        let mut ride = Self::new();
        for _ in 0..60 {
            ride.tick(10_000, CENTRE, &fine());
        }
        assert!(ride.throttle.arming.is_armed());
        ride
    }

    /// A frame, and the tick after it.
    pub(super) fn tick(&mut self, micros: u64, raw: u16, scene: &Scene) -> Demand {
        self.now = self.now + Duration::from_micros(micros);
        self.throttle.hear(&scene.frame, &self.settings);
        let hand = Hand { pace: scene.pace, ..raw.into() };
        self.throttle.tick(self.now, &hand, scene.age, &self.settings)
    }

    /// The same with a battery of the hand's own, in a fine scene.
    pub(super) fn tick_hand(&mut self, micros: u64, raw: u16, milli: i32) -> Demand {
        self.now = self.now + Duration::from_micros(micros);
        let scene = fine();
        self.throttle.hear(&scene.frame, &self.settings);
        let hand = Hand { battery: Some(Volts::from_milli(milli)), ..raw.into() };
        self.throttle.tick(self.now, &hand, scene.age, &self.settings)
    }

    pub(super) const fn throttle(&self) -> &Throttle {
        &self.throttle
    }

    /// What the thumb asks in this pace at this speed.
    fn wanted(&self, demand: &Demand) -> MetresPerSecondSquared {
        self.settings.parts().curves.acceleration(demand.asked, demand.paced)
    }

    /// Armed, then whatever the ticks do.
    fn after(ticks: &[Step]) -> Self {
        let mut ride = Self::armed();
        for (micros, raw, scene) in ticks {
            ride.tick(*micros, *raw, scene);
        }
        ride
    }
}

type Step = (u64, u16, Scene);

/// Mostly thumbs on their way, some broken wires.
fn any_raw() -> impl Strategy<Value = u16> {
    prop_oneof![6 => 600_u16..=3500, 2 => Just(CENTRE), 1 => any::<u16>()]
}

fn any_tick() -> impl Strategy<Value = Step> {
    (0_u64..=100_000, any_raw(), prop_oneof![Just(fine()), any_scene()])
}

/// Ticks about standstill: mostly a thumb that rests or brakes, and a board that hardly moves.
fn any_creeping(most: usize) -> impl Strategy<Value = Vec<Step>> {
    let raw = prop_oneof![6 => Just(CENTRE), 4 => 800_u16..=1900, 1 => any_raw()];
    let scene = (-20_000_i32..=20_000, 0_u64..1_100_000).prop_map(|(speed, age)| {
        let mut scene = fine();
        // A third of them within what counts as standing.
        scene.frame.speed = Some(MetresPerSecond::from_bits(speed));
        scene.age = Some(Duration::from_micros(age));
        scene
    });
    // The same thumb and board for a while, or nothing would ever stand for a second.
    let stretch = (1_usize..40, raw, scene);
    prop::collection::vec(stretch, 1..most.div_euclid(15)).prop_map(|stretches| {
        let ticks = |(count, raw, scene)| core::iter::repeat_n((50_000, raw, scene), count);
        stretches.into_iter().flat_map(ticks).collect()
    })
}

fn any_ticks(most: usize) -> impl Strategy<Value = Vec<Step>> {
    prop::collection::vec(any_tick(), 0..most)
}

proptest! {
    #[test]
    fn law_more_thumb_is_never_less_demand(
        ticks in any_ticks(60), last in any_tick(), a in 600_u16..=3500, b in 600_u16..=3500,
    ) {
        let ride = Ride::after(&ticks);
        let (micros, _, scene) = last;
        let share = |raw| ride.clone().tick(micros, raw, &scene).share;
        prop_assert!(share(a.min(b)) <= share(a.max(b)));
    }

    #[test]
    fn law_each_way_is_no_faster_than_its_rate(ticks in any_ticks(120)) {
        let mut ride = Ride::armed();
        let mut before = 0.0;
        let mut was_backward = false;
        for (micros, raw, scene) in ticks {
            let seconds = Duration::from_micros(micros).to_micros() as f64 / 1e6;
            let demand = ride.tick(micros, raw, &scene);
            let after = demand.acceleration.to_f64();
            // Two roundings of 2^-16, one before and one after. The brake's own 4 m/s³ or, where
            // a hard limit takes it, 3 m/s² in half a second.
            let slack = 2.0 / 65536.0;
            let (drive, brake) =
                (after.max(0.0) - f64::max(before, 0.0), f64::min(before, 0.0) - after.min(0.0));
            prop_assert!(drive <= 1.2 * seconds + slack);
            prop_assert!(-drive <= 1.6 / 0.3 * seconds + slack);
            // Backwards, the brake's half comes and goes as a drive does, and becomes a brake again
            // only through nothing.
            let (on, off) = if demand.backward { (1.2, 1.6 / 0.3) } else { (6.0, 6.0) };
            prop_assert!(brake <= on * seconds + slack);
            prop_assert!(-brake <= off * seconds + slack);
            prop_assert!(demand.backward == was_backward || f64::max(before, 0.0) <= 0.0 || after >= 0.0);
            prop_assert!(!was_backward || demand.backward || before >= -slack);
            (before, was_backward) = (after, demand.backward);
        }
    }

    #[test]
    fn law_zero_thumb_broken_thumb_and_brake_are_no_drive_within_their_time(
        ticks in any_ticks(60), end in prop_oneof![Just(CENTRE), Just(0), Just(u16::MAX), 600_u16..1900],
        rest in prop::collection::vec((1_u64..=100_000, any_scene()), 60),
    ) {
        let mut ride = Ride::after(&ticks);
        let mut spent = 0;
        for (micros, scene) in rest {
            let demand = ride.tick(micros, end, &scene);
            spent += micros;
            let drives = demand.share > Ratio::ZERO;
            prop_assert!(spent < 300_000 || !drives, "{spent} {demand:?}");
            let backward = demand.backward && demand.share < Ratio::ZERO && demand.neutral;
            prop_assert!(spent < 300_000 || !backward, "{spent} {demand:?}");
        }
    }

    #[test]
    fn law_drive_waits_for_its_pause_after_braking(ticks in any_ticks(200)) {
        let mut ride = Ride::armed();
        let mut braked: Option<Instant> = None;
        for (micros, raw, scene) in ticks {
            let before = ride.now;
            let demand = ride.tick(micros, raw, &scene);
            if demand.share < Ratio::ZERO {
                braked = Some(ride.now);
            } else if let Some(braked) = braked.filter(|_| demand.share > Ratio::ZERO) {
                // It may have ended anywhere in the tick after the last one that braked.
                let waited = ride.now.since(braked).unwrap();
                prop_assert!(waited.to_millis() >= 300, "{before:?} {waited:?}");
            }
        }
    }

    #[test]
    fn law_nothing_moves_before_arming(ticks in any_ticks(120)) {
        let mut ride = Ride::new();
        let mut neutral_since = None;
        let mut may = false;
        for (micros, raw, scene) in ticks {
            let demand = ride.tick(micros, raw, &scene);
            // Leaving neutral takes more than 80 counts.
            let neutral = raw.abs_diff(CENTRE) <= 80;
            neutral_since = if neutral { neutral_since.or(Some(ride.now)) } else { None };
            may |= neutral_since.and_then(|since| ride.now.since(since))
                .is_some_and(|time| time >= NEUTRAL_FOR);
            if !may {
                prop_assert_eq!(demand.share, Ratio::ZERO);
                prop_assert!(!demand.armed.is_armed());
            }
        }
    }

    #[test]
    fn law_a_brake_that_is_asked_for_is_weakened_only_for_a_reason(
        ticks in any_ticks(60), raw in 600_u16..1900, scene in any_scene(),
        steps in prop::collection::vec(1_u64..=100_000, 120),
    ) {
        let mut ride = Ride::after(&ticks);
        if !ride.throttle.arming.is_armed() {
            return Ok(());
        }
        let mut spent = 0;
        let mut before: Option<Demand> = None;
        for micros in steps {
            let demand = ride.tick(micros, raw, &scene);
            if demand.backward {
                return Ok(());
            }
            let asked = ride.wanted(&demand);
            spent += micros;
            // 0.3 s for drive to go, 0.5 s for 3 m/s² to come (or 0.75 s for more to go).
            if spent >= 1_050_000 && demand.reasons.is_empty() {
                prop_assert_eq!(demand.acceleration, asked);
            }
            // And on its way it never turns round, but for a reason.
            if let Some(before) = before.filter(|_| demand.reasons.is_empty()) {
                let not_more = before.acceleration.min(asked);
                prop_assert!(demand.acceleration <= before.acceleration.max(asked));
                prop_assert!(demand.acceleration >= not_more);
            }
            before = Some(demand);
        }
    }

    #[test]
    fn law_reasons_are_set_exactly_when_something_was_taken(
        raw in 600_u16..=3500, scene in any_scene(),
    ) {
        let mut ride = Ride::armed();
        let mut demand = ride.tick(0, raw, &scene);
        // Long enough for any limit to have settled.
        for _ in 0..100 {
            demand = ride.tick(100_000, raw, &scene);
        }
        let asked = ride.wanted(&demand);
        prop_assert!(!demand.backward);
        prop_assert_eq!(demand.reasons.is_empty(), demand.acceleration == asked);
        prop_assert!(demand.acceleration.magnitude() <= asked.magnitude());
    }

    #[test]
    fn law_nothing_drives_backwards_but_from_a_stand_through_neutral(ticks in any_creeping(200)) {
        let mut ride = Ride::armed();
        let mut stood_us = 0;
        let (mut may, mut was_backward) = (false, false);
        for (micros, raw, scene) in ticks {
            let demand = ride.tick(micros, raw, &scene);
            let stands = scene.age.is_some_and(|age| age.to_millis() <= 1000)
                && scene.frame.speed.is_some_and(|speed| speed.magnitude().to_f64() < 0.15);
            if !was_backward {
                may = stood_us >= 1_000_000 && stands;
            }
            was_backward = demand.backward;
            if !demand.backward {
                stood_us = if stands && demand.neutral { stood_us + micros } else { 0 };
            }
            prop_assert!(!demand.backward || may, "{demand:?}");
            prop_assert!(!(demand.backward && demand.share > Ratio::ZERO));
            let most = 1.6 * 0.3 + 1e-3;
            prop_assert!(!demand.backward || demand.acceleration.to_f64() >= -most);
        }
    }

    #[test]
    fn law_no_thumb_clock_or_telemetry_is_too_strange(
        ticks in prop::collection::vec((any::<u64>(), any::<u16>(), any_scene()), 1..60),
    ) {
        let (settings, mut throttle) = (settings(), Throttle::new());
        for (micros, raw, scene) in ticks {
            throttle.hear(&scene.frame, &settings);
            let now = Instant::from_micros(micros);
            let demand = throttle.tick(now, &raw.into(), scene.age, &settings);
            prop_assert!(demand.share.magnitude() <= Ratio::ONE);
            prop_assert!(demand.asked.magnitude() <= Ratio::ONE);
        }
    }

    #[test]
    fn law_the_same_ticks_make_the_same_demands(ticks in any_ticks(60)) {
        let (mut one, mut other) = (Ride::armed(), Ride::armed());
        for (micros, raw, scene) in ticks {
            let demand = one.tick(micros, raw, &scene).to_words();
            prop_assert_eq!(demand, other.tick(micros, raw, &scene).to_words());
        }
        prop_assert_eq!(one.throttle, other.throttle);
    }

    #[test]
    fn law_a_repeated_instant_moves_nothing(ticks in any_ticks(60), last in any_tick()) {
        let mut ride = Ride::after(&ticks);
        let (_, raw, scene) = last;
        let before = (ride.throttle.shaping, ride.throttle.hard.ceilings.drive.share);
        ride.tick(0, raw, &scene);
        prop_assert_eq!((ride.throttle.shaping, ride.throttle.hard.ceilings.drive.share), before);
    }
}
