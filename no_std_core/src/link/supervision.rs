//! How good the link is: what was lost over the last seconds, how long the longest silence was, and how
//! old the newest frame is.
//!
//! Told of each frame that is taken by `hand` and `board`; gives figures that a screen can say in a
//! word. It chooses no channel: that stays with the radio's driver.

use crate::math::divide;
use crate::receiver::{GONE_WITHIN, HELD_FOR};
use crate::time::{Duration, Instant};
use crate::units::Ratio;

/// The figures are those of so many seconds.
pub const SECONDS: u8 = 5;

/// How often frames are expected, and what their absence does.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Expected {
    /// So many frames a second, 1 to 255.
    pub per_second: u8,
    /// A silence as long as this is felt,
    pub felt_after: Duration,
    /// and one as long as this takes the drive.
    pub harms_after: Duration,
}

/// Commands, as the board expects them: fifty a second; what a silence does is the receiver's.
pub const COMMANDS: Expected =
    Expected { per_second: 50, felt_after: HELD_FOR, harms_after: GONE_WITHIN };

/// Telemetry, as the hand expects it: ten a second. After a second limits begin to move to their safe
/// side, and after three they take the drive (the throttle's usual settings).
pub const TELEMETRY: Expected = Expected {
    per_second: 10,
    felt_after: Duration::from_secs(1),
    harms_after: Duration::from_secs(3),
};

/// The link in a word.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Sound {
    /// No frame has been taken since the start.
    Unheard,
    /// The newest frame is so old that it takes the drive.
    Silent,
    /// A silence in these seconds was long enough to take the drive.
    Broken,
    /// One was long enough to be felt.
    Patchy,
    /// None was.
    Clear,
}

impl Sound {
    /// The word, for a screen.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Unheard => "unheard",
            Self::Silent => "silent",
            Self::Broken => "broken",
            Self::Patchy => "patchy",
            Self::Clear => "clear",
        }
    }
}

/// How good a link is, over the last [`SECONDS`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Quality {
    /// How old the newest frame is; nothing where there was none, or the clock stepped back since.
    pub age: Option<Duration>,
    /// The share of frames that were lost, 0 to 1; those of a silence that lasts are among them.
    pub lost: Ratio,
    /// The longest silence, the present one included.
    pub longest: Duration,
    /// The same in a word.
    pub sound: Sound,
}

/// What was counted over the last seconds, up to now.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Tally {
    age: Option<Duration>,
    pub(super) taken: u32,
    pub(super) lost: u32,
    pub(super) longest: Duration,
}

impl Tally {
    /// The share that was lost in sixteenths, rounded up, without a division.
    pub(super) fn lost_sixteenths(&self) -> u8 {
        let all = self.taken.saturating_add(self.lost);
        let (mut rest, mut sixteenths) = (self.lost, 0_u8);
        for _ in 0..4 {
            rest = rest.wrapping_shl(1);
            sixteenths = sixteenths.wrapping_shl(1);
            if rest >= all && all > 0 {
                rest = rest.wrapping_sub(all);
                sixteenths |= 1;
            }
        }
        // All of them lost are sixteen sixteenths.
        if self.lost == all && all > 0 { 16 } else { sixteenths.wrapping_add(u8::from(rest > 0)) }
    }
}

/// One second's frames; each count stays at its end.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
struct Second {
    taken: u8,
    lost: u8,
    /// In steps of 2^7 µs: 8.3 s at the most.
    longest: u16,
}

/// What was heard over the last seconds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) struct Supervision {
    expected: &'static Expected,
    newest: Option<Instant>,
    /// When the first of the seconds below began.
    since: Instant,
    /// The newest first.
    seconds: [Second; 5],
}

const SECOND: Duration = Duration::from_secs(1);
const _: () = assert!(SECONDS == 5, "the array below has as many");

impl Supervision {
    pub(super) fn new(expected: &'static Expected) -> Self {
        let (since, seconds) = (Instant::default(), [Second::default(); 5]);
        Self { expected, newest: None, since, seconds }
    }

    /// The same after a frame was taken at `now`, `skipped` of its sender's having been passed over;
    /// nothing of it is known for the first of a start.
    pub(super) fn took(&mut self, now: Instant, skipped: Option<u32>) {
        self.roll(now);
        let silence = self.newest.and_then(|newest| now.since(newest));
        self.newest = Some(now);
        let [second, ..] = &mut self.seconds;
        second.taken = second.taken.saturating_add(1);
        let skipped = u8::try_from(skipped.unwrap_or(0)).unwrap_or(u8::MAX);
        second.lost = second.lost.saturating_add(skipped);
        second.longest = second.longest.max(silence.map_or(0, steps));
    }

    /// One that had been passed over has come after all.
    pub(super) fn was_late(&mut self, now: Instant) {
        self.roll(now);
        let counted = self.seconds.iter_mut().find(|second| second.lost > 0);
        if let Some(second) = counted {
            second.lost = second.lost.saturating_sub(1);
            second.taken = second.taken.saturating_add(1);
        }
    }

    /// Moves the seconds on; where the clock has stepped back, they begin anew.
    fn roll(&mut self, now: Instant) {
        let Some(mut over) = now.since(self.since) else {
            (self.since, self.seconds, self.newest) = (now, [Second::default(); 5], None);
            return;
        };
        if over > Duration::from_secs(u64::from(SECONDS).saturating_add(1)) {
            (self.since, self.seconds) = (now, [Second::default(); 5]);
            return;
        }
        while over >= SECOND {
            let [a, b, c, d, _] = self.seconds;
            self.seconds = [Second::default(), a, b, c, d];
            self.since = self.since + SECOND;
            over = over - SECOND;
        }
    }

    /// What was counted up to `now`.
    pub(super) fn tally(&self, now: Instant) -> Tally {
        let mut rolled = *self;
        rolled.roll(now);
        let age = rolled.newest.and_then(|newest| now.since(newest));
        let most = Duration::from_secs(SECONDS.into());
        let silence = age.map_or(Duration::ZERO, |age| age.min(most));
        let mut tally = Tally { age, taken: 0, lost: 0, longest: silence };
        let mut longest = 0_u16;
        for second in &rolled.seconds {
            tally.taken = tally.taken.saturating_add(second.taken.into());
            tally.lost = tally.lost.saturating_add(second.lost.into());
            longest = longest.max(second.longest);
        }
        // Frames of the present silence; the one that is due is not lost yet. At most five seconds of
        // them: 2^36 / 1 000 000 is 68 719.5.
        let silence = u32::try_from(silence.to_micros()).unwrap_or(u32::MAX);
        let parts = u64::from(silence).wrapping_mul(u64::from(self.expected.per_second));
        let due = u32::try_from(parts.wrapping_mul(68_720) >> 36).unwrap_or(u32::MAX);
        tally.lost = tally.lost.saturating_add(due.saturating_sub(1));
        let longest = Duration::from_micros(u64::from(longest) << STEP_BITS);
        tally.longest = tally.longest.max(longest);
        tally
    }

    /// The figures at `now`.
    pub(super) fn quality(&self, now: Instant) -> Quality {
        let Tally { age, taken, lost, longest } = self.tally(now);
        let &Expected { felt_after, harms_after, .. } = self.expected;
        let sound = match (self.newest, age) {
            (None, _) => Sound::Unheard,
            (Some(_), None) => Sound::Silent,
            (Some(_), Some(age)) if age >= harms_after => Sound::Silent,
            _ if longest >= harms_after => Sound::Broken,
            _ if longest >= felt_after => Sound::Patchy,
            _ => Sound::Clear,
        };
        let all = taken.saturating_add(lost);
        let lost = Ratio::from_bits(divide(lost.into(), all.into(), Ratio::FRACTION_BITS));
        Quality { age, lost, longest, sound }
    }
}

/// A step of a second's longest silence: 2^7 µs.
const STEP_BITS: u32 = 7;

/// A length in such steps, rounded up, so that none is told shorter than it was.
fn steps(length: Duration) -> u16 {
    let steps = length.to_micros().saturating_add((1 << STEP_BITS) - 1) >> STEP_BITS;
    u16::try_from(steps).unwrap_or(u16::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::vec::Vec;

    fn lost(quality: Quality) -> f64 {
        quality.lost.to_f64()
    }

    #[test]
    fn a_link_is_unheard_then_clear_then_silent() {
        let mut link = Supervision::new(&COMMANDS);
        let at = Instant::from_millis;
        assert_eq!(link.quality(at(500)).sound, Sound::Unheard);
        for tick in 0..100 {
            link.took(at(1000 + tick * 20), if tick == 0 { None } else { Some(0) });
        }
        let quality = link.quality(at(2990));
        assert_eq!((quality.sound, quality.lost), (Sound::Clear, Ratio::ZERO));
        assert_eq!(quality.age, Some(Duration::from_millis(10)));
        assert_eq!(link.quality(at(3100)).sound, Sound::Patchy);
        let quality = link.quality(at(3480));
        assert_eq!((quality.sound, quality.longest), (Sound::Silent, Duration::from_millis(500)));
        // 24 of 500 ms, the one that is due left out, beside 100 that were taken.
        assert!((lost(quality) - 24.0 / 124.0).abs() < 1e-4, "{quality:?}");
    }

    #[test]
    fn a_burst_is_told_for_five_seconds_and_then_forgotten() {
        let mut link = Supervision::new(&COMMANDS);
        let at = Instant::from_millis;
        for tick in 0..50_u64 {
            link.took(at(tick * 20), Some(0));
        }
        // Nineteen lost: 400 ms from one to the next.
        link.took(at(980 + 400), Some(19));
        for tick in 1..=400_u64 {
            let now = at(1380 + tick * 20);
            link.took(now, Some(0));
            let quality = link.quality(now);
            let told = quality.longest >= Duration::from_millis(400);
            assert_eq!(told, quality.sound == Sound::Broken, "{quality:?}");
            if tick < 150 {
                assert!(told && lost(quality) > 0.04);
            }
            if tick > 260 {
                assert!(
                    quality.sound == Sound::Clear && quality.lost == Ratio::ZERO,
                    "{quality:?}"
                );
            }
        }
    }

    #[test]
    fn a_frame_that_comes_late_was_not_lost() {
        let mut link = Supervision::new(&COMMANDS);
        let at = Instant::from_millis;
        link.took(at(0), None);
        link.took(at(60), Some(2));
        assert!(lost(link.quality(at(61))) > 0.4);
        link.was_late(at(70));
        link.was_late(at(75));
        link.was_late(at(75));
        assert_eq!(link.quality(at(76)).lost, Ratio::ZERO);
    }

    #[test]
    fn a_clock_that_steps_back_is_no_age_and_no_loss() {
        let mut link = Supervision::new(&TELEMETRY);
        link.took(Instant::from_millis(90_000), None);
        let quality = link.quality(Instant::from_millis(10));
        assert_eq!((quality.age, quality.lost), (None, Ratio::ZERO));
        link.took(Instant::from_millis(20), Some(0));
        assert_eq!(link.quality(Instant::from_millis(20)).sound, Sound::Clear);
    }

    proptest! {
        #[test]
        fn law_what_is_told_is_what_happened(
            gaps in prop::collection::vec((0_u32..30, 0_u64..20_000), 1..300),
        ) {
            let mut link = Supervision::new(&COMMANDS);
            let mut now = 7_000_000;
            let mut all: Vec<(u64, u32)> = Vec::new();
            link.took(Instant::from_micros(now), None);
            for (skipped, jitter) in gaps {
                now += u64::from(skipped + 1) * 20_000 + jitter;
                link.took(Instant::from_micros(now), Some(skipped));
                all.push((now, skipped));
            }
            let quality = link.quality(Instant::from_micros(now));
            // Whole seconds are kept: between four and five of them, or six.
            let within = |back| all.iter().filter(move |(at, _)| at + back > now);
            let longest = |back| within(back).map(|(_, skipped)| *skipped).max().unwrap_or(0);
            let told = quality.longest.to_micros();
            prop_assert!(told + 20_000 >= u64::from(longest(3_900_000) + 1) * 20_000, "{told}");
            prop_assert!(told <= u64::from(longest(6_100_000) + 2) * 20_000 + 128, "{told}");
            prop_assert!((0.0..=1.0).contains(&lost(quality)));
        }

        #[test]
        fn law_sixteenths_agree_with_a_division(taken in 0_u32..2000, lost in 0_u32..2000) {
            let tally = Tally { age: None, taken, lost, longest: Duration::ZERO };
            let expected = if lost == 0 { 0 } else { (lost * 16).div_ceil(taken + lost) };
            prop_assert_eq!(u32::from(tally.lost_sixteenths()), expected);
        }

        #[test]
        fn law_no_time_and_no_count_is_too_strange(
            steps in prop::collection::vec((any::<u64>(), prop::option::of(any::<u32>())), 1..50),
        ) {
            let mut link = Supervision::new(&TELEMETRY);
            for (micros, skipped) in steps {
                let now = Instant::from_micros(micros);
                link.took(now, skipped);
                link.was_late(now);
                let quality = link.quality(now);
                prop_assert!(quality.lost <= Ratio::ONE && quality.lost >= Ratio::ZERO);
            }
        }

        #[test]
        fn law_a_length_in_steps_is_rounded_up(micros in 0_u64..5_000_000) {
            let told = u64::from(steps(Duration::from_micros(micros))) << 7;
            prop_assert!(told >= micros && told < micros + 128);
        }
    }
}
