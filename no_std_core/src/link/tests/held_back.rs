//! Frames that somebody holds back and plays later, and what must come through all the same.

use super::*;

/// Telemetry that nobody hears, for so many tenths of a second.
fn unheard(ends: &mut Ends, tenths: u32) {
    for _ in 0..tenths {
        ends.wait(100);
        ends.telemetry();
    }
}

#[test]
fn drive_that_is_held_back_is_worth_nothing_after_ten_seconds_and_a_quarter_more() {
    for (tenths, refused) in [(0, false), (40, false), (99, false), (126, true), (600, true)] {
        let mut ends = Ends::riding();
        let held = ends.command(50).unwrap();
        unheard(&mut ends, tenths);
        let expected = if refused { Err(Refused::Stale) } else { Ok(Ratio::from_percent(50)) };
        let taken = ends.board.open(ends.now, &held).map(|command| command.share);
        assert_eq!(
            taken.map(|share| share.to_bits() >> 16),
            expected.map(|share| share.to_bits() >> 16)
        );
    }
    // A board that tells nothing any more, or whose clock steps back, knows no answer.
    let mut ends = Ends::riding();
    let held = ends.command(50).unwrap();
    ends.wait(13_000);
    assert_eq!(ends.board.open(ends.now, &held), Err(Refused::Stale));
    let mut ends = Ends::riding();
    ends.exchanges(40, 0);
    let held = ends.command(50).unwrap();
    assert_eq!(ends.board.open(Instant::from_millis(10), &held), Err(Refused::Stale));
}

#[test]
fn a_rider_who_hears_the_board_no_more_still_brakes() {
    let mut ends = Ends::riding();
    for tenth in 0..600 {
        unheard(&mut ends, 1);
        let drive = ends.command(20).unwrap();
        let driven = ends.board.open(ends.now, &drive);
        let brake = ends.command(-75).unwrap();
        let command = ends.board.open(ends.now, &brake).unwrap();
        assert!(command.share < Ratio::ZERO);
        assert!(driven.is_ok() || tenth > 95, "{tenth}");
    }
    assert!(ends.board.refused().of(Refused::Stale) > 400);
}

#[test]
fn telemetry_that_is_held_back_is_not_shown_after_ten_seconds_however_long_that_is() {
    for seconds in [5_u32, 12, 41, 45, 82, 90, 123] {
        let mut ends = Ends::riding();
        let held = ends.telemetry();
        for _ in 0..seconds * 50 {
            ends.wait(20);
            ends.command(50);
        }
        let taken = ends.hand.open(ends.now, &held);
        if seconds < 10 {
            assert!(taken.is_ok());
        } else {
            let refused = taken.unwrap_err();
            assert!([Refused::Stale, Refused::Forged].contains(&refused), "{seconds} s: {refused}");
        }
    }
}

#[test]
fn of_a_hands_life_before_only_what_the_board_cannot_know_to_be_over_is_taken() {
    let mut ends = Ends::riding();
    let held: Vec<CommandFrame> = (0..3).map(|_| ends.command(50).unwrap()).collect();
    ends.hand_starts();
    // Nothing has told the board of it yet.
    assert!(ends.board.open(ends.now, &held[0]).is_ok());
    while ends.exchange(0).0.is_none() {}
    assert_eq!(ends.board.open(ends.now, &held[1]), Err(Refused::EarlierStart));
}

#[test]
fn played_calls_are_no_sign_of_a_board_and_played_commands_none_of_a_hand() {
    let mut ends = Ends::new();
    let calls: Vec<TelemetryFrame> = (0..40).map(|_| ends.telemetry()).collect();
    for call in &calls {
        ends.wait(100);
        assert_eq!(ends.hand.open(ends.now, call), Ok(None));
        assert_eq!(ends.hand.quality(ends.now).sound, Sound::Unheard);
    }
    let mut ends = Ends::riding();
    let held: Vec<CommandFrame> = (0..300).map(|_| ends.command(50).unwrap()).collect();
    unheard(&mut ends, 130);
    for frame in &held {
        ends.wait(100);
        assert_eq!(ends.board.open(ends.now, frame), Err(Refused::Stale));
        assert_eq!(ends.board.quality(ends.now).sound, Sound::Silent);
    }
}

#[test]
fn what_takes_turns_and_is_not_told_any_more_is_not_known_any_more() {
    let mut ends = Ends::riding();
    let mut last = None;
    // Somebody jams each frame that would tell the cells' temperature.
    for _ in 0..100 {
        let frame = ends.telemetry();
        if frame[5] & 3 != 0 {
            last = ends.hand.open(ends.now, &frame).unwrap();
        }
        ends.wait(20);
        let frame = ends.command(0).unwrap();
        ends.board.open(ends.now, &frame).unwrap();
    }
    assert_eq!(last.unwrap().telemetry, None);
}
