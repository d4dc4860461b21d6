//! The laws of the thumb, and each way of getting its counts wrong.

use super::*;
use proptest::prelude::*;

const USUAL: Counts = Counts {
    full_scale: 4095,
    low: 800,
    centre: 2000,
    high: 3300,
    deadband: 60,
    hysteresis: 20,
    broken_margin: 200,
    reversed: false,
};

fn usual() -> Calibration {
    Calibration::new(USUAL).unwrap()
}

fn any_calibration() -> impl Strategy<Value = Calibration> {
    (400_u16..2000, 150_u16..2000, 150_u16..2000, 1_u16..60, 0_u16..50, any::<bool>()).prop_map(
        |(low, below, above, deadband, hysteresis, reversed)| {
            let centre = low + below;
            let high = centre + above;
            let counts = Counts {
                full_scale: high + 300,
                low,
                centre,
                high,
                deadband,
                hysteresis,
                broken_margin: 100,
                reversed,
            };
            Calibration::new(counts).unwrap()
        },
    )
}

fn any_zone() -> impl Strategy<Value = Zone> {
    prop_oneof![Just(Zone::Neutral), Just(Zone::Drive), Just(Zone::Brake)]
}

proptest! {
    #[test]
    fn law_a_reading_is_monotone_in_the_count(
        calibration in any_calibration(), zone in any_zone(), a: u16, b: u16,
    ) {
        let (less, more) = (a.min(b), a.max(b));
        let (Thumb::At(less), Thumb::At(more)) =
            (zone.read(less, &calibration).1, zone.read(more, &calibration).1)
        else {
            return Ok(());
        };
        if calibration.counts().reversed {
            prop_assert!(less >= more);
        } else {
            prop_assert!(less <= more);
        }
    }

    #[test]
    fn law_any_count_reads_within_full_brake_and_full_drive_or_is_broken(
        calibration in any_calibration(), zone in any_zone(), count: u16,
    ) {
        let counts = calibration.counts();
        let inside =
            count >= counts.low - counts.broken_margin && count <= counts.high + counts.broken_margin;
        match zone.read(count, &calibration) {
            (_, Thumb::At(thumb)) => {
                prop_assert!(inside && thumb >= -Ratio::ONE && thumb <= Ratio::ONE);
            }
            (after, Thumb::Broken { count: seen }) => {
                prop_assert!(!inside && seen == count && after == zone);
            }
        }
    }

    #[test]
    fn law_a_count_that_asks_is_given_back_exactly(
        calibration in any_calibration(), zone in any_zone(), count: u16,
    ) {
        if let (_, Thumb::At(thumb)) = zone.read(count, &calibration) {
            let counts = calibration.counts();
            let expected =
                if thumb == Ratio::ZERO { counts.centre } else { count.clamp(counts.low, counts.high) };
            prop_assert_eq!(calibration.count_for(thumb), expected);
        }
    }

    #[test]
    fn law_a_share_comes_back_within_half_a_count(
        calibration in any_calibration(), bits in -(1 << 24)..=1 << 24,
    ) {
        let share = Ratio::from_bits(bits);
        let zone = if bits > 0 { Zone::Drive } else { Zone::Brake };
        let Thumb::At(read) = zone.read(calibration.count_for(share), &calibration).1 else {
            panic!("a count inside the ends is healthy");
        };
        // One count is at most 1/32 of a side; a share that is not zero never becomes neutral.
        prop_assert!((read - share).magnitude() <= Ratio::from_fraction(1, 32));
        prop_assert_eq!(read == Ratio::ZERO, share == Ratio::ZERO);
    }

    #[test]
    fn law_no_counts_are_too_strange_to_be_judged(
        full_scale: u16, low: u16, centre: u16, high: u16, rest in any::<(u16, u16, u16, bool)>(),
    ) {
        let (deadband, hysteresis, broken_margin, reversed) = rest;
        let counts = Counts {
            full_scale, low, centre, high, deadband, hysteresis, broken_margin, reversed,
        };
        if let Ok(calibration) = Calibration::new(counts) {
            for dead in [0, full_scale] {
                let shorted = Thumb::Broken { count: dead };
                prop_assert_eq!(Zone::Neutral.read(dead, &calibration).1, shorted);
            }
        }
    }
}

#[test]
fn the_ends_read_full_and_the_centre_reads_nothing() {
    for reversed in [false, true] {
        let calibration = Calibration::new(Counts { reversed, ..USUAL }).unwrap();
        let (drive, brake) = if reversed { (800, 3300) } else { (3300, 800) };
        assert_eq!(Zone::Neutral.read(drive, &calibration).1, Thumb::At(Ratio::ONE));
        assert_eq!(Zone::Neutral.read(brake, &calibration).1, Thumb::At(-Ratio::ONE));
        assert_eq!(Zone::Neutral.read(2000, &calibration).1, Thumb::At(Ratio::ZERO));
    }
}

#[test]
fn noise_at_the_edge_of_neutral_does_not_switch() {
    let calibration = usual();
    let at = |zone: Zone, count| zone.read(count, &calibration).0;
    assert_eq!(at(Zone::Neutral, 2070), Zone::Neutral);
    assert_eq!(at(Zone::Neutral, 2081), Zone::Drive);
    assert_eq!(at(Zone::Drive, 2070), Zone::Drive);
    assert_eq!(at(Zone::Drive, 2060), Zone::Neutral);
    assert_eq!(at(Zone::Brake, 1930), Zone::Brake);
    assert_eq!(at(Zone::Brake, 1940), Zone::Neutral);
    assert_eq!(at(Zone::Drive, 1919), Zone::Brake);
}

#[test]
fn a_count_a_little_beyond_an_end_is_that_end_and_further_out_a_broken_wire() {
    let calibration = usual();
    assert_eq!(Zone::Neutral.read(3500, &calibration).1, Thumb::At(Ratio::ONE));
    assert_eq!(Zone::Neutral.read(3501, &calibration).1, Thumb::Broken { count: 3501 });
    assert_eq!(Zone::Neutral.read(600, &calibration).1, Thumb::At(-Ratio::ONE));
    assert_eq!(Zone::Neutral.read(599, &calibration).1, Thumb::Broken { count: 599 });
}

#[test]
fn counts_that_make_no_sense_are_refused_by_name() {
    let refused = |counts| match Calibration::new(counts) {
        Err(Error::OutOfRange { quantity, .. }) => Some(quantity),
        Ok(_) => None,
    };
    assert_eq!(refused(USUAL), None);
    assert_eq!(refused(Counts { centre: 700, ..USUAL }), Some(Quantity::ThumbCentre));
    assert_eq!(refused(Counts { centre: 3400, ..USUAL }), Some(Quantity::ThumbCentre));
    assert_eq!(refused(Counts { high: 863, ..USUAL }), Some(Quantity::ThumbHigh));
    assert_eq!(refused(Counts { low: 3300, high: 800, ..USUAL }), Some(Quantity::ThumbHigh));
    assert_eq!(refused(Counts { high: 4095, ..USUAL }), Some(Quantity::ThumbHigh));
    assert_eq!(refused(Counts { low: 1, ..USUAL }), Some(Quantity::ThumbLow));
    assert_eq!(refused(Counts { deadband: 1149, ..USUAL }), Some(Quantity::ThumbDeadband));
    assert_eq!(refused(Counts { deadband: 0, ..USUAL }), Some(Quantity::ThumbDeadband));
    assert_eq!(refused(Counts { hysteresis: 1200, ..USUAL }), Some(Quantity::ThumbHysteresis));
    assert_eq!(refused(Counts { broken_margin: 19, ..USUAL }), Some(Quantity::ThumbBrokenMargin));
    assert_eq!(refused(Counts { broken_margin: 795, ..USUAL }), Some(Quantity::ThumbBrokenMargin));
}
