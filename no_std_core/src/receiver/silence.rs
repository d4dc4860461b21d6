//! What a silence leaves of the drive, by how long it has lasted.
//!
//! Asked by the receiver's tick. The stated times run from the moment a frame arrives; the constants
//! leave room for a frame that is handed in a tick late and for what happens between two ticks, so that
//! with ticks up to [`LONGEST_TICK`] apart the stated times hold.

use crate::time::Duration;
use crate::units::Ratio;

/// The receiver has to be asked this often. Half of what passes between two commands: the longer it is,
/// the earlier drive has to begin to fall.
pub const LONGEST_TICK: Duration = Duration::from_millis(10);

/// Drive is held for no longer than this after the last good frame: three frames in a row are lost on a
/// usual radio, and nobody is to feel that. Common practice, no source.
pub const HELD_FOR: Duration = Duration::from_millis(100);

/// Drive is zero no later than this after the last good frame: what a rider needs to react to light
/// (0.25 s, second hand) is no shorter.
pub const GONE_WITHIN: Duration = Duration::from_millis(250);

/// After a silence no longer than this the demand comes back by itself. A second is about the shortest
/// that a rider takes for more than a hitch. Common practice, no source.
pub const SHORT: Duration = Duration::from_secs(1);

/// Two ticks before the stated end of holding: one for a frame that is handed in late, and one for what
/// happens before the next.
pub(super) const FALLS_AFTER_US: u32 = 80_000;

/// Likewise before the stated end of drive.
pub(super) const GONE_AFTER_US: u32 = 230_000;

/// 2^24 over the time between, with 16 more bits.
const PER_US: u64 = (1 << 40) / 150_000;

/// The share of the drive that was held which is left after a silence of so many microseconds.
///
/// Laws: all of it up to two ticks before [`HELD_FOR`], never more as time goes by, nothing from two
/// ticks before [`GONE_WITHIN`].
#[must_use]
pub fn drive_left(silent_us: u32) -> Ratio {
    if silent_us <= FALLS_AFTER_US {
        return Ratio::ONE;
    }
    let left = u64::from(GONE_AFTER_US.saturating_sub(silent_us));
    let share = left.wrapping_mul(PER_US) >> 16;
    Ratio::from_bits(i32::try_from(share).unwrap_or(0)).min(Ratio::ONE)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn law_what_is_left_never_grows_and_ends_in_time(a in 0_u32..300_000, b in 0_u32..300_000) {
            prop_assert!(drive_left(a.max(b)) <= drive_left(a.min(b)));
            prop_assert!(a > FALLS_AFTER_US || drive_left(a) == Ratio::ONE);
            prop_assert!(a < GONE_AFTER_US || drive_left(a) == Ratio::ZERO);
        }
    }

    #[test]
    fn half_way_is_half() {
        let half = drive_left(155_000).to_f64();
        assert!((half - 0.5).abs() < 1e-4, "{half}");
    }
}
