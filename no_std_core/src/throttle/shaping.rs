//! How fast the wish may become the demand: four rates, one for each way.
//!
//! Between the slow and the hard limits. Drive and brake are two states, so they can never be on
//! together. A board is shaped in metres per second cubed because that is what makes a standing
//! rider step: "limiting jerk is the remedy" (de Graaf and van Weperen 1995).

use super::error::{Error, Quantity, thousandths, within};
use super::rate::Rate;
use crate::math::scale;
use crate::time::Duration;
use crate::units::{MetresPerSecondCubed, MetresPerSecondSquared, Ratio};
use core::cmp::Ordering;

/// Zero thumb is zero drive within this, from any state; `drive_off_within` may only be shorter.
/// Motors of pedal-assisted bicycles end within 2 m, which at 25 km/h is 0.29 s (EN 15194:2017, from
/// memory); a rider reacts to light in 0.25 s.
pub const DRIVE_GONE_WITHIN: Duration = Duration::from_millis(300);

/// The rates, as plain values. [`Rates::new`] checks them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct RateSettings {
    /// How fast drive comes, 0.1 to 20 m/s³.
    pub drive_on: MetresPerSecondCubed,
    /// In which time full drive goes, 20 ms to [`DRIVE_GONE_WITHIN`]; never slower than it comes.
    pub drive_off_within: Duration,
    /// How fast braking comes, 1 to 50 m/s³.
    pub brake_on: MetresPerSecondCubed,
    /// How fast braking goes when the thumb lets go, 0.5 to 50 m/s³.
    pub brake_off: MetresPerSecondCubed,
    /// How fast braking goes when the thumb is no longer believed, 0.1 m/s³ to `brake_off`.
    pub brake_ease: MetresPerSecondCubed,
    /// How long drive waits once braking has ended, up to 2 s.
    pub pause: Duration,
}

impl RateSettings {
    /// The usual rates.
    ///
    /// - Drive on 1.2 m/s³: between 0.10 g/s for standing passengers (ASCE 21, from memory) and the
    ///   1.5 m/s³ of AS 3860 (second hand).
    /// - Drive off within 0.3 s, see [`DRIVE_GONE_WITHIN`].
    /// - Brake on 6 m/s³: 3 m/s² in half a second, for a rider who asked for it. No source.
    /// - Brake off 4 m/s³: gone in 0.75 s; slower than on, because the rider leans back. No source.
    /// - Brake eased at 1 m/s³, 0.10 g/s as above: the rider did not ask for it.
    /// - Pause 0.3 s: longer than a thumb that slips through neutral. No source.
    #[must_use]
    pub const fn standard() -> Self {
        Self {
            drive_on: MetresPerSecondCubed::from_milli(1200),
            drive_off_within: DRIVE_GONE_WITHIN,
            brake_on: MetresPerSecondCubed::from_whole(6),
            brake_off: MetresPerSecondCubed::from_whole(4),
            brake_ease: MetresPerSecondCubed::from_whole(1),
            pause: Duration::from_millis(300),
        }
    }
}

/// [`RateSettings`] that make sense, prepared.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Rates {
    drive_on: Rate,
    drive_off: Rate,
    brake_on: Rate,
    brake_off: Rate,
    pause: u32,
}

impl Rates {
    /// The rates under a believed thumb, and those under one that is not: the same but for
    /// braking, which is eased off.
    ///
    /// `greatest_drive` is the most that the drive curve asks.
    ///
    /// # Errors
    /// [`Error::OutOfRange`] with `DriveOn`, `DriveOffWithin`, `BrakeOn`, `BrakeOff`, `BrakeEase`
    /// or `Pause`, where it is not within what [`RateSettings`] says.
    pub fn new(
        settings: &RateSettings,
        greatest_drive: MetresPerSecondSquared,
    ) -> Result<(Self, Self), Error> {
        let s = settings;
        let longest = millis(DRIVE_GONE_WITHIN);
        let off = thousandths(s.brake_off.to_micro());
        within(Quantity::DriveOn, thousandths(s.drive_on.to_micro()), 100, 20_000)?;
        within(Quantity::DriveOffWithin, millis(s.drive_off_within), 20, longest)?;
        within(Quantity::BrakeOn, thousandths(s.brake_on.to_micro()), 1000, 50_000)?;
        within(Quantity::BrakeOff, off, 500, 50_000)?;
        within(Quantity::BrakeEase, thousandths(s.brake_ease.to_micro()), 100, off)?;
        within(Quantity::Pause, millis(s.pause), 0, 2000)?;
        let drive_on = Rate::of(s.drive_on);
        let trusted = Self {
            drive_on,
            drive_off: Rate::emptying(greatest_drive, s.drive_off_within).or_faster(drive_on),
            brake_on: Rate::of(s.brake_on),
            brake_off: Rate::of(s.brake_off),
            pause: u32::try_from(s.pause.to_micros()).unwrap_or(u32::MAX),
        };
        Ok((trusted, Self { brake_off: Rate::of(s.brake_ease), ..trusted }))
    }
}

impl Rates {
    /// These rates at the board's end: drive goes twice as fast, so that it catches up with what
    /// frames that were lost would have taken.
    pub(super) fn catching_up(self) -> Self {
        Self { drive_off: self.drive_off.twice(), ..self }
    }

    /// These rates in a silence: a brake comes and goes at `ease`.
    pub(super) fn in_silence(self, ease: MetresPerSecondCubed) -> Self {
        let ease = Rate::of(ease);
        Self { brake_on: ease, brake_off: ease, ..self }
    }

    /// These rates where the brake's half drives backwards: it comes and goes as a drive does.
    pub(super) fn backing(self) -> Self {
        Self { brake_on: self.drive_on, brake_off: self.drive_off, ..self }
    }
}

/// Rounded up, so that a length just beyond a bound does not pass for the bound.
fn millis(length: Duration) -> i32 {
    i32::try_from(length.to_micros().div_ceil(1000)).unwrap_or(i32::MAX)
}

/// What the board is being asked to do.
///
/// | state | wish: brake | wish: nothing | wish: drive |
/// | --- | --- | --- | --- |
/// | `Neutral` | `Brake` at once | `Neutral`, the pause runs out | `Drive` once it has |
/// | `Drive` | falls at drive off, then `Brake` in the same tick | falls, then `Neutral` | moves |
/// | `Brake` | moves | falls at brake off, then `Neutral` with a pause | the same, then `Drive` |
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Shaping {
    /// Nothing.
    Neutral {
        /// Microseconds until drive may begin.
        pause: u32,
    },
    /// To drive.
    Drive {
        /// How much, in `2^-24` m/s²; more than zero.
        fine: i32,
    },
    /// To brake.
    Brake {
        /// How much, in `2^-24` m/s²; more than zero.
        fine: i32,
    },
}

impl Default for Shaping {
    fn default() -> Self {
        Self::Neutral { pause: 0 }
    }
}

impl Shaping {
    /// The state after moving towards `wish` for `micros`.
    ///
    /// Laws: monotone in the wish; each way no faster than its rate; a brake wish takes drive off
    /// at drive off and brakes in what is left of the time; no drive within the pause after
    /// braking; two steps come to where one of their length comes, but for roundings of `2^-24`.
    #[must_use]
    pub fn after(self, wish: MetresPerSecondSquared, micros: u32, rates: &Rates) -> Self {
        // Curves end at 10 m/s²; ±127 m/s² fit.
        let wish = wish.to_bits().clamp(-(127 << 16), 127 << 16) << 8;
        let size = wish.saturating_abs();
        match (self, wish.cmp(&0)) {
            (Self::Drive { fine }, Ordering::Less) => {
                let used = rates.drive_off.time_for(fine);
                if used > micros {
                    Self::driving(fine.saturating_sub(rates.drive_off.over_or_more(micros)))
                } else {
                    let rise = rates.brake_on.over(micros.saturating_sub(used));
                    Self::braking(rise.min(size), 0)
                }
            }
            (Self::Drive { fine }, Ordering::Equal | Ordering::Greater) => {
                Self::driving(toward(fine, size, micros, rates.drive_on, rates.drive_off))
            }
            (Self::Brake { fine }, Ordering::Less | Ordering::Equal) => {
                let moved = toward(fine, size, micros, rates.brake_on, rates.brake_off);
                let pause = if moved > 0 { 0 } else { rates.pause_after(fine, micros) };
                Self::braking(moved, pause)
            }
            (Self::Brake { fine }, Ordering::Greater) => {
                let used = rates.brake_off.time_for(fine);
                if used > micros {
                    let left = fine.saturating_sub(rates.brake_off.over_or_more(micros));
                    Self::braking(left, rates.pause)
                } else {
                    let left = micros.saturating_sub(used);
                    Self::Neutral { pause: rates.pause }.after_pause(size, left, rates)
                }
            }
            (Self::Neutral { pause }, Ordering::Less) => {
                Self::braking(rates.brake_on.over(micros).min(size), pause.saturating_sub(micros))
            }
            (Self::Neutral { pause }, Ordering::Equal) => {
                Self::Neutral { pause: pause.saturating_sub(micros) }
            }
            (Self::Neutral { .. }, Ordering::Greater) => self.after_pause(size, micros, rates),
        }
    }

    /// From neutral towards so much drive, once the pause has run out.
    fn after_pause(self, size: i32, micros: u32, rates: &Rates) -> Self {
        match self {
            Self::Neutral { pause } if micros <= pause => {
                Self::Neutral { pause: pause.saturating_sub(micros) }
            }
            Self::Neutral { pause } => {
                let rise = rates.drive_on.over(micros.saturating_sub(pause));
                Self::driving(rise.min(size))
            }
            Self::Drive { .. } | Self::Brake { .. } => self,
        }
    }

    /// Driving so much, or neutral without a pause.
    const fn driving(fine: i32) -> Self {
        if fine > 0 { Self::Drive { fine } } else { Self::Neutral { pause: 0 } }
    }

    /// Braking so much, or neutral with `pause` to wait.
    const fn braking(fine: i32, pause: u32) -> Self {
        if fine > 0 { Self::Brake { fine } } else { Self::Neutral { pause } }
    }

    /// This state with no more drive than `part` of `whole`; a brake is left as it is. Where the
    /// brake's half drives `backward`, that is the drive.
    pub(crate) fn drive_held(
        self,
        whole: MetresPerSecondSquared,
        part: Ratio,
        backward: bool,
    ) -> Self {
        let most =
            scale::<{ Ratio::FRACTION_BITS - 8 }>(whole.magnitude().to_bits(), part.to_bits());
        match self {
            Self::Drive { fine } => Self::driving(fine.min(most)),
            Self::Brake { fine } if backward => Self::braking(fine.min(most), 0),
            Self::Neutral { .. } | Self::Brake { .. } => self,
        }
    }

    /// Whether nothing is asked of the motors.
    pub(crate) const fn is_neutral(self) -> bool {
        match self {
            Self::Neutral { .. } => true,
            Self::Drive { .. } | Self::Brake { .. } => false,
        }
    }

    /// The acceleration it stands for: drive positive, brake negative.
    #[must_use]
    pub const fn acceleration(self) -> MetresPerSecondSquared {
        let bits = match self {
            Self::Neutral { .. } => 0,
            Self::Drive { fine } => fine >> 8,
            Self::Brake { fine } => (fine >> 8).saturating_neg(),
        };
        MetresPerSecondSquared::from_bits(bits)
    }
}

/// From `fine` towards `size`, up no faster than one rate and down no faster than the other.
fn toward(fine: i32, size: i32, micros: u32, on: Rate, off: Rate) -> i32 {
    match size.cmp(&fine) {
        Ordering::Equal => fine,
        Ordering::Greater => size.min(fine.saturating_add(on.over(micros))),
        Ordering::Less => size.max(fine.saturating_sub(off.over_or_more(micros))),
    }
}

impl Rates {
    /// What is left of the pause where braking of `fine` ended within `micros`. Divides.
    fn pause_after(&self, fine: i32, micros: u32) -> u32 {
        let left = micros.saturating_sub(self.brake_off.time_for(fine));
        self.pause.saturating_sub(left)
    }
}

#[cfg(test)]
mod tests;
