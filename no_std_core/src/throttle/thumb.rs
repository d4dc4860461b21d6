//! From the sensor's count to what the thumb asks, between full brake and full drive.
//!
//! The first stage; feeds `arming`. Keeps on which side of neutral the thumb is, so that noise at
//! the edge of the deadband does not switch drive on and off. Common practice, no source.

use super::error::{Error, Quantity, within};
use crate::math::narrow;
use crate::units::Ratio;

/// Fewer counts than this between the edge of neutral and an end are refused: a step of the
/// sensor would be more than 3 % of everything the thumb can ask. Common practice, no source.
pub const LEAST_TRAVEL: u16 = 32;

/// What the sensor reads where, in counts; [`Calibration::new`] checks it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Counts {
    /// The greatest count that the converter can give; a wire shorted to supply reads it, as one
    /// shorted to ground reads zero.
    pub full_scale: u16,
    /// The count at the low end of the way: full brake, or full drive where `reversed`.
    pub low: u16,
    /// The count with the thumb off.
    pub centre: u16,
    /// The count at the high end of the way: full drive, or full brake where `reversed`.
    pub high: u16,
    /// How far from the centre nothing is asked yet; what a spring leaves over of its way back.
    pub deadband: u16,
    /// How much further the thumb has to go before it leaves neutral; more than the noise.
    pub hysteresis: u16,
    /// How far beyond the ends a count is still taken for an end rather than a broken wire.
    pub broken_margin: u16,
    /// Whether high counts mean brake: the other hand, or a sensor mounted the other way round.
    pub reversed: bool,
}

/// [`Counts`] that make sense, with their reciprocals.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Calibration {
    counts: Counts,
    drive: Side,
    brake: Side,
}

/// One side of the way: counts between the deadband's edge and the end, and 2^40 over them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
struct Side {
    travel: i32,
    reciprocal: i64,
}

impl Side {
    fn new(way: u16, deadband: u16) -> Self {
        let travel = i32::from(way.saturating_sub(deadband).max(1));
        let reciprocal = (1_i64 << 40).div_euclid(i64::from(travel)).saturating_add(1);
        Self { travel, reciprocal }
    }

    /// The share of this side that `travelled` counts beyond the deadband are, 0 to 1.
    fn share(self, travelled: i32) -> Ratio {
        // 17 bits at the most times 41.
        let bits = i64::from(travelled).wrapping_mul(self.reciprocal) >> 16;
        Ratio::from_bits(narrow(bits)).held_within(Ratio::ZERO, Ratio::ONE)
    }

    /// The counts beyond the deadband that read nearest to `share`, at least one.
    fn travelled(self, share: Ratio) -> i32 {
        let share = i64::from(share.held_within(Ratio::ZERO, Ratio::ONE).to_bits());
        let counts = share.saturating_mul(i64::from(self.travel)).saturating_add(1 << 23) >> 24;
        narrow(counts).min(self.travel).max(1)
    }
}

impl Calibration {
    /// The calibration that `counts` describe.
    ///
    /// # Errors
    /// [`Error::OutOfRange`], the quantity being
    /// - `ThumbHigh`: the ends are nearer than twice [`LEAST_TRAVEL`], or the wrong way round (say
    ///   `reversed` instead), or the high end is the converter's own end;
    /// - `ThumbLow`: it leaves no room below for a shorted wire;
    /// - `ThumbCentre`: it lies outside its ends or nearer to one than [`LEAST_TRAVEL`];
    /// - `ThumbHysteresis`, `ThumbDeadband`: they overlap what has to be left of the shorter
    ///   side, or the deadband is empty;
    /// - `ThumbBrokenMargin`: smaller than the hysteresis (noise at an end would look like a broken
    ///   wire) or so wide that a shorted wire would look like a thumb.
    pub fn new(counts: Counts) -> Result<Self, Error> {
        let (low, centre, high) = (counts.low, counts.centre, counts.high);
        let (deadband, hysteresis) = (counts.deadband, counts.hysteresis);
        let full = i32::from(counts.full_scale);
        let least = i32::from(LEAST_TRAVEL);
        let (low_i, high_i) = (i32::from(low), i32::from(high));

        let inside = full.saturating_sub(1);
        within(Quantity::ThumbLow, low_i, 2, inside)?;
        let nearest = low_i.saturating_add(least.saturating_mul(2));
        within(Quantity::ThumbHigh, high_i, nearest, inside.saturating_sub(1))?;
        let (first, last) = (low_i.saturating_add(least), high_i.saturating_sub(least));
        within(Quantity::ThumbCentre, i32::from(centre), first, last)?;

        let (below, above) = (centre.saturating_sub(low), high.saturating_sub(centre));
        let room = i32::from(below.min(above)).saturating_sub(least);
        within(Quantity::ThumbHysteresis, i32::from(hysteresis), 0, room)?;
        let room = room.saturating_sub(i32::from(hysteresis));
        within(Quantity::ThumbDeadband, i32::from(deadband), 1, room)?;

        let beyond = low_i.min(full.saturating_sub(high_i)).saturating_sub(1);
        let noise = i32::from(hysteresis).max(1);
        within(Quantity::ThumbBrokenMargin, i32::from(counts.broken_margin), noise, beyond)?;

        let (lower, upper) = (Side::new(below, deadband), Side::new(above, deadband));
        let (drive, brake) = if counts.reversed { (lower, upper) } else { (upper, lower) };
        Ok(Self { counts, drive, brake })
    }

    /// The counts it was made of.
    #[must_use]
    pub const fn counts(&self) -> Counts {
        self.counts
    }

    /// The count that reads nearest to `thumb` (-1 full brake to 1 full drive, held to that).
    ///
    /// For a host that replays a logged thumb. Law: a count that asks for something is given back
    /// exactly by `count_for(what it read)`; zero gives the centre.
    #[must_use]
    pub fn count_for(&self, thumb: Ratio) -> u16 {
        let away = i32::from(self.counts.deadband);
        let offset = match thumb.cmp(&Ratio::ZERO) {
            core::cmp::Ordering::Equal => 0,
            core::cmp::Ordering::Greater => self.drive.travelled(thumb).saturating_add(away),
            core::cmp::Ordering::Less => {
                self.brake.travelled(-thumb).saturating_add(away).saturating_neg()
            }
        };
        let turned = if self.counts.reversed { offset.saturating_neg() } else { offset };
        u16::try_from(i32::from(self.counts.centre).saturating_add(turned))
            .unwrap_or(self.counts.centre)
    }

    /// How far the count lies from the centre, drive positive; nothing where the wire is broken.
    fn offset(&self, count: u16) -> Option<i32> {
        let Counts { low, centre, high, broken_margin, reversed, .. } = self.counts;
        let healthy = low.saturating_sub(broken_margin)..=high.saturating_add(broken_margin);
        if !healthy.contains(&count) {
            return None;
        }
        let offset = i32::from(count.min(high).max(low)).saturating_sub(i32::from(centre));
        Some(if reversed { offset.saturating_neg() } else { offset })
    }
}

/// What the thumb asks.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Thumb {
    /// Between -1, full brake, and 1, full drive; exactly zero in neutral.
    At(Ratio),
    /// Nobody can tell: the count lies outside the sensor's way. A fault, not a demand.
    Broken {
        /// The count read.
        count: u16,
    },
}

/// On which side of neutral the thumb was last.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Zone {
    /// It asks for nothing.
    #[default]
    Neutral,
    /// It asks for drive.
    Drive,
    /// It asks for braking.
    Brake,
}

impl Zone {
    /// What the thumb asks at `count`, and the zone it is in then.
    ///
    /// Neutral is left beyond deadband plus hysteresis and entered within the deadband. The share
    /// counts from the deadband's edge, so it steps by hysteresis over travel on leaving.
    /// Laws: monotone in `count` from any one zone (rising, or falling where reversed); within -1
    /// and 1; a broken wire changes no zone.
    #[must_use]
    pub fn read(self, count: u16, calibration: &Calibration) -> (Self, Thumb) {
        let Some(offset) = calibration.offset(count) else {
            return (self, Thumb::Broken { count });
        };
        let near = i32::from(calibration.counts.deadband);
        let far = near.saturating_add(i32::from(calibration.counts.hysteresis));
        let (drive_beyond, brake_beyond) = match self {
            Self::Neutral => (far, far),
            Self::Drive => (near, far),
            Self::Brake => (far, near),
        };
        let travelled = offset.saturating_abs().saturating_sub(near);
        if offset > drive_beyond {
            (Self::Drive, Thumb::At(calibration.drive.share(travelled)))
        } else if offset < brake_beyond.saturating_neg() {
            (Self::Brake, Thumb::At(-calibration.brake.share(travelled)))
        } else {
            (Self::Neutral, Thumb::At(Ratio::ZERO))
        }
    }
}

#[cfg(test)]
mod tests;
