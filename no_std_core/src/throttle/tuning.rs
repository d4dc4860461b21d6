//! What a builder has tuned, before it is prepared: the curves by their shape instead of their tables.
//!
//! Made from a board file, or read from a record in flash (`store`); becomes [`Settings`]. A table cannot
//! be turned back into handles, so that what is handed on and taken back is this.

use super::battery::BatteryLimits;
use super::ceilings::Curves;
use super::curve::{Curve, Handle, MOST_HANDLES};
use super::error::Error;
use super::limit_settings::LimitSettings;
use super::pace::Paces;
use super::settings::{Parts, Settings};
use super::shaping::RateSettings;
use super::thumb::{Calibration, Counts};
use crate::time::Duration;
use crate::units::{MetresPerSecondSquared, Ratio};

/// How a curve runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Shape {
    /// A line and a cubic, see [`Curve::blended`].
    Blended {
        /// How much of it is cubic, 0 to 1.
        blend: Ratio,
        /// What the full thumb asks.
        greatest: MetresPerSecondSquared,
    },
    /// Smoothly through handles, see [`Curve::through`].
    Through(Handles),
}

impl Shape {
    /// The shape through `handles`.
    ///
    /// # Errors
    /// As [`Curve::through`].
    pub fn through(handles: &[Handle]) -> Result<Self, Error> {
        Curve::through(handles)?;
        Ok(Self::Through(Handles::first_of(handles)))
    }

    /// The curve of this shape.
    ///
    /// # Errors
    /// As [`Curve::blended`] or [`Curve::through`].
    pub fn curve(&self) -> Result<Curve, Error> {
        match self {
            Self::Blended { blend, greatest } => Curve::blended(*blend, *greatest),
            Self::Through(handles) => Curve::through(handles.as_slice()),
        }
    }
}

/// Up to [`MOST_HANDLES`] handles; whether they make a curve is [`Curve::through`]'s to say.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Handles {
    handles: [Handle; MOST_HANDLES],
    count: u8,
}

impl Handles {
    const NONE: Handle = Handle { thumb: Ratio::ZERO, acceleration: MetresPerSecondSquared::ZERO };

    /// These handles; nothing where there are more than [`MOST_HANDLES`].
    #[must_use]
    pub fn new(given: &[Handle]) -> Option<Self> {
        (given.len() <= MOST_HANDLES).then(|| Self::first_of(given))
    }

    /// As many of them as there is room for.
    fn first_of(given: &[Handle]) -> Self {
        let mut handles = [Self::NONE; MOST_HANDLES];
        let mut count = 0_u8;
        for (to, from) in handles.iter_mut().zip(given) {
            *to = *from;
            count = count.saturating_add(1);
        }
        Self { handles, count }
    }

    /// The handles.
    #[must_use]
    pub fn as_slice(&self) -> &[Handle] {
        self.handles.get(..usize::from(self.count)).unwrap_or(&[])
    }
}

/// All that can be tuned, as plain values. Nothing is checked before [`Self::parts`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Tuning {
    /// The thumb's sensor.
    pub counts: Counts,
    /// What the thumb asks forward.
    pub drive: Shape,
    /// And back.
    pub brake: Shape,
    /// What the board allows.
    pub limits: LimitSettings,
    /// How fast it comes and goes.
    pub rates: RateSettings,
    /// The paces that the rider may choose from.
    pub paces: Paces,
    /// See [`Parts::reverse`].
    pub reverse: bool,
    /// See [`Parts::stuck_after`].
    pub stuck_after: Duration,
    /// See [`Parts::silent_brake`].
    pub silent_brake: MetresPerSecondSquared,
    /// When the handheld's own battery is low.
    pub hand_battery: BatteryLimits,
    /// See [`Parts::full_current_acceleration`].
    pub full_current_acceleration: MetresPerSecondSquared,
}

impl Tuning {
    /// The tuning of these parts, whose curves have the shapes `drive` and `brake`.
    #[must_use]
    pub const fn of(parts: &Parts, drive: Shape, brake: Shape) -> Self {
        Self {
            counts: parts.calibration.counts(),
            drive,
            brake,
            limits: parts.limits,
            rates: parts.rates,
            paces: parts.paces,
            reverse: parts.reverse,
            stuck_after: parts.stuck_after,
            silent_brake: parts.silent_brake,
            hand_battery: parts.hand_battery,
            full_current_acceleration: parts.full_current_acceleration,
        }
    }

    /// The parts that settings are made of, curves worked out.
    ///
    /// # Errors
    /// Of the thumb's counts and of the curves.
    pub fn parts(&self) -> Result<Parts, Error> {
        Ok(Parts {
            calibration: Calibration::new(self.counts)?,
            curves: Curves { drive: self.drive.curve()?, brake: self.brake.curve()? },
            limits: self.limits,
            rates: self.rates,
            paces: self.paces,
            reverse: self.reverse,
            stuck_after: self.stuck_after,
            silent_brake: self.silent_brake,
            hand_battery: self.hand_battery,
            full_current_acceleration: self.full_current_acceleration,
        })
    }

    /// The settings, with the mark of this tuning on them ([`Settings::mark`]).
    ///
    /// # Errors
    /// As [`Self::parts`] and [`Settings::new`].
    pub fn settings(&self) -> Result<Settings, Error> {
        Ok(Settings::new(self.parts()?)?.marked(self.mark()))
    }
}
