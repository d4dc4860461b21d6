//! The deliberate action that a key needs to be made, taken or changed.
//!
//! A button held for five seconds, on each end, with the board standing; then a minute in which a key
//! is made and shown, or taken over a wire. Used by firmware; gives a [`Key`], which a
//! [`super::Pair`] is made of. **An end that is `Open` has to drive nothing.**
//!
//! | state | the button | becomes |
//! | --- | --- | --- |
//! | `Closed` | held, as it was all the time since: one that sticks opens nothing | `Closed` |
//! | `Closed` | up | `Released` |
//! | `Released` | up | `Released` |
//! | any | the board rolls | `Closed` |
//! | `Released` | held, the board stands | `Held` |
//! | `Held` | up, or the clock steps back | `Closed` |
//! | `Held` | held for less than [`HOLD_FOR`] | `Held` |
//! | `Held` | held for [`HOLD_FOR`] | `Open` |
//! | `Open` | whatever it does, within [`OPEN_FOR`] of the opening | `Open` |
//! | `Open` | later, or the clock steps back | `Closed` |
//! | `Open` | a key was made or taken | `Closed` |

use super::key::{KEY_BYTES, Key, NotAKey};
use crate::time::{Duration, Instant};

/// The button has to be held for so long: longer than by chance in a pocket. No source.
pub const HOLD_FOR: Duration = Duration::from_secs(5);

/// A key may be set for so long: enough to type 36 digits. No source.
pub const OPEN_FOR: Duration = Duration::from_secs(60);

/// Whether a key may be set.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Pairing {
    /// It may not, and the button has not been seen up.
    #[default]
    Closed,
    /// It may not; the button is up.
    Released,
    /// The button is held, not long enough yet.
    Held {
        /// Since when.
        since: Instant,
    },
    /// It may.
    Open {
        /// Since when.
        since: Instant,
    },
}

/// Why no key was set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum NotPaired {
    /// Pairing is not open: the button has to be held first, on both ends.
    Closed,
    /// What was given is no key; pairing stays open for another try.
    Key(NotAKey),
}

impl core::fmt::Display for NotPaired {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Closed => f.write_str("pairing is not open: hold the button for 5 s, standing"),
            Self::Key(fault) => fault.fmt(f),
        }
    }
}

impl core::error::Error for NotPaired {}

impl Pairing {
    /// The state at `now`, with the button up or held and the board standing or not. A hand takes the
    /// last speed that it was told; one that has never heard a board, standing.
    #[must_use]
    pub fn after(self, now: Instant, button_held: bool, standing: bool) -> Self {
        match self {
            _ if !standing => Self::Closed,
            Self::Closed if button_held => Self::Closed,
            Self::Closed => Self::Released,
            Self::Released if button_held => Self::Held { since: now },
            Self::Released => Self::Released,
            Self::Held { since } => match now.since(since) {
                Some(held) if button_held && held >= HOLD_FOR => Self::Open { since: now },
                Some(_) if button_held => self,
                Some(_) | None => Self::Closed,
            },
            Self::Open { since } => match now.since(since) {
                Some(open) if open < OPEN_FOR => self,
                Some(_) | None => Self::Closed,
            },
        }
    }

    /// A key made at `now` of 16 bytes from a true source of chance, to be shown and told to the other
    /// end.
    ///
    /// # Errors
    /// [`NotPaired`].
    pub fn make(&mut self, now: Instant, chance: [u8; KEY_BYTES]) -> Result<Key, NotPaired> {
        self.set(now, Key::new(chance))
    }

    /// A key as it was shown at the other end, typed or sent over a wire by `now`.
    ///
    /// # Errors
    /// [`NotPaired`], with where the text is wrong.
    pub fn take(&mut self, now: Instant, text: &[u8]) -> Result<Key, NotPaired> {
        self.set(now, Key::from_text(text))
    }

    fn set(&mut self, now: Instant, key: Result<Key, NotAKey>) -> Result<Key, NotPaired> {
        // However long ago the state was last asked for.
        let Self::Open { since } = *self else { return Err(NotPaired::Closed) };
        if now.since(since).is_none_or(|open| open >= OPEN_FOR) {
            *self = Self::Closed;
            return Err(NotPaired::Closed);
        }
        let key = key.map_err(NotPaired::Key)?;
        *self = Self::Closed;
        Ok(key)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const CHANCE: [u8; 16] = [9, 8, 7, 6, 5, 4, 3, 2, 1, 0, 1, 2, 3, 4, 5, 6];

    fn open() -> Pairing {
        Pairing::Open { since: Instant::from_millis(10_000) }
    }

    #[test]
    fn every_cell_of_the_table() {
        let at = Instant::from_millis;
        let held = Pairing::Held { since: at(10_000) };
        for (before, now, button, standing, expected) in [
            (Pairing::Closed, 10_000, false, true, Pairing::Released),
            (Pairing::Closed, 10_000, true, false, Pairing::Closed),
            (Pairing::Closed, 10_000, true, true, Pairing::Closed),
            (Pairing::Released, 10_000, false, true, Pairing::Released),
            (Pairing::Released, 10_000, true, false, Pairing::Closed),
            (Pairing::Released, 10_000, true, true, held),
            (held, 12_000, false, true, Pairing::Closed),
            (held, 12_000, true, false, Pairing::Closed),
            (held, 9_999, true, true, Pairing::Closed),
            (held, 14_999, true, true, held),
            (held, 15_000, true, true, Pairing::Open { since: at(15_000) }),
            (open(), 69_999, false, true, open()),
            (open(), 69_999, true, true, open()),
            (open(), 70_000, true, true, Pairing::Closed),
            (open(), 30_000, false, false, Pairing::Closed),
            (open(), 9_999, false, true, Pairing::Closed),
        ] {
            assert_eq!(before.after(at(now), button, standing), expected, "{before:?} {now}");
        }
    }

    #[test]
    fn a_key_is_set_once_while_open_and_a_mistyped_one_may_be_tried_again() {
        let now = Instant::from_millis(20_000);
        let mut here = open();
        let key = here.make(now, CHANCE).unwrap();
        assert_eq!(here, Pairing::Closed);
        assert_eq!(here.make(now, CHANCE), Err(NotPaired::Closed));
        let (mut there, text) = (open(), key.text());
        let short = NotPaired::Key(NotAKey::Length { given: 35, wanted: 36 });
        assert_eq!(there.take(now, &text[1..]), Err(short));
        assert_eq!(there.take(now, &text), Ok(key));
        assert_eq!(there.take(now, &text), Err(NotPaired::Closed));
        let mut here = open();
        let nothing = NotPaired::Key(NotAKey::NoChance { byte: 0 });
        assert_eq!(here.make(now, [0; 16]), Err(nothing));
        let late = Instant::from_millis(70_000);
        assert_eq!(here.make(late, CHANCE), Err(NotPaired::Closed), "a minute is over");
    }

    proptest! {
        #[test]
        fn law_no_key_is_set_without_a_button_held_for_five_seconds_at_a_stand(
            steps in prop::collection::vec((1_u64..4_000, any::<bool>(), prop::bool::weighted(0.9)), 1..200),
        ) {
            let (mut pairing, mut now, mut held_for, mut left_open) = (Pairing::Closed, 0, None, 0);
            for (millis, button, standing) in steps {
                now += millis;
                left_open = left_open.min(60_000_u64).saturating_sub(millis);
                pairing = pairing.after(Instant::from_millis(now), button, standing);
                held_for = match held_for {
                    Some(held) if button && standing => Some(held + millis),
                    None if button && standing => Some(0),
                    _ => None,
                };
                if held_for.is_some_and(|held| held >= 5000) {
                    left_open = 60_001;
                }
                let set = pairing.make(Instant::from_millis(now), CHANCE).is_ok();
                prop_assert!(!set || left_open > 0 && standing);
                if set {
                    left_open = 0;
                    held_for = None;
                }
            }
        }
    }
}
