//! What flowed while nobody told: a charge for a silence, and how wrong it may be.
//!
//! Used by `charge` between two frames. The charge counter of the other end tells, where there is
//! one and it did not restart; otherwise a straight line between the currents before and after,
//! doubted by as much as the mean current of the last minute tells otherwise. The line it is even
//! for long silences: a sparse log consists of nothing but them, and only the line adds up.

use super::counter::Quanta;
use crate::board::Possible;
use crate::math::{divide, narrow, scale};
use crate::time::Duration;
use crate::units::Amperes;

/// Up to this long two readings are joined by a straight line without further doubt: twice the
/// longest regular pause between frames (5 Hz, with jitter), and twice that again.
pub(crate) const PLAIN_STEP: Duration = Duration::from_millis(1000);

/// After this long nothing is assumed about what flowed: the pack may have been charged.
pub(crate) const LONGEST_BRIDGE: Duration = Duration::from_secs(600);

/// The mean current forgets with this time constant, a power of two of microseconds (67 s): about
/// that of the relaxation of cells, which [`super::relaxation`] tells by it.
pub(crate) const MEAN_OVER_BITS: u32 = 26;

/// One sigma of a bridged charge is at least a sixteenth of it. Common practice, no source.
fn least_doubt(charge: Quanta) -> Quanta {
    Quanta::from_count(charge.magnitude().count() >> 4)
}

/// A charge that was not seen flowing, and one sigma of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(crate) struct Bridged {
    pub(crate) charge: Quanta,
    pub(crate) sigma: Quanta,
}

/// What flowed within `time`, from the current `before` it to the one `after` it, with the `mean`
/// current of late, where both ends are still or not (`quiet`).
#[must_use]
pub(crate) fn bridged(
    before: Amperes,
    after: Amperes,
    mean: Amperes,
    time: Duration,
    quiet: bool,
) -> Bridged {
    let line = Quanta::between(before, after, time);
    if time <= PLAIN_STEP {
        return Bridged { charge: line, sigma: Quanta::ZERO };
    }
    let least = least_doubt(line);
    if quiet {
        return Bridged { charge: line, sigma: least };
    }
    let usual = Quanta::between(mean, mean, time);
    let apart = (line - usual).magnitude();
    let swing = Quanta::between(before, -after, time).magnitude();
    // Half of the way between the two voices, plus what the current may do between its ends.
    let sigma = apart.halved() + swing.halved().halved() + least + least_doubt(usual);
    Bridged { charge: line, sigma }
}

/// What the other end's counter says of the same silence, where it can be true: it lies within
/// four sigma of the bridge, or within what the pack can give and take, in the silence and a
/// second around it.
#[must_use]
pub(crate) fn counted(
    earlier: Quanta,
    later: Quanta,
    bridge: Bridged,
    time: Duration,
    possible: &Possible,
) -> Option<Quanta> {
    let moved = later - earlier;
    if !is_possible(moved, time, possible) {
        return None;
    }
    // A counter that restarted jumps towards zero, by as much as it had. Where it goes that way
    // and the currents around the silence do not, it is not believed.
    if later.magnitude() >= earlier.magnitude() {
        return Some(moved);
    }
    let sigma = bridge.sigma;
    let alike = (moved - bridge.charge).magnitude() <= sigma + sigma + sigma + sigma;
    alike.then_some(moved)
}

/// Whether a pack can give or take so much within `time` and a second.
fn is_possible(moved: Quanta, time: Duration, possible: &Possible) -> bool {
    /// A little over half of the quanta that a bit of current moves in the second alone.
    const BITS_PER_SECOND: u32 = 20;
    // Nearly always, and without a product.
    let coarse = i32::try_from(moved.count() >> BITS_PER_SECOND).map(Amperes::from_bits);
    if coarse.is_ok_and(|coarse| coarse < possible.discharge && coarse >= -possible.charge) {
        return true;
    }
    let longer = time + Duration::from_secs(1);
    let most = |current: Amperes| Quanta::between(current, current, longer);
    moved <= most(possible.discharge) && (Quanta::ZERO - moved) <= most(possible.charge)
}

/// The mean current after `current` has flowed for `time`.
#[must_use]
pub(crate) fn mean_after(mean: Amperes, current: Amperes, time: Duration) -> Amperes {
    let micros = u32::try_from(time.to_micros()).unwrap_or(u32::MAX);
    let part = i32::try_from(micros.min(1 << MEAN_OVER_BITS)).unwrap_or(0);
    mean + Amperes::from_bits(scale::<MEAN_OVER_BITS>((current - mean).to_bits(), part))
}

/// The mean current after `charge` has moved within `time`, in whatever way.
///
/// As [`mean_after`] the steady current that moves it, for any time constant of a power of two of
/// microseconds; only a silence longer than that needs a division.
#[must_use]
pub(crate) fn mean_after_charge<const OVER_BITS: u32>(
    mean: Amperes,
    charge: Quanta,
    time: Duration,
) -> Amperes {
    // A quantum is half of what a bit of current moves in a microsecond.
    let moved = charge.halved().count();
    let micros = i64::try_from(time.to_micros()).unwrap_or(i64::MAX);
    if micros >> OVER_BITS != 0 {
        /// Leaves 256 steps of the shortest such time, and mostly 32 bits to divide.
        const COARSER_BITS: u32 = 18;
        return Amperes::from_bits(divide(moved >> COARSER_BITS, micros >> COARSER_BITS, 0));
    }
    let usual = i64::from(mean.to_bits()).wrapping_mul(micros);
    let more = moved.saturating_sub(usual) >> OVER_BITS;
    mean + Amperes::from_bits(narrow(more))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::board::Board;
    use crate::board::tests::described;
    use proptest::prelude::*;

    const fn amperes(whole: i32) -> Amperes {
        Amperes::from_whole(whole)
    }

    fn flow(current: i32, seconds: u64) -> Quanta {
        Quanta::between(amperes(current), amperes(current), Duration::from_secs(seconds))
    }

    /// Of a pack that gives and takes as much.
    fn limits(current: i32) -> Possible {
        let board = Board::new(described()).unwrap();
        let (discharge, charge) = (amperes(current), amperes(current));
        Possible { discharge, charge, ..board.possible().clone() }
    }

    #[test]
    fn a_regular_step_is_not_doubted() {
        let step = bridged(amperes(4), amperes(6), amperes(9), Duration::from_millis(200), false);
        assert_eq!(step.sigma, Quanta::ZERO);
        assert_eq!(
            step.charge,
            Quanta::between(amperes(5), amperes(5), Duration::from_millis(200))
        );
    }

    #[test]
    fn a_silent_night_costs_little_certainty() {
        let night = bridged(
            Amperes::from_milli(30),
            Amperes::from_milli(30),
            amperes(6),
            Duration::from_secs(500),
            true,
        );
        assert!(night.sigma < flow(1, 1));
    }

    #[test]
    fn a_counter_that_restarted_is_not_believed() {
        let bridge = bridged(amperes(5), amperes(5), amperes(5), Duration::from_secs(10), false);
        let (time, limits) = (Duration::from_secs(9), limits(30));
        let at = |ampere_seconds| flow(1, ampere_seconds);
        assert_eq!(counted(at(1000), at(1052), bridge, time, &limits), Some(at(52)));
        assert_eq!(counted(at(1000), at(3), bridge, time, &limits), None);
        assert_eq!(
            counted(at(200), at(3), bridge, time, &limits),
            None,
            "a jump that could just have been charge"
        );
    }

    #[test]
    fn a_counter_that_restarted_within_a_long_ride_is_not_believed() {
        let bridge = bridged(amperes(10), amperes(10), amperes(10), Duration::from_secs(55), false);
        let (time, limits) = (Duration::from_secs(54), limits(45));
        // It stood at 500 As, restarted, and has counted half of the silence since.
        assert_eq!(counted(flow(1, 500), flow(1, 275), bridge, time, &limits), None);
        assert_eq!(counted(flow(1, 500), flow(1, 1040), bridge, time, &limits), Some(flow(1, 540)));
    }

    #[test]
    fn after_a_silence_that_outlasts_the_mean_only_what_flowed_in_it_counts() {
        let mean = mean_after_charge::<MEAN_OVER_BITS>(
            amperes(20),
            flow(7, 100),
            Duration::from_secs(100),
        );
        assert!((mean - amperes(7)).magnitude() <= Amperes::from_milli(30), "{mean}");
    }

    proptest! {
        #[test]
        fn law_a_sparse_log_adds_up_to_its_trapezoids(
            currents in proptest::collection::vec(-20_i32..40, 2..60), millis in 1001_u64..60_000
        ) {
            let time = Duration::from_millis(millis);
            let pairs = || currents.windows(2).map(|pair| (amperes(pair[0]), amperes(pair[1])));
            let exact = pairs().fold(Quanta::ZERO, |sum, (from, to)| sum + Quanta::between(from, to, time));
            let told = pairs().fold(Quanta::ZERO, |sum, (from, to)| {
                sum + bridged(from, to, amperes(5), time, false).charge
            });
            prop_assert_eq!(told, exact);
        }

        #[test]
        fn law_a_longer_silence_is_never_surer(current in 0_i32..40, mean in 0_i32..40, seconds in 2_u64..300) {
            let sigma = |time| bridged(amperes(current), amperes(0), amperes(mean), Duration::from_secs(time), false).sigma;
            prop_assert!(sigma(seconds + 1) >= sigma(seconds));
        }

        #[test]
        fn law_what_is_possible_is_what_two_products_say(
            moved: i64, smaller in 0_u32..40, micros in 0_u64..(1 << 29), current in 1_i32..200
        ) {
            let (moved, time, limits) =
                (Quanta::from_count(moved >> smaller), Duration::from_micros(micros), limits(current));
            let most = Quanta::between(amperes(current), amperes(current), time + Duration::from_secs(1));
            prop_assert_eq!(is_possible(moved, time, &limits), moved.magnitude() <= most);
        }

        #[test]
        fn law_a_steady_current_and_its_charge_leave_the_same_mean(
            mean in -50_i32..50, current in -50_i32..50, micros in 0_u64..(1 << MEAN_OVER_BITS)
        ) {
            let time = Duration::from_micros(micros);
            let charge = Quanta::between(amperes(current), amperes(current), time);
            let (by_current, by_charge) =
                (mean_after(amperes(mean), amperes(current), time), mean_after_charge::<MEAN_OVER_BITS>(amperes(mean), charge, time));
            prop_assert!((by_current - by_charge).magnitude() <= Amperes::from_bits(1));
        }

        #[test]
        fn law_the_mean_stays_between_what_it_was_and_what_flows(mean in -50_i32..50, current in -50_i32..50, micros: u32) {
            let next = mean_after(amperes(mean), amperes(current), Duration::from_micros(u64::from(micros)));
            prop_assert!(next >= amperes(mean.min(current)) && next <= amperes(mean.max(current)));
        }
    }
}
