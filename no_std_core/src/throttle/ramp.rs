//! A share that falls in a straight line between two readings: the shape of every slow limit.
//!
//! Used by `limits`, which says where each one begins and ends. The reciprocal is prepared when
//! the settings are built. Textbook straight line, no source.

use super::error::{Error, Quantity, thousandths, within};
use super::reasons::Reason;
use crate::math::{between, narrow};
use crate::time::Duration;
use crate::units::{Amperes, Celsius, MetresPerSecond, Ratio, Volts};

/// Between which readings a limit acts.
///
/// Whether `begin` has to lie above or below `end` is the limit's own: a voltage limits on its way
/// down, a speed on its way up.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Band<T> {
    /// Up to here everything is left.
    pub begin: T,
    /// From here on only the least is left.
    pub end: T,
}

/// A quantity that a limit can look at.
pub(super) trait Reading: Copy {
    /// Its fixed-point number; of any scale, but rising.
    fn bits(self) -> i32;
    /// Thousandths of its unit, for errors.
    fn milli(self) -> i32;
}

/// A reading as a number, and as errors tell it.
#[derive(Clone, Copy)]
struct Told {
    bits: i32,
    milli: i32,
}

macro_rules! reading {
    ($($quantity:ident),*) => {$(
        impl Reading for $quantity {
            fn bits(self) -> i32 {
                self.to_bits()
            }
            fn milli(self) -> i32 {
                thousandths(self.to_micro())
            }
        }
    )*};
}

reading!(Volts, Amperes, Celsius, MetresPerSecond, Ratio);

impl Reading for Duration {
    /// In 1.024 ms, since a shift is no division; a month and more is all the same.
    fn bits(self) -> i32 {
        i32::try_from(self.to_micros() >> 10).unwrap_or(i32::MAX)
    }
    fn milli(self) -> i32 {
        i32::try_from(self.to_millis()).unwrap_or(i32::MAX)
    }
}

/// On which way a limit acts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) enum Acts {
    /// As the reading falls.
    Falling,
    /// As the reading rises.
    Rising,
}

/// What a band may be, in thousandths of its unit.
#[derive(Clone, Copy, Debug)]
pub(super) struct Bounds {
    /// The lowest reading.
    pub(super) lowest: i32,
    /// The highest reading.
    pub(super) highest: i32,
    /// The narrowest band: a limit that is a switch would be felt as one.
    pub(super) narrowest: i32,
}

/// A band made ready for looking up shares.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(super) struct Ramp {
    from: i32,
    to: i32,
    at_from: Ratio,
    at_to: Ratio,
    /// 2^40 over the distance.
    reciprocal: i64,
}

impl Ramp {
    /// The share from 1 at the band's begin to `least` (0 to 1) at its end.
    ///
    /// # Errors
    /// [`Error::OutOfRange`]: `BandBegin` outside the bounds, `BandEnd` outside them or too near
    /// or on the wrong side, `ShareLeft` not within 0 and 1.
    #[inline(never)]
    fn new(
        reason: Reason,
        band: Band<Told>,
        acts: Acts,
        least: Ratio,
        bounds: Bounds,
    ) -> Result<Self, Error> {
        let Bounds { lowest, highest, narrowest } = bounds;
        within(Quantity::ShareLeft(reason), least.milli(), 0, 1000)?;
        let (begin, end) = (band.begin.milli, band.end.milli);
        within(Quantity::BandBegin(reason), begin, lowest, highest)?;
        let (lowest, highest) = match acts {
            Acts::Falling => (lowest, begin.saturating_sub(narrowest)),
            Acts::Rising => (begin.saturating_add(narrowest), highest),
        };
        within(Quantity::BandEnd(reason), end, lowest, highest)?;
        let least = least.held_within(Ratio::ZERO, Ratio::ONE);
        let (begin, end) = ((band.begin.bits, Ratio::ONE), (band.end.bits, least));
        Ok(match acts {
            Acts::Falling => Self::between(end, begin),
            Acts::Rising => Self::between(begin, end),
        })
    }

    /// The line between two points, the first with the smaller reading.
    pub(super) fn between((from, at_from): (i32, Ratio), (to, at_to): (i32, Ratio)) -> Self {
        let distance = i64::from(to).saturating_sub(i64::from(from)).max(1);
        let reciprocal = (1_i64 << 40).checked_div(distance).unwrap_or(0);
        Self { from, to, at_from, at_to, reciprocal }
    }

    /// The share at a reading. Law: monotone, and never outside its two ends.
    pub(super) fn at<T: Reading>(&self, reading: T) -> Ratio {
        let reading = reading.bits();
        if reading <= self.from {
            self.at_from
        } else if reading >= self.to {
            self.at_to
        } else {
            // Less than the distance times 2^40 over the distance: it fits.
            let along = i64::from(reading).saturating_sub(i64::from(self.from));
            let part = narrow(along.wrapping_mul(self.reciprocal) >> 16);
            Ratio::from_bits(between::<24>(self.at_from.to_bits(), self.at_to.to_bits(), part))
        }
    }
}

/// Makes one ramp after the other and keeps the first fault, so that fifteen of them need no fifteen
/// ways out.
#[derive(Debug, Default)]
pub(super) struct Ramps {
    fault: Option<Error>,
}

impl Ramps {
    /// A ramp as [`Ramp::new`] makes it, acting on one side and leaving a share; a flat one where it may
    /// not be.
    pub(super) fn ramp<T: Reading>(
        &mut self,
        reason: Reason,
        band: Band<T>,
        shape: (Acts, Ratio),
        bounds: Bounds,
    ) -> Ramp {
        let told = |reading: T| Told { bits: reading.bits(), milli: reading.milli() };
        let band = Band { begin: told(band.begin), end: told(band.end) };
        self.told(reason, band, shape, bounds)
    }

    #[inline(never)]
    fn told(
        &mut self,
        reason: Reason,
        band: Band<Told>,
        (acts, least): (Acts, Ratio),
        bounds: Bounds,
    ) -> Ramp {
        match Ramp::new(reason, band, acts, least, bounds) {
            Ok(ramp) => ramp,
            Err(fault) => {
                self.check(Err(fault));
                Ramp::between((0, Ratio::ONE), (1, Ratio::ONE))
            }
        }
    }

    /// Keeps a fault that was found otherwise.
    pub(super) fn check(&mut self, found: Result<(), Error>) {
        if let Err(fault) = found {
            self.fault.get_or_insert(fault);
        }
    }

    /// # Errors
    /// The first fault.
    pub(super) fn first_fault(self) -> Result<(), Error> {
        self.fault.map_or(Ok(()), Err)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn ramp(band: Band<Volts>, acts: Acts, least: Ratio) -> Result<Ramp, Error> {
        let mut ramps = Ramps::default();
        let ramp = ramps.ramp(Reason::Sagging, band, (acts, least), BOUNDS);
        ramps.first_fault().map(|()| ramp)
    }

    const BOUNDS: Bounds = Bounds { lowest: 1000, highest: 100_000, narrowest: 100 };

    fn volts(milli: i32) -> Volts {
        Volts::from_milli(milli)
    }

    proptest! {
        #[test]
        fn law_a_ramp_is_monotone_and_stays_between_its_ends(
            band in (1100_i32..50_000, 100_i32..50_000), least in 0_i32..=1000,
            falling: bool, readings in any::<(i32, i32)>(),
        ) {
            let (low, high) = (volts(band.0), volts(band.0 + band.1));
            let (band, acts) = if falling {
                (Band { begin: high, end: low }, Acts::Falling)
            } else {
                (Band { begin: low, end: high }, Acts::Rising)
            };
            let least = Ratio::from_milli(least);
            let ramp = ramp(band, acts, least).unwrap();
            let (less, more) = (readings.0.min(readings.1), readings.0.max(readings.1));
            let (less, more) = (ramp.at(Volts::from_bits(less)), ramp.at(Volts::from_bits(more)));
            let (low_share, high_share) = if falling { (less, more) } else { (more, less) };
            prop_assert!(low_share <= high_share);
            prop_assert!(less >= least && less <= Ratio::ONE);
            prop_assert_eq!(ramp.at(band.begin), Ratio::ONE);
            prop_assert_eq!(ramp.at(band.end), least);
        }
    }

    #[test]
    fn half_way_is_half() {
        let band = Band { begin: volts(40_000), end: volts(36_000) };
        let ramp = ramp(band, Acts::Falling, Ratio::ZERO).unwrap();
        let off = ramp.at(volts(38_000)) - Ratio::from_percent(50);
        // The reciprocal is rounded to 2^-40 of the band.
        assert!(off.magnitude() <= Ratio::from_bits(2), "{off}");
    }

    #[test]
    fn a_band_the_wrong_way_round_or_too_narrow_is_refused() {
        let refused = |begin, end, acts| {
            let band = Band { begin: volts(begin), end: volts(end) };
            match ramp(band, acts, Ratio::ZERO) {
                Err(Error::OutOfRange { quantity, .. }) => Some(quantity),
                Ok(_) => None,
            }
        };
        let (begin, end) =
            (Quantity::BandBegin(Reason::Sagging), Quantity::BandEnd(Reason::Sagging));
        assert_eq!(refused(40_000, 36_000, Acts::Falling), None);
        assert_eq!(refused(36_000, 40_000, Acts::Falling), Some(end));
        assert_eq!(refused(40_000, 36_000, Acts::Rising), Some(end));
        assert_eq!(refused(40_000, 39_901, Acts::Falling), Some(end));
        assert_eq!(refused(100_001, 39_900, Acts::Falling), Some(begin));
        assert_eq!(refused(40_000, 999, Acts::Falling), Some(end));
    }
}
