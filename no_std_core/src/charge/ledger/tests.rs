use super::*;
use proptest::prelude::*;

fn ratio(bits: i32) -> Ratio {
    Ratio::from_bits(bits)
}

fn unsure(percent: i32) -> Ledger {
    Ledger::default().blurred(Ratio::from_percent(percent)).aged(Ratio::from_percent(8))
}

fn noise(percent: i32) -> Evidence {
    Evidence {
        soc: Ratio::ZERO,
        voltage: Ratio::ZERO,
        relaxation: Ratio::ZERO,
        noise: Ratio::from_percent(percent),
    }
}

prop_compose! {
    fn any_evidence()(
        soc in 0..=MOST, voltage in 0..MOST / 4, relaxation in -MOST / 4..MOST / 4, noise in 0..MOST / 4,
    ) -> Evidence {
        Evidence { soc: ratio(soc), voltage: ratio(voltage), relaxation: ratio(relaxation), noise: ratio(noise) }
    }
}

prop_compose! {
    /// A ledger that some life led to: a start, then counting and corrections.
    fn any_ledger()(
        start in any_evidence(),
        life in proptest::collection::vec((-MOST / 2..MOST / 2, 0..MOST / 100, proptest::option::of(any_evidence())), 0..12),
    ) -> Ledger {
        life.into_iter().fold(Ledger::of(&start, Ratio::from_percent(8)), |ledger, (drawn, offset, evidence)| {
            let grown = ledger.grown(ratio(drawn), ratio(offset));
            evidence.map_or(grown, |evidence| corrected(grown, &evidence).1)
        })
    }
}

/// The best use of an evidence, and the ledger after it.
fn corrected(ledger: Ledger, evidence: &Evidence) -> (Weights, Ledger) {
    let weights = ledger.weights(evidence);
    (weights, ledger.corrected(evidence, weights).unwrap_or(ledger))
}

proptest! {
    #[test]
    fn law_a_correction_never_increases_the_variance(ledger in any_ledger(), evidence in any_evidence()) {
        let (Weights { charge: weight, .. }, after) = corrected(ledger, &evidence);
        prop_assert!(after.variance() <= ledger.variance());
        prop_assert!(weight >= Ratio::ZERO && weight <= Ratio::ONE);
    }

    #[test]
    fn law_variances_are_never_negative(ledger in any_ledger(), evidence in any_evidence()) {
        let after = corrected(ledger, &evidence).1;
        prop_assert!(after.charge_rest >= 0 && after.scale_rest >= 0 && after.variance() >= 0);
    }

    #[test]
    fn law_the_same_lying_voltmeter_never_adds_up_to_certainty(evidence in any_evidence(), stops in 1..50) {
        let mut ledger = unsure(25);
        for _ in 0..stops {
            ledger = corrected(ledger, &evidence).1;
        }
        let common = square(evidence.voltage.to_bits()) + square(evidence.relaxation.to_bits());
        let floor = common.min(square(MOST / 4) / 2);
        // Rounding: each of the stops may lose a few bits of some 2^22.
        prop_assert!(ledger.variance() >= floor / 2 - (1 << 30), "{} {}", ledger.variance(), floor);
    }

    #[test]
    fn law_counting_never_makes_a_fresh_estimate_surer(drawn in -MOST..MOST, offset in 0..MOST / 4) {
        let fresh = unsure(1);
        prop_assert!(fresh.grown(ratio(drawn), ratio(offset)).variance() >= fresh.variance());
    }

    #[test]
    fn law_counting_out_and_back_is_as_sure_as_before(drawn in 0..MOST / 2) {
        let fresh = unsure(2);
        let back = fresh.grown(ratio(drawn), Ratio::ZERO).grown(ratio(-drawn), Ratio::ZERO);
        // Four roundings of some 2^40.
        prop_assert!((back.variance() - fresh.variance()).abs() < 1 << 26);
    }
}

#[test]
fn two_equal_and_independent_voices_meet_halfway() {
    let (Weights { charge: weight, .. }, after) = corrected(unsure(4), &noise(4));
    assert_eq!(weight.to_milli(), 500);
    // 4 % over the square root of two.
    assert!((after.sigma().to_f64() - 0.028_28).abs() < 1e-4, "{}", after.sigma());
}

#[test]
fn source_two_anchors_far_apart_give_the_scale_that_the_textbook_gives() {
    // Source: the Kalman equations for two states with exact start and one measurement (any
    // textbook, e.g. Simon, Optimal State Estimation, 2006, ch. 5; from memory), in f64.
    let (drawn, scale_sd, noise_sd) = (0.6_f64, 0.08_f64, 0.01_f64);
    let predicted = drawn * drawn * scale_sd * scale_sd;
    let total = predicted + noise_sd * noise_sd;
    let (want_weight, want_scale) = (predicted / total, -drawn * scale_sd * scale_sd / total);
    let want_sigma = (scale_sd * scale_sd * (1.0 - predicted / total)).sqrt();

    let ledger = unsure(0).grown(Ratio::from_percent(60), Ratio::ZERO);
    let (Weights { charge: weight, scale: scale_weight }, after) = corrected(ledger, &noise(1));
    assert!((weight.to_f64() - want_weight).abs() < 1e-4, "{weight} {want_weight}");
    assert!((scale_weight.to_f64() - want_scale).abs() < 1e-3, "{scale_weight} {want_scale}");
    assert!(
        (after.scale_sigma().to_f64() - want_sigma).abs() < 1e-4,
        "{} {want_sigma}",
        after.scale_sigma()
    );
}

#[test]
fn a_voltmeter_that_lies_at_both_ends_alike_still_gives_the_scale() {
    let lying = Evidence { voltage: Ratio::from_percent(5), ..noise(1) };
    let ledger =
        Ledger::of(&lying, Ratio::from_percent(8)).grown(Ratio::from_percent(60), Ratio::ZERO);
    let after = corrected(ledger, &lying).1;
    assert!(after.scale_sigma() < Ratio::from_percent(3), "{}", after.scale_sigma());
    assert!(after.sigma() >= Ratio::from_percent(4), "{}", after.sigma());
}
