use super::*;
use crate::board::tests::described;

fn board() -> Board {
    Board::new(described()).unwrap()
}

fn at(seconds: u64) -> Instant {
    Instant::from_millis(seconds * 1000)
}

/// Readings of a rest that lasts `seconds`, by a voltage over time at rest.
fn readings(seconds: u64, volts: impl Fn(f64) -> f64) -> std::vec::Vec<Reading> {
    let (board, mut rest, mut all) = (board(), Rest::default(), std::vec::Vec::new());
    for tenth in 0..=seconds * 10 {
        let now = Instant::from_millis(tenth * 100);
        let value =
            Volts::from_f64(volts(f64::from(u32::try_from(tenth).unwrap()) / 10.0)).unwrap();
        let (next, reading) = rest.after(now, true, value, &board);
        rest = next;
        all.extend(reading);
    }
    all
}

#[test]
fn every_cell_of_the_state_table() {
    let (board, volts) = (board(), Volts::from_milli(3700));
    let still = |rest: Rest, now, quiet| rest.after(now, quiet, volts, &board).0;
    assert_eq!(still(Rest::Moving, at(1), false), Rest::Moving);
    let begun = still(Rest::Moving, at(100), true);
    assert_eq!(begun.still_for(at(100)), Some(Duration::ZERO));
    assert_eq!(still(begun, at(101), false), Rest::Moving);
    let later = still(begun, at(103), true);
    assert_eq!(later.still_for(at(103)), Some(Duration::from_secs(3)));
    assert_eq!(
        still(later, at(300), true).still_for(at(300)),
        Some(Duration::ZERO),
        "silence too long"
    );
    assert_eq!(
        still(later, at(2), true).still_for(at(2)),
        Some(Duration::ZERO),
        "clock stepped back"
    );
}

#[test]
fn a_steady_voltage_is_believed_as_it_stands() {
    let all = readings(140, |_| 3.7);
    // Windows ending at 8, 16, 32, 64 and 128 s have one before them.
    assert_eq!(all.len(), 5);
    for reading in all {
        assert_eq!(reading.resting.to_milli(), 3699);
        assert_eq!(reading.relaxation_doubt, Volts::ZERO);
    }
}

#[test]
fn a_creeping_voltage_is_taken_further_and_doubted_by_its_creep() {
    // 40 mV to come with a time constant of 50 s.
    let all = readings(70, |t| 3.8 - 0.040 * (-t / 50.0).exp());
    let last = all.last().unwrap();
    let bare = 3.8 - 0.040 * (-48.0_f64 / 50.0).exp();
    let (guess, error) = (last.resting.to_f64(), (last.resting.to_f64() - 3.8).abs());
    assert!(guess > bare && error < 2.0 * last.relaxation_doubt.to_f64(), "{last:?}");
}

#[test]
fn later_windows_are_surer() {
    let all = readings(600, |t| 3.8 - 0.040 * (-t / 60.0).exp());
    let doubt =
        |reading: &Reading| reading.noise.to_f64() + reading.relaxation_doubt.magnitude().to_f64();
    assert!(all.windows(2).all(|pair| doubt(&pair[1]) <= doubt(&pair[0])), "{all:?}");
}
