use super::*;

fn at(seconds: u64) -> Instant {
    Instant::from_millis(seconds * 1000)
}

const SAMPLE: Sample = Sample { volts: Volts::from_milli(3700), strain: Volts::from_milli(20) };

#[test]
fn every_cell_of_the_state_table() {
    let still = |rest: Rest, now| rest.after(now, SAMPLE).0;
    let begun = still(Rest::Moving, at(100));
    assert_eq!(begun.still_for(at(100)), Some(Duration::ZERO));
    let later = still(begun, at(103));
    assert_eq!(later.still_for(at(103)), Some(Duration::from_secs(3)));
    let moved = Sample { volts: Volts::from_milli(3650), ..SAMPLE };
    let elsewhere = later.after(at(300), moved).0;
    assert_eq!(
        elsewhere.still_for(at(300)),
        Some(Duration::ZERO),
        "the voltage moved in the silence"
    );
    assert_eq!(
        still(later, at(300)).still_for(at(300)),
        Some(Duration::from_secs(200)),
        "nothing moved in the silence"
    );
    assert_eq!(still(later, at(2)).still_for(at(2)), Some(Duration::ZERO), "clock stepped back");
}

#[test]
fn windows_double_in_length_and_come_in_pairs() {
    let (mut rest, mut pairs) = (Rest::default(), std::vec::Vec::new());
    for tenth in 0..1300_u64 {
        let (next, pair) = rest.after(Instant::from_millis(tenth * 100), SAMPLE);
        rest = next;
        pairs.extend(pair);
    }
    let ends: std::vec::Vec<_> = pairs
        .iter()
        .map(|(before, now)| (before.ends_after.to_millis(), now.ends_after.to_millis()))
        .collect();
    assert_eq!(
        ends,
        [(4000, 8000), (8000, 16_000), (16_000, 32_000), (32_000, 64_000), (64_000, 128_000)]
    );
    assert!(
        pairs
            .iter()
            .map(|(_, now)| now.mean())
            .all(|now| now.volts == SAMPLE.volts && now.strain == SAMPLE.strain)
    );
}

#[test]
fn a_sparse_log_skips_windows_without_a_sample() {
    let (mut rest, mut pairs) = (Rest::default(), std::vec::Vec::new());
    for step in 0..20_u64 {
        let (next, pair) = rest.after(at(step * 30), SAMPLE);
        rest = next;
        pairs.extend(pair);
    }
    assert!(!pairs.is_empty());
    assert!(pairs.iter().all(|(before, now)| before.ends_after < now.ends_after));
}
