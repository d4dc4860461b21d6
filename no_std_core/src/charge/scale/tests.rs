use super::*;
use proptest::prelude::*;

fn ratio(value: f64) -> Ratio {
    Ratio::from_f64(value).unwrap()
}

/// A voltage that says `soc`, to within a `noise`.
fn said(soc: f64, noise: f64) -> Evidence {
    Evidence { soc: ratio(soc), voltage: Ratio::ZERO, relaxation: Ratio::ZERO, noise: ratio(noise) }
}

/// After a ride from `from` to `to` on a pack whose scale is `truth`, every ride on its own.
fn ridden(mut scale: Scale, from: &Evidence, to: &Evidence, truth: f64) -> Scale {
    scale.begin(from);
    let read = (from.soc - to.soc).to_f64();
    scale.count(ratio(read / (1.0 + truth)), Ratio::ZERO);
    scale.reach(to);
    scale.solve();
    scale
}

/// Evenly between -1 and 1, always the same ones: a linear congruential generator (Knuth, The Art of
/// Computer Programming, vol. 2; from memory).
fn draws() -> impl FnMut() -> f64 {
    let mut state = 1_u64;
    move || {
        state =
            state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        f64::from(u32::try_from(state >> 32).unwrap()) / f64::from(1_u32 << 31) - 1.0
    }
}

#[test]
fn what_is_believed_beforehand_has_the_weight_of_its_doubt() {
    assert_eq!(BELIEVED, i64::from(weight(squared(PERHAPS_WORN))) << (2 * (BITS - COARSER_BITS)));
    assert!((Scale::default().sums.doubt() - PERHAPS_WORN).magnitude() < ratio(0.0001));
}

#[test]
fn source_total_least_squares_are_not_biased_where_least_squares_are() {
    // Source: Plett, J. Power Sources 196 (2011) 2319-2331: least squares with all of the doubt in the
    // ampere-hours find too small a capacity, total least squares don't. With the charge read to
    // 5 % and spans of up to 60 % the project's published figures give -3.96 and +0.03 %.
    let mut draw = draws();
    let (truth, noise) = (0.20, 0.05);
    let (mut sums, mut xx, mut xy) = (Sums::default(), 0.0, 0.0);
    for _ in 0..20_000 {
        let counted = 0.6 * draw();
        // Three even draws make a bell, near enough, of unit variance.
        let read = (1.0 + truth) * counted + noise * (draw() + draw() + draw());
        sums = sums.with(Sums::of(ratio(counted), ratio(read), 1 << 8));
        xx += read * read;
        xy += read * counted;
    }
    let found = sums.scale().to_f64();
    assert!((found - truth).abs() < 0.004, "{found}");
    // What capacity over the board's least squares would find, over what it is.
    let least_squares = xy / xx * (1.0 + truth);
    assert!(least_squares < 0.985, "{least_squares}");
}

#[test]
fn one_long_span_between_two_sure_ends_finds_half_of_the_wear_and_three_nearly_all() {
    let (full, low) = (said(0.98, 0.03), said(0.30, 0.03));
    let mut scale = ridden(Scale::default(), &full, &low, 0.25);
    assert!(scale.value() > ratio(0.125), "{}", scale.value());
    for _ in 0..2 {
        scale = ridden(scale, &full, &low, 0.25);
    }
    assert!((0.20..0.25).contains(&scale.value().to_f64()), "{}", scale.value());
    assert!(scale.sigma() >= scale.value());
}

#[test]
fn an_open_end_and_a_short_span_teach_nothing() {
    let new = Scale::default();
    for (to, truth) in [(said(0.3, 0.12), 0.25), (said(0.92, 0.001), 0.25)] {
        let taught = ridden(new, &said(0.98, 0.01), &to, truth);
        assert_eq!((taught.value(), taught.doubt), (new.value(), new.doubt));
    }
}

#[test]
fn a_charger_in_between_teaches_nothing() {
    let mut scale = Scale::default();
    scale.begin(&said(0.80, 0.01));
    scale.count(ratio(0.5), Ratio::ZERO);
    scale.begin(&said(0.95, 0.01));
    scale.solve();
    assert_eq!(scale.value(), Ratio::ZERO);
    // And what was counted before it is no part of the next span.
    scale.count(ratio(0.4), Ratio::ZERO);
    scale.reach(&said(0.55, 0.01));
    scale.solve();
    assert!(scale.value().magnitude() < ratio(0.001), "{}", scale.value());
}

#[test]
fn a_span_goes_on_over_a_time_off_and_ends_where_the_charge_turns() {
    let mut scale = Scale::default();
    scale.begin(&said(0.95, 0.02));
    for to in [0.65, 0.35] {
        scale.count(ratio(0.25), Ratio::ZERO);
        scale.reach(&said(to, 0.02));
    }
    let to = scale.to.unwrap();
    assert_eq!((to.said.soc, to.way.drawn.to_milli()), (ratio(0.35), 500));
    // Charged by what the counter sees: the span down is done, and one up has begun.
    scale.count(ratio(-0.375), Ratio::ZERO);
    let before = scale.sums;
    scale.reach(&said(0.80, 0.02));
    assert!(scale.sums.counted > before.counted);
    assert_eq!(scale.from.unwrap().soc, ratio(0.35));
    assert_eq!(scale.to.unwrap().way.drawn.to_milli(), -375);
    scale.solve();
    assert!(scale.value() > ratio(0.15), "{}", scale.value());
}

#[test]
fn a_span_that_nothing_explains_is_not_believed() {
    let lost = ridden(Scale::default(), &said(0.95, 0.01), &said(0.10, 0.01), 3.0);
    assert_eq!(lost.value(), Ratio::ZERO);
}

proptest! {
    #[test]
    fn law_spans_without_doubt_find_any_scale(truth in -0.15_f64..0.4, from in 0.7_f64..1.0, span in 0.2_f64..0.6) {
        let (from, to) = (said(from, 0.001), said(from - span, 0.001));
        let mut scale = Scale::default();
        for _ in 0..20 {
            scale = ridden(scale, &from, &to, truth);
        }
        let apart = (scale.value().to_f64() - truth).abs();
        prop_assert!(apart < 0.02, "{} {truth}", scale.value());
    }

    #[test]
    fn law_a_span_makes_nothing_less_sure(counted in -1.0_f64..1.0, read in -1.0_f64..1.0, weight in 1_i32..MOST_WEIGHT) {
        let sums = Scale::default().sums;
        let with = sums.with(Sums::of(ratio(counted), ratio(read), weight));
        prop_assert!(with.doubt() <= sums.doubt());
    }

    #[test]
    fn law_whatever_happens_it_stays_possible(
        life in proptest::collection::vec((0_u8..4, 0.0_f64..1.0, 0.0_f64..0.2, -1.0_f64..1.0), 0..200)
    ) {
        let mut scale = Scale::default();
        for (what, soc, noise, drawn) in life {
            match what {
                0 => scale.begin(&said(soc, noise)),
                1 => scale.reach(&said(soc, noise)),
                2 => scale.blur(ratio(noise)),
                _ => scale.count(ratio(drawn), ratio(noise / 100.0)),
            }
            scale.solve();
            prop_assert!(scale.is_possible(), "{scale:?}");
            prop_assert!(scale.value() >= LEAST && scale.value() <= MOST);
            prop_assert!(scale.sigma() >= scale.doubt.min(PERHAPS_WORN) - Ratio::from_bits(300));
        }
    }
}
