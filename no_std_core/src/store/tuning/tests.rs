use super::*;
use crate::board::Board;
use crate::board::tests::described;
use crate::throttle::{Calibration, Settings};
use proptest::prelude::*;

const COUNTS: Counts = Counts {
    full_scale: 4095,
    low: 400,
    centre: 2048,
    high: 3700,
    deadband: 80,
    hysteresis: 20,
    broken_margin: 200,
    reversed: true,
};

fn handles() -> Shape {
    let handle = |thumb, acceleration| Handle {
        thumb: Ratio::from_milli(thumb),
        acceleration: MetresPerSecondSquared::from_milli(acceleration),
    };
    Shape::Through(Handles::new(&[handle(400, 300), handle(1000, 1600)]).unwrap())
}

fn board() -> Board {
    Board::new(described()).unwrap()
}

/// The usual tuning of that board, through handles one way.
fn tuning() -> Tuning {
    let board = board();
    let settings = Settings::of_board(
        Calibration::new(COUNTS).unwrap(),
        &board,
        MetresPerSecond::from_whole(7),
        MetresPerSecondSquared::from_milli(3500),
    )
    .unwrap();
    let brake = Shape::Blended {
        blend: Ratio::from_milli(505),
        greatest: MetresPerSecondSquared::from_whole(3),
    };
    Tuning::of(&board, settings.parts(), handles(), brake)
}

/// Every word of a tuning, in order.
fn words(tuning: &Tuning) -> std::vec::Vec<i32> {
    let mut words = std::vec::Vec::new();
    Order(|word: &mut i32| words.push(*word)).tuning(&mut tuning.clone());
    words
}

#[test]
fn the_payload_has_room_for_every_word_and_no_more() {
    assert_eq!(words(&tuning()).len(), WORDS);
}

#[test]
fn a_tuning_comes_back_as_it_was_with_the_same_settings() {
    let tuning = tuning();
    let back = Tuning::from_bytes(&tuning.to_bytes()).unwrap();
    assert_eq!(back, tuning);
    assert_eq!(back.settings(&board()).unwrap(), tuning.settings(&board()).unwrap());
    assert_eq!(back.settings(&board()).unwrap().mark(), Some(tuning.mark()));
}

#[test]
fn settings_that_no_tuning_made_have_no_mark() {
    let made = tuning().settings(&board()).unwrap();
    assert_eq!(Settings::new(*made.parts()).unwrap().mark(), None);
}

#[test]
fn a_tuning_is_for_its_own_pack_and_no_other() {
    let mut other = described();
    other.pack.series = 9;
    other.pack.soften_below = Volts::from_milli(29_700);
    other.pack.stop_below = Volts::from_milli(28_800);
    let other = Board::new(other).unwrap();
    let (given, wanted) = (board().pack_mark(), other.pack_mark());
    assert_ne!(given, wanted);
    let refused = tuning().settings(&other);
    assert_eq!(refused, Err(crate::throttle::TuningError::OtherPack { given, wanted }));
}

#[test]
fn what_is_not_there_comes_back_as_not_there() {
    let mut without = tuning();
    without.limits.cold_pack = None;
    without.limits.push_start = None;
    without.limits.hot_pack = None;
    assert_eq!(Tuning::from_bytes(&without.to_bytes()), Ok(without));
}

/// A record of these words, with a checksum that fits.
fn record(words: &[i32]) -> [u8; Tuning::BYTES] {
    let mut payload = [0; PAYLOAD];
    for (to, word) in payload.chunks_exact_mut(4).zip(words) {
        to.copy_from_slice(&word.to_le_bytes());
    }
    let mut record = [0; Tuning::BYTES];
    frame(Kind::Tuning, &payload, &mut record);
    record
}

#[test]
fn a_record_with_a_word_that_cannot_be_is_refused_though_its_checksum_fits() {
    let good = words(&tuning());
    assert!(Tuning::from_bytes(&record(&good)).is_ok());
    // A count of the converter, whether it is reversed, how many handles, how many of a blend.
    for (place, word) in [(1, 70_000), (1, -1), (8, 2), (9, 9), (26, -1)] {
        let mut bad = good.clone();
        bad[place] = word;
        assert_eq!(Tuning::from_bytes(&record(&bad)), Err(RecordFault::Impossible), "{place}");
    }
}

proptest! {
    #[test]
    fn law_every_word_counts_for_the_mark(place in 0..WORDS, flip in 0..31_u32) {
        let good = words(&tuning());
        let mut other = good.clone();
        other[place] ^= 1 << flip;
        if let Ok(read) = Tuning::from_bytes(&record(&other)) {
            prop_assert_ne!(read.mark(), tuning().mark());
            prop_assert_eq!(words(&read), other);
        }
    }

    #[test]
    fn law_any_bytes_are_a_tuning_or_refused(bytes in proptest::collection::vec(any::<u8>(), 0..600)) {
        prop_assert!(Tuning::from_bytes(&bytes).is_err());
    }

    #[test]
    fn law_whatever_is_read_is_written_as_it_stood(
        changes in proptest::collection::vec((0..WORDS, any::<i32>()), 0..6),
    ) {
        let mut words = words(&tuning());
        for (place, word) in changes {
            words[place] = word;
        }
        if let Ok(read) = Tuning::from_bytes(&record(&words)) {
            prop_assert_eq!(read.to_bytes(), record(&words));
        }
    }

    #[test]
    fn law_a_record_that_is_cut_or_damaged_is_refused(cut in 0..Tuning::BYTES, bit in 0..8_u32) {
        let mut bytes = tuning().to_bytes();
        prop_assert!(Tuning::from_bytes(&bytes[..cut]).is_err());
        bytes[cut] ^= 1 << bit;
        prop_assert!(Tuning::from_bytes(&bytes).is_err());
    }
}
