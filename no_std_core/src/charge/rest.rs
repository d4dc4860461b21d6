//! Tells since when the pack has been still, and what its voltage has been meanwhile.
//!
//! While a cell rests its voltage creeps towards the resting one. It is averaged over windows
//! that double in length (2 to 4 s, 4 to 8 s, ...); each full window is handed on together with
//! the one before it, for [`super::relaxation`] to see how far it crept. Fed by `charge` with
//! each frame. Keeps sums, no samples.

use crate::math::divide;
use crate::time::{Duration, Instant};
use crate::units::Volts;

/// The first window ends here after the current stops; before it the fast part of the
/// relaxation still runs, which a window cannot see.
const FIRST_WINDOW: Duration = Duration::from_secs(4);

/// A silence longer than this ends a rest, unless the voltage stands where it stood: three times
/// the longest burst that a radio is expected to lose. Common practice, no source.
const LONGEST_SILENCE: Duration = Duration::from_secs(60);

/// A voltage that moved by no more than this over a silence shows that nothing else did: a ride of
/// a few minutes takes more, on any stretch of a curve on which a voltage is worth anything.
const STOOD_WITHIN: Volts = Volts::from_milli(15);

/// Whether charge moves, and what has been seen since it does not.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Rest {
    /// It moves, or nothing has been measured yet.
    #[default]
    Moving,
    /// It has not moved for a while.
    Still {
        /// When the stillness began.
        since: Instant,
        /// When it was last seen.
        seen: Instant,
        /// The cell's voltage then.
        volts: Volts,
        /// What the window that is being filled has so far.
        window: Window,
        /// The window before it, once one is full.
        before: Option<Window>,
    },
}

/// Sums over one window.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Window {
    /// How long after the rest began the window ends; it began at half of that.
    ends_after: Duration,
    volts: i64,
    strain: i64,
    count: u32,
}

/// One cell at one moment of a rest.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(crate) struct Sample {
    /// Its voltage, with the small drop of the current that still flows taken off.
    pub(crate) volts: Volts,
    /// What recent load left behind, if all of it stayed.
    pub(crate) strain: Volts,
}

/// What a full window held.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(crate) struct Mean {
    /// The mean voltage of a cell.
    pub(crate) volts: Volts,
    /// The mean of what recent load left behind, if all of it stayed.
    pub(crate) strain: Volts,
    /// How long after the rest began the window ended.
    pub(crate) ends_after: Duration,
}

impl Window {
    const fn ending(ends_after: Duration) -> Self {
        Self { ends_after, volts: 0, strain: 0, count: 0 }
    }

    /// The first window that ends after `age`, counted in doublings from this one.
    fn at(self, age: Duration) -> Self {
        let mut ends_after = self.ends_after;
        // At most as many steps as there are bits: the length doubles until it is there.
        while ends_after < age {
            ends_after = ends_after + ends_after;
        }
        Self::ending(ends_after)
    }

    fn with(self, sample: Sample) -> Self {
        Self {
            volts: self.volts.saturating_add(i64::from(sample.volts.to_bits())),
            strain: self.strain.saturating_add(i64::from(sample.strain.to_bits())),
            count: self.count.saturating_add(1),
            ..self
        }
    }

    /// Its means; two divisions.
    pub(crate) fn mean(self) -> Mean {
        let mean = |sum| Volts::from_bits(divide(sum, i64::from(self.count), 0));
        Mean { volts: mean(self.volts), strain: mean(self.strain), ends_after: self.ends_after }
    }
}

/// A window that has become full, and the one before it.
pub(crate) type Pair = (Window, Window);

impl Rest {
    /// The state after a frame at `now` in which the current counts as none, and two windows where
    /// the second has just become full. Whoever sees a current makes it `Moving`.
    ///
    /// | state | still | after a long silence in which the voltage moved | clock stepped back |
    /// | --- | --- | --- | --- |
    /// | `Moving` | `Still` from now | `Still` from now | `Still` from now |
    /// | `Still` | `Still`, window filled | `Still` from now | `Still` from now |
    #[must_use]
    pub(crate) fn after(self, now: Instant, sample: Sample) -> (Self, Option<Pair>) {
        match self {
            Self::Moving => (Self::from(now, sample), None),
            Self::Still { since, seen, volts, window, before } => {
                let (Some(age), Some(silence)) = (now.since(since), now.since(seen)) else {
                    return (Self::from(now, sample), None);
                };
                let stood = (sample.volts - volts).magnitude() <= STOOD_WITHIN;
                if silence > LONGEST_SILENCE && !stood {
                    return (Self::from(now, sample), None);
                }
                let volts = sample.volts;
                let opens_after = Duration::from_micros(window.ends_after.to_micros() >> 1);
                if age <= opens_after {
                    return (Self::Still { since, seen: now, volts, window, before }, None);
                }
                if age <= window.ends_after {
                    let window = window.with(sample);
                    return (Self::Still { since, seen: now, volts, window, before }, None);
                }
                let full = (window.count > 0).then_some(window);
                let pair = before.zip(full);
                let window = window.at(age).with(sample);
                (Self::Still { since, seen: now, volts, window, before: full.or(before) }, pair)
            }
        }
    }

    fn from(now: Instant, sample: Sample) -> Self {
        Self::Still {
            since: now,
            seen: now,
            volts: sample.volts,
            window: Window::ending(FIRST_WINDOW),
            before: None,
        }
    }

    /// For how long the pack has been still at `now`.
    #[must_use]
    pub fn still_for(&self, now: Instant) -> Option<Duration> {
        match self {
            Self::Moving => None,
            Self::Still { since, .. } => now.since(*since),
        }
    }
}

#[cfg(test)]
mod tests;
