//! The laws of a curve, through handles and blended.

use super::*;
use proptest::prelude::*;

fn handle(thumb: i32, milli: i32) -> Handle {
    Handle {
        thumb: Ratio::from_milli(thumb),
        acceleration: MetresPerSecondSquared::from_milli(milli),
    }
}

/// One to eight handles that make sense.
fn any_handles() -> impl Strategy<Value = std::vec::Vec<Handle>> {
    (1_usize..=8)
        .prop_flat_map(|count| {
            (prop::collection::vec(32_i32..400, count), prop::collection::vec(0_i32..900, count))
        })
        .prop_map(|(gaps, rises)| {
            let whole: i32 = gaps.iter().sum();
            let last = gaps.len() - 1;
            let (mut thumb, mut milli) = (0, 0);
            let mut handles = std::vec::Vec::new();
            for (number, (gap, rise)) in gaps.iter().zip(&rises).enumerate() {
                // Spread so that the last one lies at 1 and none is nearer than allowed.
                let spare = 1000 - 33 * (i32::try_from(last).unwrap() + 1);
                thumb += 33 + gap * spare / whole;
                milli = (milli + rise).min(10_000).max(if number == last { 100 } else { 0 });
                handles.push(handle(if number == last { 1000 } else { thumb }, milli));
            }
            handles
        })
}

fn any_curve() -> impl Strategy<Value = Curve> {
    prop_oneof![
        any_handles().prop_map(|handles| Curve::through(&handles).unwrap()),
        (0_i32..=1000, 100_i32..=10_000).prop_map(|(blend, greatest)| {
            let greatest = MetresPerSecondSquared::from_milli(greatest);
            Curve::blended(Ratio::from_milli(blend), greatest).unwrap()
        }),
    ]
}

proptest! {
    #[test]
    fn law_a_curve_never_falls(curve in any_curve(), a in 0_i32..=1 << 24, b in 0_i32..=1 << 24) {
        let at = |bits: i32| curve.acceleration(Ratio::from_bits(bits));
        prop_assert!(at(a.min(b)) <= at(a.max(b)));
    }

    #[test]
    fn law_a_curve_is_bounded_by_its_last_handle(handles in any_handles(), thumb: i32) {
        let curve = Curve::through(&handles).unwrap();
        let value = curve.acceleration(Ratio::from_bits(thumb));
        prop_assert!(value >= MetresPerSecondSquared::ZERO && value <= curve.greatest());
        prop_assert_eq!(curve.greatest(), handles.last().unwrap().acceleration);
        prop_assert_eq!(curve.acceleration(Ratio::ONE), curve.greatest());
    }

    #[test]
    fn law_a_curve_is_zero_at_zero(curve in any_curve()) {
        prop_assert_eq!(curve.acceleration(Ratio::ZERO), MetresPerSecondSquared::ZERO);
    }

    #[test]
    fn law_a_small_step_of_the_thumb_makes_a_small_step_of_the_curve(
        handles in any_handles(), at in 0_i32..(1 << 24) - 4096,
    ) {
        let curve = Curve::through(&handles).unwrap();
        let (mut steepest, mut before) = (0.0_f64, handle(0, 0));
        for handle in handles {
            let rise = (handle.acceleration - before.acceleration).to_f64();
            steepest = steepest.max(rise / (handle.thumb - before.thumb).to_f64());
            before = handle;
        }
        let value = |bits: i32| curve.acceleration(Ratio::from_bits(bits)).to_f64();
        let step = value(at + 4096) - value(at);
        // Three chords, and two roundings of 2^-16 at either end of either table step.
        prop_assert!(step <= 3.0 * steepest / 4096.0 + 4.0 / 65536.0);
    }

    #[test]
    fn law_a_curve_goes_through_handles_that_lie_on_table_steps(
        low in 2_i32..=30, middle in 32_i32..=62, a in 0..3000, b in 0..3000, c in 100..3000,
    ) {
        let at = |step, milli| Handle {
            thumb: Ratio::from_fraction(step, 64),
            acceleration: MetresPerSecondSquared::from_milli(milli),
        };
        let handles = [at(low, a), at(middle, a + b), at(64, a + b + c)];
        let curve = Curve::through(&handles).unwrap();
        for handle in handles {
            prop_assert_eq!(curve.acceleration(handle.thumb), handle.acceleration);
        }
    }
}

#[test]
fn handles_on_a_line_make_that_line() {
    let curve = Curve::through(&[handle(250, 500), handle(500, 1000), handle(1000, 2000)]).unwrap();
    for percent in 0..=100 {
        let thumb = Ratio::from_percent(percent);
        let off = curve.acceleration(thumb) - MetresPerSecondSquared::from_milli(percent * 20);
        // Four roundings of 2^-16.
        assert!(off.magnitude().to_bits() <= 4, "{percent} %: {off}");
    }
}

#[test]
fn a_flat_piece_stays_flat() {
    let curve =
        Curve::through(&[handle(250, 1000), handle(750, 1000), handle(1000, 2000)]).unwrap();
    for percent in 25..=75 {
        let value = curve.acceleration(Ratio::from_percent(percent));
        assert_eq!(value, MetresPerSecondSquared::from_whole(1));
    }
}

#[test]
fn source_the_usual_blend_is_the_least_squares_fit_of_perceived_effort() {
    // Stevens 1975, exponent 1.7 for muscle force (from memory). With r = x^1.7 - x and
    // g = x³ - x, the blend nearest to x^1.7 over 0..1 is e = ∫ r g / ∫ g².
    let fit = (1.0 / 5.7 - 1.0 / 3.7 - 1.0 / 5.0 + 1.0 / 3.0) / (1.0 / 7.0 - 2.0 / 5.0 + 1.0 / 3.0);
    // Half of the last digit that the constant states.
    assert!((USUAL_BLEND.to_f64() - fit).abs() < 0.0005, "{fit}");
    let curve = Curve::blended(USUAL_BLEND, MetresPerSecondSquared::from_whole(2)).unwrap();
    for percent in 0..=100 {
        let share = curve.acceleration(Ratio::from_percent(percent)).to_f64() / 2.0;
        let felt = (f64::from(percent) / 100.0).powf(1.7);
        // The fit's own greatest distance is 0.024, near a tenth of the way.
        assert!((share - felt).abs() < 0.04, "{percent} %: {share} {felt}");
    }
}

#[test]
fn handles_that_make_no_sense_are_refused_by_name() {
    let refused = |handles: &[Handle]| match Curve::through(handles) {
        Err(Error::OutOfRange { quantity, .. }) => Some(quantity),
        Ok(_) => None,
    };
    assert_eq!(refused(&[]), Some(Quantity::Handles));
    assert_eq!(refused(&[handle(1000, 100); 9]), Some(Quantity::Handles));
    assert_eq!(refused(&[handle(900, 1000)]), Some(Quantity::HandleThumb(0)));
    assert_eq!(refused(&[handle(31, 10), handle(1000, 900)]), Some(Quantity::HandleThumb(0)));
    let backwards = [handle(500, 10), handle(400, 20), handle(1000, 900)];
    assert_eq!(refused(&backwards), Some(Quantity::HandleThumb(1)));
    assert_eq!(refused(&[handle(970, 1), handle(1000, 2)]), Some(Quantity::HandleThumb(0)));
    assert_eq!(refused(&[handle(1000, 99)]), Some(Quantity::HandleAcceleration(0)));
    assert_eq!(refused(&[handle(1000, 10_001)]), Some(Quantity::HandleAcceleration(0)));
    let falling = [handle(500, 900), handle(1000, 800)];
    assert_eq!(refused(&falling), Some(Quantity::HandleAcceleration(1)));
    let negative = [handle(500, -1), handle(1000, 800)];
    assert_eq!(refused(&negative), Some(Quantity::HandleAcceleration(0)));
}

#[test]
fn a_blend_beyond_its_bounds_is_refused() {
    let two = MetresPerSecondSquared::from_whole(2);
    assert!(Curve::blended(Ratio::from_milli(1001), two).is_err());
    assert!(Curve::blended(Ratio::from_milli(-1), two).is_err());
    assert!(Curve::blended(USUAL_BLEND, MetresPerSecondSquared::from_milli(99)).is_err());
}
