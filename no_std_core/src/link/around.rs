//! Counters that go around on air, made whole again.
//!
//! Used by `hand`. What moved since the last frame is taken the shorter way around, so that only a
//! silence in which half a turn passed is misread; charge has 72 Ah for that, the way 4 km.

/// A counter of `BITS` bits, followed from frame to frame.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub(super) struct Around<const BITS: u32> {
    last: Option<u32>,
    whole: i32,
}

impl<const BITS: u32> Around<BITS> {
    /// The whole count, once `count` was heard; a board without one begins anew.
    pub(super) fn heard(&mut self, count: Option<u32>) -> Option<i32> {
        let Some(count) = count else {
            *self = Self::default();
            return None;
        };
        let moved = signed::<BITS>(count.wrapping_sub(self.last.unwrap_or(0)));
        let before = if self.last.is_some() { self.whole } else { 0 };
        self.whole = before.saturating_add(moved);
        self.last = Some(count);
        Some(self.whole)
    }
}

/// The lowest `BITS` bits with their sign.
const fn signed<const BITS: u32>(count: u32) -> i32 {
    let up = const { 32_u32.saturating_sub(BITS) };
    count.wrapping_shl(up).cast_signed() >> up
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_counter_starts_at_its_value_with_sign_and_a_restart_is_seen_as_one() {
        let mut way = Around::<16>::default();
        assert_eq!(way.heard(Some(0xFFF0)), Some(-16));
        assert_eq!(way.heard(Some(4)), Some(4));
        assert_eq!(way.heard(None), None);
        assert_eq!(way.heard(Some(300)), Some(300));
        assert_eq!(way.heard(Some(0)), Some(0));
    }

    proptest! {
        #[test]
        fn law_what_moves_less_than_half_a_turn_is_followed(
            start in -32_768_i32..32_768, moves in prop::collection::vec(-32_767_i32..32_768, 0..100),
        ) {
            let mut way = Around::<16>::default();
            let on_air = |whole: i32| Some(whole.cast_unsigned() & 0xFFFF);
            let mut whole = start;
            prop_assert_eq!(way.heard(on_air(whole)), Some(whole));
            for moved in moves {
                whole += moved;
                prop_assert_eq!(way.heard(on_air(whole)), Some(whole));
            }
        }
    }
}
