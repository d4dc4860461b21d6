//! The laws of shaping over any wishes and times, and the change between drive and brake.

use super::*;
use proptest::prelude::*;

const GREATEST_DRIVE: MetresPerSecondSquared = MetresPerSecondSquared::from_whole(2);

fn rates() -> Rates {
    Rates::new(&RateSettings::standard(), GREATEST_DRIVE).unwrap().0
}

fn milli(thousandths: i32) -> MetresPerSecondSquared {
    MetresPerSecondSquared::from_milli(thousandths)
}

fn driving(thousandths: i32) -> Shaping {
    Shaping::Drive { fine: milli(thousandths).to_bits() << 8 }
}

fn braking(thousandths: i32) -> Shaping {
    Shaping::Brake { fine: milli(thousandths).to_bits() << 8 }
}

fn any_state() -> impl Strategy<Value = Shaping> {
    prop_oneof![
        (0_u32..=300_000).prop_map(|pause| Shaping::Neutral { pause }),
        (1_i32..=2 << 24).prop_map(|fine| Shaping::Drive { fine }),
        (1_i32..=3 << 24).prop_map(|fine| Shaping::Brake { fine }),
    ]
}

fn any_wish() -> impl Strategy<Value = MetresPerSecondSquared> {
    prop_oneof![
        Just(MetresPerSecondSquared::ZERO),
        (-3 << 16..=2 << 16).prop_map(MetresPerSecondSquared::from_bits),
    ]
}

fn jerk(milli: i32) -> MetresPerSecondCubed {
    MetresPerSecondCubed::from_milli(milli)
}

/// Drive positive, brake negative, in `2^-24` m/s².
fn fine(state: Shaping) -> i32 {
    match state {
        Shaping::Neutral { .. } => 0,
        Shaping::Drive { fine } => fine,
        Shaping::Brake { fine } => -fine,
    }
}

proptest! {
    #[test]
    fn law_shaping_is_monotone_in_the_wish(
        state in any_state(), a in any_wish(), b in any_wish(), micros in 0_u32..=100_000,
    ) {
        let to = |wish| fine(state.after(wish, micros, &rates()));
        prop_assert!(to(a.min(b)) <= to(a.max(b)));
    }

    #[test]
    fn law_each_way_is_no_faster_than_its_rate(
        state in any_state(), wish in any_wish(), micros in 0_u32..=100_000,
    ) {
        let rates = rates();
        let (before, after) = (fine(state), fine(state.after(wish, micros, &rates)));
        let (drive, brake) = (after.max(0) - before.max(0), before.min(0) - after.min(0));
        prop_assert!(drive <= rates.drive_on.over(micros));
        prop_assert!(-drive <= rates.drive_off.over_or_more(micros));
        prop_assert!(brake <= rates.brake_on.over(micros));
        prop_assert!(-brake <= rates.brake_off.over_or_more(micros));
    }

    #[test]
    fn law_shaping_never_passes_the_wish(
        state in any_state(), wish in any_wish(), micros in 0_u32..=100_000,
    ) {
        let (before, after) = (fine(state), fine(state.after(wish, micros, &rates())));
        let wish = wish.to_bits() << 8;
        prop_assert!(after >= before.min(wish) && after <= before.max(wish));
    }

    #[test]
    fn law_a_split_tick_changes_nothing_beyond_rounding(
        state in any_state(), wish in any_wish(), first in 0_u32..=50_000, second in 0_u32..=50_000,
    ) {
        let rates = rates();
        let whole = state.after(wish, first + second, &rates);
        let split = state.after(wish, first, &rates).after(wish, second, &rates);
        // A part of 2^-24 per step, and where drive and brake change places a microsecond, in
        // which the fastest rate (2 m/s² in 0.3 s) moves 112 parts.
        prop_assert!((fine(whole) - fine(split)).abs() <= 256, "{whole:?} {split:?}");
        if let (Shaping::Neutral { pause: a }, Shaping::Neutral { pause: b }) = (whole, split) {
            prop_assert!(a.abs_diff(b) <= 2);
        }
    }

    #[test]
    fn law_no_time_changes_nothing(state in any_state(), wish in any_wish()) {
        prop_assert_eq!(state.after(wish, 0, &rates()), state);
    }

    #[test]
    fn law_zero_wish_is_zero_drive_within_the_stated_time(
        state in any_state(), steps in prop::collection::vec(1_u32..=100_000, 1..400),
    ) {
        let (mut state, mut spent) = (state, 0_u64);
        for micros in steps {
            state = state.after(MetresPerSecondSquared::ZERO, micros, &rates());
            spent += u64::from(micros);
            if spent >= DRIVE_GONE_WITHIN.to_micros() {
                prop_assert!(fine(state) <= 0);
            }
        }
    }
}

#[test]
fn a_brake_takes_drive_off_first_and_begins_in_the_same_tick() {
    // 0.2 m/s² go in 30 ms at 2 m/s² in 0.3 s; the 20 ms left brake 0.12 m/s².
    let state = driving(200).after(milli(-3000), 50_000, &rates());
    let off = state.acceleration() - milli(-120);
    assert!(off.magnitude().to_bits() <= 4, "{state:?}");
    // While drive lasts nothing brakes.
    let state = driving(2000).after(milli(-3000), 50_000, &rates());
    assert!(matches!(state, Shaping::Drive { .. }), "{state:?}");
}

#[test]
fn drive_waits_for_its_pause_after_braking() {
    // 0.2 m/s² of braking go in 50 ms at 4 m/s³.
    let mut state = braking(200);
    let mut millis = 0;
    while !matches!(state, Shaping::Drive { .. }) {
        state = state.after(milli(2000), 1000, &rates());
        millis += 1;
    }
    // The first millisecond after 50 of braking and 300 of pause, and one of rounding.
    assert!((351..=352).contains(&millis), "{millis}");
    // Drive to drive through neutral waits for nothing.
    let released = driving(10).after(MetresPerSecondSquared::ZERO, 10_000, &rates());
    assert_eq!(released, Shaping::Neutral { pause: 0 });
}

#[test]
fn an_unbelieved_thumb_eases_the_brake_and_changes_nothing_else() {
    let (trusted, easing) = Rates::new(&RateSettings::standard(), GREATEST_DRIVE).unwrap();
    let eased = braking(1000).after(MetresPerSecondSquared::ZERO, 100_000, &easing);
    // 0.1 s at 1 m/s³, and a rounding.
    assert!((eased.acceleration() - milli(-900)).magnitude().to_bits() <= 2);
    assert_eq!(Rates { brake_off: trusted.brake_off, ..easing }, trusted);
}

#[test]
fn rates_that_make_no_sense_are_refused_by_name() {
    let refused = |change: fn(&mut RateSettings)| {
        let mut settings = RateSettings::standard();
        change(&mut settings);
        match Rates::new(&settings, GREATEST_DRIVE) {
            Err(Error::OutOfRange { quantity, .. }) => Some(quantity),
            Ok(_) => None,
        }
    };
    assert_eq!(refused(|_| {}), None);
    assert_eq!(refused(|s| s.drive_on = jerk(99)), Some(Quantity::DriveOn));
    assert_eq!(
        refused(|s| s.drive_off_within = Duration::from_micros(300_001)),
        Some(Quantity::DriveOffWithin)
    );
    assert_eq!(refused(|s| s.brake_on = jerk(50_001)), Some(Quantity::BrakeOn));
    assert_eq!(refused(|s| s.brake_off = jerk(499)), Some(Quantity::BrakeOff));
    assert_eq!(refused(|s| s.brake_ease = jerk(4001)), Some(Quantity::BrakeEase));
    assert_eq!(refused(|s| s.pause = Duration::from_secs(3)), Some(Quantity::Pause));
}
