//! Which counters have been heard: nothing is taken twice, and nothing from long ago.
//!
//! Kept by `peer` for each sender; asked before a frame is opened, moved after it has proved authentic.
//! Source: RFC 4303, section 3.4.3 and appendix A2: a window of 64 whose right edge moves only after
//! authentication; what is left of it is dropped.

/// How many counters back are told apart.
pub const WINDOW: u32 = 64;

/// Where a counter lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Place {
    /// Newer than all before; so many were passed over.
    Newer {
        /// How many between it and the newest before.
        skipped: u32,
    },
    /// Older than the newest, within the window and not heard yet.
    Late,
    /// Heard already.
    Repeated,
    /// Left of the window: it cannot be told any more.
    TooOld,
}

/// The newest counter, and which of those before it were heard.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub(super) struct Window {
    newest: u32,
    /// Bit `n` is the counter `newest - n`; none is set before anything was heard.
    heard: u64,
}

impl Window {
    /// Where `counter` lies.
    pub(super) const fn place(self, counter: u32) -> Place {
        if self.heard == 0 {
            return Place::Newer { skipped: 0 };
        }
        if counter > self.newest {
            // At least one apart.
            return Place::Newer { skipped: counter.wrapping_sub(self.newest).wrapping_sub(1) };
        }
        let back = self.newest.wrapping_sub(counter);
        if back >= WINDOW {
            Place::TooOld
        } else if self.heard.wrapping_shr(back) & 1 == 1 {
            Place::Repeated
        } else {
            Place::Late
        }
    }

    /// The window once an authentic frame with `counter` has been heard.
    #[must_use]
    pub(super) fn after(self, counter: u32) -> Self {
        if self.heard == 0 {
            return Self { newest: counter, heard: 1 };
        }
        match counter.checked_sub(self.newest) {
            Some(ahead) if ahead > 0 => {
                let kept = if ahead < WINDOW { self.heard.wrapping_shl(ahead) } else { 0 };
                Self { newest: counter, heard: kept | 1 }
            }
            Some(_) | None => {
                let back = self.newest.wrapping_sub(counter);
                let bit = if back < WINDOW { 1_u64.wrapping_shl(back) } else { 0 };
                Self { heard: self.heard | bit, ..self }
            }
        }
    }

    /// The newest counter; nothing where none was heard.
    pub(super) const fn newest(self) -> Option<u32> {
        if self.heard == 0 { None } else { Some(self.newest) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::collections::HashSet;

    #[test]
    fn the_window_is_as_wide_as_it_says_and_the_first_counter_may_be_any() {
        for first in [0, 5, 1000, u32::MAX] {
            let window = Window::default().after(first);
            assert_eq!(window.place(first), Place::Repeated);
            assert_eq!(window.newest(), Some(first));
        }
        let window = Window::default().after(100);
        assert_eq!(window.place(101), Place::Newer { skipped: 0 });
        assert_eq!(window.place(104), Place::Newer { skipped: 3 });
        assert_eq!(window.place(99), Place::Late);
        assert_eq!(window.place(37), Place::Late);
        assert_eq!(window.place(36), Place::TooOld);
        assert_eq!(window.after(u32::MAX).place(100), Place::TooOld);
    }

    proptest! {
        #[test]
        fn law_a_counter_is_taken_once_and_the_window_agrees_with_a_set(
            steps in prop::collection::vec((0_u32..200, any::<bool>()), 1..400), start in 0_u32..1000,
        ) {
            let (mut window, mut taken) = (Window::default(), HashSet::new());
            for (offset, forged) in steps {
                let counter = start + offset;
                let newest = taken.iter().max().copied();
                let expected = match newest {
                    None => Place::Newer { skipped: 0 },
                    Some(newest) if counter > newest => Place::Newer { skipped: counter - newest - 1 },
                    Some(newest) if newest - counter >= 64 => Place::TooOld,
                    Some(_) if taken.contains(&counter) => Place::Repeated,
                    Some(_) => Place::Late,
                };
                prop_assert_eq!(window.place(counter), expected);
                // What is forged never moves the edge.
                if !forged && matches!(expected, Place::Newer { .. } | Place::Late) {
                    window = window.after(counter);
                    taken.insert(counter);
                }
            }
        }
    }
}
