//! Instants and lengths of time, in microseconds. The library never reads a clock.
//!
//! The caller says what time it is with every call. A clock that stands still, is late or steps
//! back is normal life: [`Instant::since`] then gives no time rather than a negative one, and
//! whoever asks decides what an unknown gap means. A short hardware counter that wraps is made
//! long by [`WrappingCounter`].

use core::num::NonZeroU64;

/// A length of time in microseconds; sums saturate.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Duration(u64);

impl Duration {
    /// No time.
    pub const ZERO: Self = Self(0);

    /// A length from microseconds.
    #[must_use]
    pub const fn from_micros(micros: u64) -> Self {
        Self(micros)
    }

    /// A length from milliseconds, saturating.
    #[must_use]
    pub const fn from_millis(millis: u64) -> Self {
        Self(millis.saturating_mul(1000))
    }

    /// A length from seconds, saturating.
    #[must_use]
    pub const fn from_secs(seconds: u64) -> Self {
        Self(seconds.saturating_mul(1_000_000))
    }

    /// The length in microseconds.
    #[must_use]
    pub const fn to_micros(self) -> u64 {
        self.0
    }

    /// The length in whole milliseconds, rounded down.
    #[must_use]
    pub const fn to_millis(self) -> u64 {
        self.0.wrapping_div(1000)
    }
}

impl core::ops::Add for Duration {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0))
    }
}

impl core::ops::Sub for Duration {
    type Output = Self;
    /// How much longer it is; nothing where it is shorter.
    fn sub(self, other: Self) -> Self {
        Self(self.0.saturating_sub(other.0))
    }
}

/// A point in time: microseconds since some start that the caller chose, up to `u64::MAX - 1` (held to
/// that).
///
/// Kept as one more than that, so that an instant that may be missing takes no room for saying so.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Instant(NonZeroU64);

impl Default for Instant {
    /// The start.
    fn default() -> Self {
        Self::from_micros(0)
    }
}

impl core::fmt::Debug for Instant {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.debug_tuple("Instant").field(&self.to_micros()).finish()
    }
}

impl Instant {
    /// A point from microseconds since the start.
    #[must_use]
    pub const fn from_micros(micros: u64) -> Self {
        Self(NonZeroU64::MIN.saturating_add(micros))
    }

    /// A point from milliseconds since the start, saturating.
    #[must_use]
    pub const fn from_millis(millis: u64) -> Self {
        Self::from_micros(millis.saturating_mul(1000))
    }

    /// Microseconds since the start.
    #[must_use]
    pub const fn to_micros(self) -> u64 {
        self.0.get().wrapping_sub(1)
    }

    /// How long ago `earlier` was; nothing where the clock has stepped back since.
    #[must_use]
    pub const fn since(self, earlier: Self) -> Option<Duration> {
        match self.0.get().checked_sub(earlier.0.get()) {
            Some(micros) => Some(Duration(micros)),
            None => None,
        }
    }
}

impl core::ops::Add<Duration> for Instant {
    type Output = Self;
    fn add(self, length: Duration) -> Self {
        Self(self.0.saturating_add(length.0))
    }
}

/// Makes an [`Instant`] out of a 32-bit microsecond counter that wraps every 71.6 minutes.
///
/// It has to be asked at least once per wrap. A reading smaller than the last one *is* a wrap.
#[derive(Clone, Copy, Debug, Default)]
pub struct WrappingCounter {
    last: u32,
    wraps: u32,
}

impl WrappingCounter {
    /// The instant that belongs to the counter's reading.
    pub fn instant(&mut self, reading: u32) -> Instant {
        if reading < self.last {
            self.wraps = self.wraps.saturating_add(1);
        }
        self.last = reading;
        Instant::from_micros((u64::from(self.wraps) << 32) | u64::from(reading))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clock_that_steps_back_gives_no_length() {
        assert_eq!(Instant::from_millis(5).since(Instant::from_millis(6)), None);
        assert_eq!(Instant::from_millis(6).since(Instant::from_millis(6)), Some(Duration::ZERO));
    }

    #[test]
    fn an_instant_that_may_be_missing_takes_no_more_room() {
        assert_eq!(size_of::<Option<Instant>>(), size_of::<Instant>());
        for micros in [0, 1, u64::MAX - 1] {
            assert_eq!(Instant::from_micros(micros).to_micros(), micros);
        }
        assert_eq!(Instant::from_micros(u64::MAX).to_micros(), u64::MAX - 1);
    }

    #[test]
    fn a_counter_that_wraps_goes_on_counting() {
        let mut counter = WrappingCounter::default();
        let before = counter.instant(u32::MAX - 10);
        let after = counter.instant(9);
        assert_eq!(after.since(before), Some(Duration::from_micros(20)));
    }
}
