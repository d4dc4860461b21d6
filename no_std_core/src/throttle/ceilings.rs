//! The most drive and brake that may be asked for now, and why.
//!
//! Made by `limits` (slow) and `hard`; held against a [`Wish`] before and after shaping. Uses no
//! telemetry itself.

use super::arming::Allowed;
use super::curve::Curve;
use super::direction::BACKWARD_DRIVE;
use super::rate::{Rate, Step};
use super::reasons::{Reason, Reasons};
use super::shaping::{Rates, Shaping};
use crate::math::scale;
use crate::units::{MetresPerSecondSquared, Ratio};
use core::cmp::Ordering;

/// What is to be done, on its way from the thumb to the demand.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Wish {
    /// The acceleration wanted: drive positive, brake negative.
    pub acceleration: MetresPerSecondSquared,
    /// Why it is less than the thumb asks.
    pub reasons: Reasons,
}

impl Wish {
    /// What the thumb asks, as an acceleration: `drive` of the drive curve, and the brake.
    #[must_use]
    pub fn of(allowed: Allowed, drive: Ratio, curves: &Curves) -> Self {
        let acceleration = curves.acceleration(allowed.thumb, drive);
        Self { acceleration, reasons: allowed.reasons }
    }

    /// What the brake's half of the thumb asks where it drives backwards: the drive curve, the other
    /// way. Nothing on the drive's half.
    #[must_use]
    pub fn backward(allowed: Allowed, curves: &Curves) -> Self {
        let asked = curves.drive.acceleration(-allowed.thumb).scaled(BACKWARD_DRIVE);
        Self { acceleration: -asked, reasons: allowed.reasons }
    }

    /// This wish, held to a share of its curve's greatest acceleration: that of the ceiling for its
    /// own half of the thumb. `backward`, the brake's half is a share of the drive curve.
    ///
    /// Laws: never larger than before, never of the other sign, monotone in the wish; a reason is
    /// added exactly when it became smaller.
    #[must_use]
    pub fn held(
        self,
        ceiling: impl FnOnce(Half) -> Ceiling,
        curves: &Curves,
        backward: bool,
    ) -> Self {
        let bits = self.acceleration.to_bits();
        let (bits, reasons) = match bits.cmp(&0) {
            Ordering::Equal => return self,
            Ordering::Greater => ceiling(Half::Drive).held(bits, curves.drive.greatest()),
            Ordering::Less => {
                let size = bits.saturating_neg();
                let greatest = if backward {
                    curves.drive.greatest().scaled(BACKWARD_DRIVE)
                } else {
                    curves.brake.greatest()
                };
                let (size, reasons) = ceiling(Half::Brake).held(size, greatest);
                (size.saturating_neg(), reasons)
            }
        };
        let acceleration = MetresPerSecondSquared::from_bits(bits);
        Self { acceleration, reasons: self.reasons.and(reasons) }
    }

    /// This wish as far as shaping lets it become true in `step`; moves the shaping there.
    pub(super) fn shaped(self, shaping: &mut Shaping, step: Step, rates: &Rates) -> Self {
        *shaping = shaping.after(self.acceleration, step.micros(), rates);
        Self { acceleration: shaping.acceleration(), ..self }
    }
}

/// A half of the thumb's way.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Half {
    /// Towards drive.
    Drive,
    /// Towards brake.
    Brake,
}

/// The curve for drive and the one for brake.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Curves {
    /// What the thumb asks towards drive.
    pub drive: Curve,
    /// What it asks towards brake, as a positive acceleration.
    pub brake: Curve,
}

impl Curves {
    /// The acceleration that `thumb`, -1 to 1, asks for: `drive` of the drive curve, positive, or the
    /// brake, negative.
    #[must_use]
    pub fn acceleration(&self, thumb: Ratio, drive: Ratio) -> MetresPerSecondSquared {
        if thumb < Ratio::ZERO {
            return -self.brake.acceleration(-thumb);
        }
        let asked = self.drive.acceleration(thumb);
        if drive >= Ratio::ONE { asked } else { asked.scaled(drive) }
    }
}

/// The share of the curve's greatest that may be asked for, and what keeps it there.
///
/// Law: below one it has a reason, and a reason always names what set the share.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Ceiling {
    /// 0, nothing, to 1, everything.
    pub share: Ratio,
    /// The limits that set it; more than one where they agree.
    pub reasons: Reasons,
}

impl Ceiling {
    /// Everything may be asked for.
    pub const OPEN: Self = Self { share: Ratio::ONE, reasons: Reasons::NONE };

    /// The lower of this and a ceiling at `share` for `reason`.
    #[must_use]
    pub fn lowered(self, share: Ratio, reason: Reason) -> Self {
        if share >= Ratio::ONE {
            return self;
        }
        let share = share.max(Ratio::ZERO);
        match share.cmp(&self.share) {
            Ordering::Less => Self { share, reasons: Reasons::of(reason) },
            Ordering::Equal => Self { share, reasons: self.reasons.with(reason) },
            Ordering::Greater => self,
        }
    }

    /// The lower of two ceilings, with the reasons of both where they agree.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        match other.share.cmp(&self.share) {
            Ordering::Less => other,
            Ordering::Equal => Self { share: self.share, reasons: self.reasons.and(other.reasons) },
            Ordering::Greater => self,
        }
    }

    /// This ceiling, moved towards `target` no faster than it falls or rises.
    fn moved(self, target: Self, micros: u32, falls: Rate, rises: Rate) -> Self {
        match target.share.cmp(&self.share) {
            Ordering::Equal => target,
            Ordering::Less => {
                let lowest = self.share - Ratio::from_bits(falls.over(micros));
                Self { share: target.share.max(lowest), ..target }
            }
            Ordering::Greater => {
                let highest = self.share + Ratio::from_bits(rises.over(micros));
                // On its way up, what holds it down is what brought it down.
                if target.share > highest { Self { share: highest, ..self } } else { target }
            }
        }
    }

    /// A size that may be at most this share of `greatest`, and the reasons if it was more.
    fn held(self, size: i32, greatest: MetresPerSecondSquared) -> (i32, Reasons) {
        if self.share >= Ratio::ONE {
            return (size, Reasons::NONE);
        }
        let most = scale::<24>(greatest.to_bits(), self.share.to_bits());
        if size > most { (most, self.reasons) } else { (size, Reasons::NONE) }
    }
}

/// How fast ceilings move.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) struct CeilingRates {
    /// Drive, downwards.
    pub(super) drive_falls: Rate,
    /// Drive, upwards.
    pub(super) drive_rises: Rate,
    /// Brake, downwards.
    pub(super) brake_falls: Rate,
    /// Brake, upwards.
    pub(super) brake_rises: Rate,
}

/// A ceiling for drive and one for brake.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Ceilings {
    /// The most drive.
    pub drive: Ceiling,
    /// The most brake.
    pub brake: Ceiling,
}

impl Ceilings {
    /// Nothing is limited.
    pub const OPEN: Self = Self { drive: Ceiling::OPEN, brake: Ceiling::OPEN };

    /// The one for a half of the thumb.
    #[must_use]
    pub const fn of(&self, half: Half) -> Ceiling {
        match half {
            Half::Drive => self.drive,
            Half::Brake => self.brake,
        }
    }

    /// These ceilings with drive held to `share` for `reason`.
    #[must_use]
    pub fn drive_held(self, share: Ratio, reason: Reason) -> Self {
        Self { drive: self.drive.lowered(share, reason), ..self }
    }

    /// These ceilings with brake held to `share` for `reason`.
    #[must_use]
    pub fn brake_held(self, share: Ratio, reason: Reason) -> Self {
        Self { brake: self.brake.lowered(share, reason), ..self }
    }

    /// What limits a full thumb, whether or not it asks that much: for the screen.
    #[must_use]
    pub const fn reasons(&self) -> Reasons {
        self.drive.reasons.and(self.brake.reasons)
    }

    /// These ceilings, moved towards `target` for so long at their rates.
    pub(super) fn toward(self, target: Self, micros: u32, rates: &CeilingRates) -> Self {
        if self == target {
            return target;
        }
        let CeilingRates { drive_falls, drive_rises, brake_falls, brake_rises } = *rates;
        Self {
            drive: self.drive.moved(target.drive, micros, drive_falls, drive_rises),
            brake: self.brake.moved(target.brake, micros, brake_falls, brake_rises),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::throttle::curve::USUAL_BLEND;
    use proptest::prelude::*;

    fn curves() -> Curves {
        let drive = Curve::blended(USUAL_BLEND, MetresPerSecondSquared::from_whole(2)).unwrap();
        let brake = Curve::blended(USUAL_BLEND, MetresPerSecondSquared::from_whole(3)).unwrap();
        Curves { drive, brake }
    }

    fn wish(acceleration: i32) -> Wish {
        let acceleration = MetresPerSecondSquared::from_bits(acceleration);
        Wish { acceleration, reasons: Reasons::NONE }
    }

    fn any_ceilings() -> impl Strategy<Value = Ceilings> {
        (0..=1 << 24, 0..=1 << 24).prop_map(|(drive, brake)| {
            Ceilings::OPEN
                .drive_held(Ratio::from_bits(drive), Reason::Sagging)
                .brake_held(Ratio::from_bits(brake), Reason::NearlyFull)
        })
    }

    proptest! {
        #[test]
        fn law_a_reason_is_added_exactly_when_something_was_taken(
            ceilings in any_ceilings(), asked in -3 << 16..=2 << 16,
        ) {
            let held = wish(asked).held(|half| ceilings.of(half), &curves(), false);
            let bits = held.acceleration.to_bits();
            prop_assert_eq!(bits != asked, !held.reasons.is_empty());
            prop_assert!(bits.abs() <= asked.abs() && bits.signum() * asked.signum() >= 0);
        }

        #[test]
        fn law_holding_is_monotone_in_the_wish(
            ceilings in any_ceilings(), a: i32, b: i32,
        ) {
            let held = |asked| wish(asked).held(|half| ceilings.of(half), &curves(), false).acceleration;
            prop_assert!(held(a.min(b)) <= held(a.max(b)));
        }

        #[test]
        fn law_a_ceiling_below_one_has_a_reason_wherever_it_moves(
            targets in prop::collection::vec((any_ceilings(), 0_u32..100_000), 1..30),
        ) {
            let rates = CeilingRates {
                drive_falls: Rate::all_within(1000), drive_rises: Rate::all_within(2000),
                brake_falls: Rate::all_within(1000), brake_rises: Rate::all_within(1000),
            };
            let mut ceilings = Ceilings::OPEN;
            for (target, micros) in targets {
                ceilings = ceilings.toward(target, micros, &rates);
                for ceiling in [ceilings.drive, ceilings.brake] {
                    prop_assert!(ceiling.share >= Ratio::ZERO && ceiling.share <= Ratio::ONE);
                    prop_assert!(ceiling.share == Ratio::ONE || !ceiling.reasons.is_empty());
                }
            }
        }
    }

    #[test]
    fn limits_that_agree_are_both_named_and_the_weaker_is_not() {
        let half = Ratio::from_percent(50);
        let ceiling = Ceiling::OPEN
            .lowered(half, Reason::Sagging)
            .lowered(Ratio::from_percent(70), Reason::TopSpeed)
            .lowered(half, Reason::ColdPack);
        assert_eq!(ceiling.share, half);
        assert_eq!(ceiling.reasons, Reasons::of(Reason::Sagging).with(Reason::ColdPack));
    }
}
