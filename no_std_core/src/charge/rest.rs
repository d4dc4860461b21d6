//! Tells since when the pack has been still, and what its voltage will come to rest at.
//!
//! While a cell rests its voltage creeps towards the resting one. The mean voltages of windows
//! that double in length (2 to 4 s, 4 to 8 s, ...) are compared: the creep from one to the next
//! tells how much is still to come. Fed by `charge` with each frame; gives a [`Reading`] each
//! time a window is full. Keeps two sums, no samples.
//!
//! Source of the shape: a relaxation whose time constant grows linearly with the time at rest
//! (Pei, Wang, Lu, Zhu, J. Power Sources 253, 2014, 412-418). The two numbers of that line are
//! ours, see [`TIME_CONSTANT_AT_ONCE`].

use super::evidence::Reading;
use crate::board::Board;
use crate::math::{divide, narrow};
use crate::time::{Duration, Instant};
use crate::units::{Ratio, Volts};

/// The time constant of the creep when the rest begins, and how much of the time at rest is added
/// to it. Chosen on the rests within the reference rides (three kinds of nickel-rich cells, one
/// cobalt, 0 to 35 °C): what was still to come over the rate of creep was 34 to 45 s up to 30 s of
/// rest, 50 to 140 s after two minutes, about 200 s after four. The spread around this line is
/// [`GUESS_IS_WORTH`]; `homestretch-checks accuracy` shows what comes of it.
const TIME_CONSTANT_AT_ONCE: Duration = Duration::from_secs(32);
/// See [`TIME_CONSTANT_AT_ONCE`]: half a second per second.
const TIME_CONSTANT_GROWS_BY_HALF: u32 = 1;

/// One sigma of the guess, as a share of what is guessed; same source.
const GUESS_IS_WORTH: Ratio = Ratio::from_percent(40);

/// The first window ends here after the current stops; before it the fast part of the
/// relaxation still runs, which a window cannot see.
const FIRST_WINDOW: Duration = Duration::from_secs(4);

/// A silence longer than this ends a rest: something may have moved meanwhile. Twice the longest
/// burst that a radio is expected to lose, so that a lost minute does not cost the night.
const LONGEST_SILENCE: Duration = Duration::from_secs(60);

/// Whether charge moves, and what has been seen since it does not.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
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
        /// What the window that is being filled has so far.
        window: Window,
        /// The mean of the window before it, once there is one.
        before: Option<Mean>,
    },
}

/// Sums over one window.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Window {
    /// How long after the rest began the window ends; it began at half of that.
    pub(crate) ends_after: Duration,
    sum: i64,
    count: u32,
}

/// The mean voltage of a full window.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Mean {
    volts: Volts,
    ends_after: Duration,
}

impl Window {
    const fn ending(ends_after: Duration) -> Self {
        Self { ends_after, sum: 0, count: 0 }
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

    fn with(self, volts: Volts) -> Self {
        let sum = self.sum.saturating_add(i64::from(volts.to_bits()));
        Self { sum, count: self.count.saturating_add(1), ..self }
    }

    fn mean(self) -> Option<Mean> {
        (self.count > 0).then(|| Mean {
            volts: Volts::from_bits(divide(self.sum, i64::from(self.count), 0)),
            ends_after: self.ends_after,
        })
    }
}

impl Rest {
    /// The state after a frame at `now`, and a reading where a window has just become full.
    ///
    /// `still` says whether the current counts as none; `resting` is the cell's voltage with the
    /// small drop of that current taken off.
    ///
    /// | state | moves | still | still, after a silence too long | clock stepped back |
    /// | --- | --- | --- | --- | --- |
    /// | `Moving` | `Moving` | `Still` from now | `Still` from now | `Still` from now |
    /// | `Still` | `Moving` | `Still`, window filled | `Still` from now | `Still` from now |
    #[must_use]
    pub(crate) fn after(
        self,
        now: Instant,
        still: bool,
        resting: Volts,
        board: &Board,
    ) -> (Self, Option<Reading>) {
        match self {
            _ if !still => (Self::Moving, None),
            Self::Moving => (Self::from(now), None),
            Self::Still { since, seen, window, before } => {
                let (Some(age), Some(silence)) = (now.since(since), now.since(seen)) else {
                    return (Self::from(now), None);
                };
                if silence > LONGEST_SILENCE {
                    return (Self::from(now), None);
                }
                let opens_after = Duration::from_micros(window.ends_after.to_micros() >> 1);
                if age <= opens_after {
                    return (Self::Still { since, seen: now, window, before }, None);
                }
                if age <= window.ends_after {
                    let window = window.with(resting);
                    return (Self::Still { since, seen: now, window, before }, None);
                }
                let full = window.mean();
                let reading = full.zip(before).map(|(mean, earlier)| mean.reading(earlier, board));
                let window = window.at(age).with(resting);
                (Self::Still { since, seen: now, window, before: full.or(before) }, reading)
            }
        }
    }

    fn from(now: Instant) -> Self {
        Self::Still { since: now, seen: now, window: Window::ending(FIRST_WINDOW), before: None }
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

impl Mean {
    /// Where the creep from the mean `earlier` to this one leads.
    fn reading(self, earlier: Self, board: &Board) -> Reading {
        let creep = self.volts - earlier.volts;
        let gain = self.still_to_come_per_creep(earlier);
        let to_come = creep.scaled(gain);
        // Each mean is good to about half a step of the sensor, as its noise moves it within the
        // step; the creep is the difference of two, and what is to come multiplies it.
        let step = board.mean_cell(board.sensors().voltage_step);
        let of_mean = step.scaled(Ratio::from_fraction(144, 1000));
        let of_creep = of_mean.scaled(gain).scaled(Ratio::from_fraction(1414, 1000));
        Reading {
            resting: self.volts + to_come,
            relaxation_doubt: to_come.scaled(GUESS_IS_WORTH),
            noise: of_mean.max(of_creep),
        }
    }

    /// Time constant over the time between the middles of the two windows.
    fn still_to_come_per_creep(self, earlier: Self) -> Ratio {
        let micros = |length: Duration| i64::try_from(length.to_micros()).unwrap_or(i64::MAX);
        // The middle of a window is at three quarters of its end.
        let apart =
            micros(self.ends_after).saturating_sub(micros(earlier.ends_after)).saturating_mul(3)
                >> 2;
        let constant = micros(TIME_CONSTANT_AT_ONCE)
            .saturating_add(micros(self.ends_after) >> TIME_CONSTANT_GROWS_BY_HALF);
        let gain = divide(constant, apart.max(1), Ratio::FRACTION_BITS);
        Ratio::from_bits(narrow(i64::from(gain)))
    }
}

#[cfg(test)]
mod tests;
