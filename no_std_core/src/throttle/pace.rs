//! Paces: how much of the drive curve, and up to which speed.
//!
//! Named by the builder in the board file, chosen while riding; a name is a screen's business, here
//! a pace is a number. Used by `settings`; applied by the throttle before the slow limits, so that a
//! change of pace is as gentle as a change of any of them: the drive moves from all to nothing in a
//! second and back in two, the speed limit by a metre per second each second. A pace never touches
//! the brake.

use super::error::{Error, Quantity, thousandths, within};
use crate::units::{MetresPerSecond, Ratio};

/// So many paces there may be.
pub const MOST_PACES: usize = 4;

/// A walk: the slowest speed that any limit by speed leaves. Adults walk at 1.2 to 1.5 m/s and are
/// soon home at 1.7, at which a rider can still step off. Common practice, no source.
pub const WALK: MetresPerSecond = MetresPerSecond::from_milli(1700);

/// One pace.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Pace {
    /// The share of the drive curve, 0.1 to 1.
    pub drive: Ratio,
    /// The speed at which drive has folded back to nothing: from [`WALK`] up to the board's own top
    /// speed, to which it is held.
    pub top_speed: MetresPerSecond,
}

impl Pace {
    /// All that the board does.
    pub const ALL_OF_IT: Self =
        Self { drive: Ratio::ONE, top_speed: MetresPerSecond::from_whole(100) };

    /// Half of the drive, up to 12 km/h: a pavement shared with people. No source.
    pub const AMBLE: Self =
        Self { drive: Ratio::from_percent(50), top_speed: MetresPerSecond::from_milli(3333) };

    /// Six tenths of the drive, at a walk: less would not climb the way home. What is left when
    /// something is wrong with the hand.
    pub const WALK_HOME: Self = Self { drive: Ratio::from_percent(60), top_speed: WALK };

    /// This pace, held to another one.
    #[must_use]
    pub fn held(self, to: Self) -> Self {
        Self { drive: self.drive.min(to.drive), top_speed: self.top_speed.min(to.top_speed) }
    }

    /// Nothing, if there may be such a pace.
    ///
    /// # Errors
    /// [`Error::OutOfRange`]: `PaceDrive` or `PaceTopSpeed` of this `number`.
    pub(super) fn check(&self, number: u8) -> Result<(), Error> {
        let drive = thousandths(self.drive.to_micro());
        within(Quantity::PaceDrive(number), drive, 100, 1000)?;
        let slowest = thousandths(WALK.to_micro());
        let top = thousandths(self.top_speed.to_micro());
        within(Quantity::PaceTopSpeed(number), top, slowest, 100_000)
    }
}

/// The paces of a board, at least one.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Paces {
    paces: [Pace; MOST_PACES],
    count: u8,
}

impl Default for Paces {
    /// All of it, the amble and the walk home.
    fn default() -> Self {
        Self { paces: [Pace::ALL_OF_IT, Pace::AMBLE, Pace::WALK_HOME, Pace::WALK_HOME], count: 3 }
    }
}

impl Paces {
    /// These paces, 1 to [`MOST_PACES`] of them; the first is the one a ride begins with.
    ///
    /// # Errors
    /// [`Error::OutOfRange`]: `Paces` where there are none or too many; `PaceDrive` not within 0.1
    /// and 1; `PaceTopSpeed` not within [`WALK`] and 100 m/s.
    pub fn new(paces: &[Pace]) -> Result<Self, Error> {
        let most = i32::try_from(MOST_PACES).unwrap_or(i32::MAX);
        let given = i32::try_from(paces.len()).unwrap_or(i32::MAX);
        within(Quantity::Paces, given, 1, most)?;
        let mut all = [Pace::WALK_HOME; MOST_PACES];
        let mut count = 0_u8;
        for (place, pace) in all.iter_mut().zip(paces) {
            pace.check(count)?;
            *place = *pace;
            count = count.saturating_add(1);
        }
        Ok(Self { paces: all, count })
    }

    /// The paces, in the order of their numbers.
    #[must_use]
    pub fn as_slice(&self) -> &[Pace] {
        self.paces.get(..usize::from(self.count)).unwrap_or(&[])
    }

    /// The pace of this number, from 0; the walk home where there is none.
    #[must_use]
    pub fn pace(&self, number: u8) -> Pace {
        self.all().get(usize::from(number)).copied().unwrap_or(Pace::WALK_HOME)
    }

    /// All of them, in their order.
    #[must_use]
    pub fn all(&self) -> &[Pace] {
        self.paces.get(..usize::from(self.count)).unwrap_or(&[])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn refused(paces: &[Pace]) -> Option<Quantity> {
        match Paces::new(paces) {
            Err(Error::OutOfRange { quantity, .. }) => Some(quantity),
            Ok(_) => None,
        }
    }

    #[test]
    fn paces_that_make_no_sense_are_refused_by_name() {
        let slow = Pace { top_speed: MetresPerSecond::from_milli(1699), ..Pace::AMBLE };
        let weak = Pace { drive: Ratio::from_milli(99), ..Pace::AMBLE };
        assert_eq!(refused(&[Pace::ALL_OF_IT, Pace::AMBLE]), None);
        assert_eq!(refused(&[]), Some(Quantity::Paces));
        assert_eq!(refused(&[Pace::AMBLE; MOST_PACES + 1]), Some(Quantity::Paces));
        assert_eq!(refused(&[Pace::AMBLE, slow]), Some(Quantity::PaceTopSpeed(1)));
        assert_eq!(refused(&[weak]), Some(Quantity::PaceDrive(0)));
    }

    #[test]
    fn a_pace_that_does_not_exist_is_the_walk_home() {
        let paces = Paces::new(&[Pace::ALL_OF_IT]).unwrap();
        assert_eq!(paces.pace(0), Pace::ALL_OF_IT);
        for number in [1, 3, 4, 255] {
            assert_eq!(paces.pace(number), Pace::WALK_HOME);
        }
    }
}
