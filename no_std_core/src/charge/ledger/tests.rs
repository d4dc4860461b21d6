use super::*;
use proptest::prelude::*;

fn ratio(bits: i32) -> Ratio {
    Ratio::from_bits(bits)
}

fn unsure(percent: i32) -> Ledger {
    Ledger::default().blurred(Ratio::from_percent(percent))
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
        life in proptest::collection::vec((-MOST / 8..MOST / 8, 0..MOST / 100, proptest::option::of(any_evidence())), 0..12),
    ) -> Ledger {
        life.into_iter().fold(Ledger::of(&start), |ledger, (by_scale, by_offset, evidence)| {
            let grown = ledger.grown(ratio(by_offset), ratio(by_scale));
            evidence.map_or(grown, |evidence| corrected(grown, &evidence).1)
        })
    }
}

/// The best use of an evidence, and the ledger after it.
fn corrected(ledger: Ledger, evidence: &Evidence) -> (Ratio, Ledger) {
    let weight = ledger.weight(evidence);
    (weight, ledger.corrected(evidence, weight).unwrap_or(ledger))
}

proptest! {
    #[test]
    fn law_a_correction_never_increases_the_variance(ledger in any_ledger(), evidence in any_evidence()) {
        let (weight, after) = corrected(ledger, &evidence);
        prop_assert!(after.variance() <= ledger.variance());
        prop_assert!(weight >= Ratio::ZERO && weight <= Ratio::ONE);
    }

    #[test]
    fn law_variances_are_never_negative(ledger in any_ledger(), evidence in any_evidence()) {
        let after = corrected(ledger, &evidence).1;
        prop_assert!(after.rest >= 0 && after.variance() >= 0);
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
    fn law_counting_never_makes_a_fresh_estimate_surer(by_scale in -MOST..MOST, offset in 0..MOST / 4) {
        let fresh = unsure(1);
        prop_assert!(fresh.grown(ratio(offset), ratio(by_scale)).variance() >= fresh.variance());
    }

    #[test]
    fn law_counting_out_and_back_is_as_sure_as_before(ledger in any_ledger(), by_scale in 0..MOST / 8) {
        prop_assume!(ledger.causes.scale.abs() < MOST / 2);
        let back = ledger.grown(Ratio::ZERO, ratio(by_scale)).grown(Ratio::ZERO, ratio(-by_scale));
        prop_assert_eq!(back, ledger);
    }
}

#[test]
fn two_equal_and_independent_voices_meet_halfway() {
    let (weight, after) = corrected(unsure(4), &noise(4));
    assert_eq!(weight.to_milli(), 500);
    // 4 % over the square root of two.
    assert!((after.sigma().to_f64() - 0.028_28).abs() < 1e-4, "{}", after.sigma());
}

#[test]
fn source_an_evidence_is_worth_what_the_textbook_gives_it() {
    // Source: the Kalman equations for one state whose error has two parts, one of them shared with
    // the measurement (any textbook, e.g. Simon, Optimal State Estimation, 2006, ch. 5 and 7; from
    // memory), in f64.
    let (rest, shared, evidence, new) = (0.04_f64, 0.03_f64, 0.01_f64, 0.02_f64);
    let prior = rest * rest + shared * shared;
    let cross = shared * evidence;
    let total = prior - 2.0 * cross + evidence * evidence + new * new;
    let want_weight = (prior - cross) / total;
    let want = prior - (prior - cross).powi(2) / total;

    let of = |value: f64| Ratio::from_f64(value).unwrap();
    let mut ledger = unsure(4);
    ledger.causes.voltage = of(shared).to_bits();
    let (weight, after) = corrected(ledger, &Evidence { voltage: of(evidence), ..noise(2) });
    assert!((weight.to_f64() - want_weight).abs() < 1e-4, "{weight} {want_weight}");
    assert!((after.sigma().to_f64() - want.sqrt()).abs() < 1e-4, "{} {want}", after.sigma());
}
