//! Every cell of the arming table, and its laws over any sequence.

use super::*;
use crate::throttle::rate::LATE_AFTER;
use proptest::prelude::*;

const NOW: Instant = Instant::from_millis(10_000);
const JUST_NOW: Instant = Instant::from_millis(9990);
const LONG_AGO: Instant = Instant::from_millis(9000);
const ON_TIME: Step = Step::OnTime { elapsed: Duration::from_millis(10) };
const NEUTRAL: Thumb = Thumb::At(Ratio::ZERO);
const BROKEN: Thumb = Thumb::Broken { count: 4095 };

fn ratio(percent: i32) -> Ratio {
    Ratio::from_percent(percent)
}

fn disarmed(why: Cause) -> Arming {
    Arming::Disarmed { why }
}

fn each_state() -> [Arming; 6] {
    [
        disarmed(Cause::Started),
        Arming::Settling { since: JUST_NOW },
        Arming::Settling { since: LONG_AGO },
        Arming::Armed { thumb: ratio(40) },
        Arming::Doubtful { since: JUST_NOW, brake: ratio(-30) },
        Arming::Doubtful { since: LONG_AGO, brake: ratio(-30) },
    ]
}

#[test]
fn any_state_is_disarmed_by_a_late_tick_or_a_clock_that_steps_back() {
    for state in each_state() {
        for thumb in [NEUTRAL, BROKEN, Thumb::At(ratio(50)), Thumb::At(ratio(-50))] {
            assert_eq!(state.after(NOW, Step::Late, thumb), disarmed(Cause::LateTick));
            let back = state.after(NOW, Step::Backwards, thumb);
            assert_eq!(back, disarmed(Cause::ClockSteppedBack));
        }
    }
}

#[test]
fn disarmed_waits_for_neutral() {
    let state = disarmed(Cause::Started);
    let broken = disarmed(Cause::BrokenThumb { count: 4095 });
    for step in [Step::First, ON_TIME] {
        assert_eq!(state.after(NOW, step, BROKEN), broken);
        assert_eq!(state.after(NOW, step, NEUTRAL), Arming::Settling { since: NOW });
        assert_eq!(state.after(NOW, step, Thumb::At(ratio(50))), state);
        assert_eq!(state.after(NOW, step, Thumb::At(ratio(-50))), state);
    }
}

#[test]
fn settling_arms_after_its_time_and_starts_over_when_asked_too_soon() {
    for since in [JUST_NOW, LONG_AGO] {
        let state = Arming::Settling { since };
        let broken = disarmed(Cause::BrokenThumb { count: 4095 });
        assert_eq!(state.after(NOW, ON_TIME, BROKEN), broken);
        let soon = state.after(NOW, ON_TIME, Thumb::At(ratio(-1)));
        assert_eq!(soon, disarmed(Cause::AskedTooSoon));
    }
    let young = Arming::Settling { since: JUST_NOW };
    assert_eq!(young.after(NOW, ON_TIME, NEUTRAL), young);
    let old = Arming::Settling { since: LONG_AGO };
    assert_eq!(old.after(NOW, ON_TIME, NEUTRAL), Arming::Armed { thumb: Ratio::ZERO });
}

#[test]
fn armed_follows_the_thumb_and_doubts_a_broken_one() {
    let doubtful = |brake| Arming::Doubtful { since: NOW, brake };
    let driving = Arming::Armed { thumb: ratio(40) };
    assert_eq!(driving.after(NOW, ON_TIME, BROKEN), doubtful(Ratio::ZERO));
    let braking = Arming::Armed { thumb: ratio(-40) };
    assert_eq!(braking.after(NOW, ON_TIME, BROKEN), doubtful(ratio(-40)));
    for thumb in [0, 70, -70].map(ratio) {
        assert_eq!(driving.after(NOW, ON_TIME, Thumb::At(thumb)), Arming::Armed { thumb });
    }
}

#[test]
fn doubt_ends_with_a_reading_or_in_a_broken_thumb() {
    let young = Arming::Doubtful { since: JUST_NOW, brake: ratio(-30) };
    let old = Arming::Doubtful { since: LONG_AGO, brake: ratio(-30) };
    assert_eq!(young.after(NOW, ON_TIME, BROKEN), young);
    let broken = disarmed(Cause::BrokenThumb { count: 4095 });
    assert_eq!(old.after(NOW, ON_TIME, BROKEN), broken);
    for state in [young, old] {
        for thumb in [0, 70, -70].map(ratio) {
            assert_eq!(state.after(NOW, ON_TIME, Thumb::At(thumb)), Arming::Armed { thumb });
        }
    }
}

#[test]
fn each_state_allows_what_it_says() {
    let asks = Thumb::At(ratio(50));
    for state in &each_state()[..3] {
        let allowed = state.allow(asks);
        assert_eq!(allowed.thumb, Ratio::ZERO);
        assert_eq!(allowed.reasons, Reasons::of(Reason::NotArmed));
        assert_eq!(state.allow(NEUTRAL).reasons, Reasons::NONE);
        assert_eq!(state.allow(BROKEN).reasons, Reasons::of(Reason::BrokenThumb));
        assert!(!state.is_armed());
    }
    let armed = Arming::Armed { thumb: ratio(50) };
    assert_eq!(armed.allow(asks), Allowed { thumb: ratio(50), reasons: Reasons::NONE });
    let doubtful = Arming::Doubtful { since: NOW, brake: ratio(-30) };
    let reasons = Reasons::of(Reason::BrokenThumb);
    assert_eq!(doubtful.allow(BROKEN), Allowed { thumb: ratio(-30), reasons });
}

proptest! {
    #[test]
    fn law_nothing_is_allowed_before_half_a_second_of_neutral(
        readings in prop::collection::vec((0_u64..1500, -2_i32..=2), 1..60),
    ) {
        let (mut state, mut now, mut last) = (Arming::default(), Instant::from_millis(0), None);
        let mut neutral_since: Option<Instant> = None;
        for (gap, reading) in readings {
            now = now + Duration::from_millis(gap);
            // Two is a broken wire.
            let thumb = if reading == 2 { BROKEN } else { Thumb::At(ratio(reading * 50)) };
            let step = Step::between(last, now);
            let gap_is_fine = last.is_none() || Duration::from_millis(gap) <= LATE_AFTER;
            last = Some(now);
            let was_armed = state.is_armed();
            state = state.after(now, step, thumb);
            if thumb == NEUTRAL && gap_is_fine {
                neutral_since = neutral_since.or(Some(now));
            } else {
                neutral_since = None;
            }
            if state.is_armed() && !was_armed {
                let neutral = neutral_since.and_then(|since| now.since(since));
                prop_assert!(neutral.is_some_and(|time| time >= NEUTRAL_FOR));
            }
            let allowed = state.allow(thumb);
            if !state.is_armed() {
                prop_assert_eq!(allowed.thumb, Ratio::ZERO);
            }
            if thumb == BROKEN {
                prop_assert!(allowed.thumb <= Ratio::ZERO);
            }
        }
    }
}
