//! The laws of the whole throttle, over any thumb, any clock and any telemetry.

use super::limits::tests::any_conditions;
use super::*;
use crate::throttle::arming::NEUTRAL_FOR;
use crate::time::Duration;
use crate::units::{Amperes, Celsius, MetresPerSecond, Volts};
use proptest::prelude::*;
use std::vec::Vec;

pub(super) const CENTRE: u16 = 2000;

fn settings() -> Settings {
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
    Settings::standard(calibration, 12, Amperes::from_whole(40), full).unwrap()
}

/// Fresh, warm, half full, riding: nothing is limited.
pub(super) fn fine() -> Conditions {
    Conditions {
        pack_voltage: Some(Volts::from_whole(44)),
        pack_current: Some(Amperes::from_whole(10)),
        cell_temperature: Some(Celsius::from_whole(25)),
        charge_high: Ratio::from_percent(60),
        speed: Some(MetresPerSecond::from_whole(3)),
        telemetry_age: Some(Duration::from_millis(50)),
    }
}

/// A ride in progress: settings, throttle and clock.
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

    pub(super) fn tick(&mut self, micros: u64, raw: u16, conditions: &Conditions) -> Demand {
        self.now = self.now + Duration::from_micros(micros);
        self.throttle.tick(self.now, raw, conditions, &self.settings)
    }

    /// Armed, then whatever the ticks do.
    fn after(ticks: &[Tick]) -> Self {
        let mut ride = Self::armed();
        for (micros, raw, conditions) in ticks {
            ride.tick(*micros, *raw, conditions);
        }
        ride
    }
}

type Tick = (u64, u16, Conditions);

/// Mostly thumbs on their way, some broken wires.
fn any_raw() -> impl Strategy<Value = u16> {
    prop_oneof![6 => 600_u16..=3500, 2 => Just(CENTRE), 1 => any::<u16>()]
}

fn any_tick() -> impl Strategy<Value = Tick> {
    let conditions = prop_oneof![Just(fine()), any_conditions()];
    (0_u64..=100_000, any_raw(), conditions)
}

fn any_ticks(most: usize) -> impl Strategy<Value = Vec<Tick>> {
    prop::collection::vec(any_tick(), 0..most)
}

proptest! {
    #[test]
    fn law_more_thumb_is_never_less_demand(
        ticks in any_ticks(60), last in any_tick(), a in 600_u16..=3500, b in 600_u16..=3500,
    ) {
        let ride = Ride::after(&ticks);
        let (micros, _, conditions) = last;
        let now = ride.now + Duration::from_micros(micros);
        let share = |raw| ride.throttle.clone().tick(now, raw, &conditions, &ride.settings).share;
        prop_assert!(share(a.min(b)) <= share(a.max(b)));
    }

    #[test]
    fn law_each_way_is_no_faster_than_its_rate(ticks in any_ticks(120)) {
        let mut ride = Ride::armed();
        let mut before = 0.0;
        for (micros, raw, conditions) in ticks {
            let seconds = Duration::from_micros(micros).to_micros() as f64 / 1e6;
            let after = ride.tick(micros, raw, &conditions).acceleration.to_f64();
            // Two roundings of 2^-16, one before and one after. The brake's own 4 m/s³ or, where
            // a hard limit takes it, 3 m/s² in half a second.
            let slack = 2.0 / 65536.0;
            let (drive, brake) =
                (after.max(0.0) - f64::max(before, 0.0), f64::min(before, 0.0) - after.min(0.0));
            prop_assert!(drive <= 1.2 * seconds + slack);
            prop_assert!(-drive <= 1.6 / 0.3 * seconds + slack);
            prop_assert!(brake <= 6.0 * seconds + slack);
            prop_assert!(-brake <= 6.0 * seconds + slack);
            before = after;
        }
    }

    #[test]
    fn law_zero_thumb_broken_thumb_and_brake_are_no_drive_within_their_time(
        ticks in any_ticks(60), end in prop_oneof![Just(CENTRE), Just(0), Just(u16::MAX), 600_u16..1900],
        rest in prop::collection::vec((1_u64..=100_000, any_conditions()), 60),
    ) {
        let mut ride = Ride::after(&ticks);
        let mut spent = 0;
        for (micros, conditions) in rest {
            let demand = ride.tick(micros, end, &conditions);
            spent += micros;
            prop_assert!(spent < 300_000 || demand.share <= Ratio::ZERO, "{spent} {demand:?}");
        }
    }

    #[test]
    fn law_drive_waits_for_its_pause_after_braking(ticks in any_ticks(200)) {
        let mut ride = Ride::armed();
        let mut braked: Option<Instant> = None;
        for (micros, raw, conditions) in ticks {
            let before = ride.now;
            let demand = ride.tick(micros, raw, &conditions);
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
        for (micros, raw, conditions) in ticks {
            let demand = ride.tick(micros, raw, &conditions);
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
        ticks in any_ticks(60), raw in 600_u16..1900, conditions in any_conditions(),
        steps in prop::collection::vec(1_u64..=100_000, 120),
    ) {
        let mut ride = Ride::after(&ticks);
        if !ride.throttle.arming.is_armed() {
            return Ok(());
        }
        let mut spent = 0;
        let mut before: Option<Demand> = None;
        for micros in steps {
            let demand = ride.tick(micros, raw, &conditions);
            let asked = ride.settings.parts().curves.acceleration(demand.asked);
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
        raw in 600_u16..=3500, conditions in any_conditions(),
    ) {
        let mut ride = Ride::armed();
        let mut demand = ride.tick(0, raw, &conditions);
        // Long enough for any limit to have settled.
        for _ in 0..100 {
            demand = ride.tick(100_000, raw, &conditions);
        }
        let asked = ride.settings.parts().curves.acceleration(demand.asked);
        prop_assert_eq!(demand.reasons.is_empty(), demand.acceleration == asked);
        prop_assert!(demand.acceleration.magnitude() <= asked.magnitude());
    }

    #[test]
    fn law_no_thumb_clock_or_telemetry_is_too_strange(
        ticks in prop::collection::vec((any::<u64>(), any::<u16>(), any_conditions()), 1..60),
    ) {
        let (settings, mut throttle) = (settings(), Throttle::new());
        for (micros, raw, conditions) in ticks {
            let demand = throttle.tick(Instant::from_micros(micros), raw, &conditions, &settings);
            prop_assert!(demand.share.magnitude() <= Ratio::ONE);
            prop_assert!(demand.asked.magnitude() <= Ratio::ONE);
        }
    }

    #[test]
    fn law_the_same_ticks_make_the_same_demands(ticks in any_ticks(60)) {
        let (mut one, mut other) = (Ride::armed(), Ride::armed());
        for (micros, raw, conditions) in ticks {
            let demand = one.tick(micros, raw, &conditions).to_words();
            prop_assert_eq!(demand, other.tick(micros, raw, &conditions).to_words());
        }
        prop_assert_eq!(one.throttle, other.throttle);
    }

    #[test]
    fn law_a_repeated_instant_moves_nothing(ticks in any_ticks(60), last in any_tick()) {
        let mut ride = Ride::after(&ticks);
        let (_, raw, conditions) = last;
        let before = (ride.throttle.shaping, ride.throttle.hard.ceilings.drive.share);
        ride.tick(0, raw, &conditions);
        prop_assert_eq!((ride.throttle.shaping, ride.throttle.hard.ceilings.drive.share), before);
    }
}
