//! Which way the brake's half of the thumb acts: as a brake, or, where the board file allows it, as a
//! drive backwards.
//!
//! Asked by the throttle once a tick. A brake at standstill never drives backwards by itself: the
//! board has to stand, by a fresh speed, with a neutral thumb for a stated time. Common practice, no
//! source.

use super::rate::LONGEST_STEP;
use crate::time::Duration;
use crate::units::{MetresPerSecond, Ratio};

/// For so long the board has to stand with a neutral thumb before the brake's half may drive
/// backwards: longer than a stop at which a rider only lets go for a moment. No source.
pub const STAND_FOR: Duration = Duration::from_millis(1000);

/// [`STAND_FOR`] in microseconds.
const STAND_FOR_US: u32 = 1_000_000;

/// Slower than this, either way, a board stands: less than a sensor of small wheels can tell.
pub const STANDS_UNDER: MetresPerSecond = MetresPerSecond::from_milli(150);

/// Drive backwards ends where the board rolls forward faster than this.
pub const FORWARD_FROM: MetresPerSecond = MetresPerSecond::from_milli(300);

/// Drive backwards folds back to nothing at walking pace, [`super::pace::WALK`], over the last of it.
pub(super) const BACKWARD_FROM: MetresPerSecond = MetresPerSecond::from_milli(900);

/// The share of the drive curve that drives backwards.
pub const BACKWARD_DRIVE: Ratio = Ratio::from_percent(30);

/// How the board moves, by a speed that is fresh.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Motion {
    /// Nobody knows.
    #[default]
    Unknown,
    /// It stands.
    Stands,
    /// It creeps, or rolls backwards.
    Back,
    /// It rolls forward.
    Forward,
}

impl Motion {
    /// What a fresh speed says.
    #[must_use]
    pub fn of(speed: MetresPerSecond) -> Self {
        if speed.magnitude() < STANDS_UNDER {
            Self::Stands
        } else if speed > FORWARD_FROM {
            Self::Forward
        } else {
            Self::Back
        }
    }
}

/// Which way the board may be driven.
///
/// | state | stands, neutral | thumb brakes | thumb drives | rolls forward, or unknown |
/// | --- | --- | --- | --- | --- |
/// | `Forward`, stood for less than [`STAND_FOR`] | stood for longer | `Forward`, from zero | `Forward`, from zero | `Forward`, from zero |
/// | `Forward`, stood for long enough | unchanged | `Backward` if it stands and nothing is asked of the motors any more | `Forward`, from zero | `Forward`, from zero |
/// | `Backward` | `Leaving` | `Backward` | `Leaving` | `Leaving` |
/// | `Leaving` | `Forward` once nothing is asked of the motors | the same | the same | the same |
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Direction {
    /// The thumb drives forward, and brakes.
    Forward {
        /// Microseconds for which the board has stood with a neutral thumb.
        stood: u32,
    },
    /// The brake's half drives backwards.
    Backward,
    /// Drive backwards is on its way to nothing.
    Leaving,
}

impl Default for Direction {
    fn default() -> Self {
        Self::Forward { stood: 0 }
    }
}

impl Direction {
    /// The state after a tick of `micros` in which `thumb` may ask so much, and `rests` by what its sensor
    /// reads (one that cannot be read does neither); `idle` where nothing is asked of the motors any
    /// more.
    ///
    /// Laws: backwards only from a stand with a neutral thumb of [`STAND_FOR`], and never on from a
    /// speed that is unknown; either way only through nothing: what is left of a brake never becomes a
    /// drive.
    #[must_use]
    pub(super) fn after(
        self,
        (thumb, rests): (Ratio, bool),
        motion: Motion,
        micros: u32,
        idle: bool,
    ) -> Self {
        let micros = micros.min(u32::try_from(LONGEST_STEP.to_micros()).unwrap_or(0));
        let stands = motion == Motion::Stands;
        match self {
            Self::Forward { stood } if stands && rests => {
                Self::Forward { stood: stood.saturating_add(micros).min(STAND_FOR_US) }
            }
            Self::Forward { stood }
                if stands && idle && thumb < Ratio::ZERO && stood >= STAND_FOR_US =>
            {
                Self::Backward
            }
            Self::Forward { .. } => Self::Forward { stood: 0 },
            Self::Backward if thumb < Ratio::ZERO => match motion {
                Motion::Stands | Motion::Back => Self::Backward,
                Motion::Forward | Motion::Unknown => Self::Leaving,
            },
            Self::Backward => Self::Leaving,
            Self::Leaving if idle => Self::Forward { stood: 0 },
            Self::Leaving => Self::Leaving,
        }
    }

    /// Whether the brake's half is a drive backwards.
    #[must_use]
    pub const fn is_backward(self) -> bool {
        match self {
            Self::Forward { .. } => false,
            Self::Backward | Self::Leaving => true,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const NEUTRAL: Ratio = Ratio::ZERO;
    const BRAKE: Ratio = Ratio::from_percent(-50);
    const DRIVE: Ratio = Ratio::from_percent(50);
    const READY: Direction = Direction::Forward { stood: STAND_FOR_US };
    const FRESH: Direction = Direction::Forward { stood: 0 };

    fn at(thumb: Ratio) -> (Ratio, bool) {
        (thumb, thumb == NEUTRAL)
    }

    fn next(state: Direction, thumb: Ratio, motion: Motion) -> Direction {
        state.after(at(thumb), motion, 20_000, false)
    }

    #[test]
    fn each_cell_of_the_table_holds() {
        use Motion::{Back, Forward, Stands, Unknown};
        let young = Direction::Forward { stood: 500_000 };
        assert_eq!(next(young, NEUTRAL, Stands), Direction::Forward { stood: 520_000 });
        for (thumb, motion) in [
            (BRAKE, Stands),
            (DRIVE, Stands),
            (NEUTRAL, Forward),
            (NEUTRAL, Back),
            (NEUTRAL, Unknown),
        ] {
            assert_eq!(next(young, thumb, motion), FRESH);
        }
        assert_eq!(next(READY, NEUTRAL, Stands), READY);
        // A wire that is broken asks for nothing, and rests as little.
        assert_eq!(young.after((NEUTRAL, false), Stands, 20_000, true), FRESH);
        assert_eq!(READY.after(at(BRAKE), Stands, 20_000, true), Direction::Backward);
        // What is left of a brake must not become a drive.
        assert_eq!(READY.after(at(BRAKE), Stands, 20_000, false), FRESH);
        for motion in [Forward, Back, Unknown] {
            assert_eq!(READY.after(at(BRAKE), motion, 20_000, true), FRESH);
        }
        assert_eq!(next(READY, DRIVE, Stands), FRESH);
        for motion in [Stands, Back] {
            assert_eq!(next(Direction::Backward, BRAKE, motion), Direction::Backward);
            for thumb in [NEUTRAL, DRIVE] {
                assert_eq!(next(Direction::Backward, thumb, motion), Direction::Leaving);
            }
        }
        for motion in [Forward, Unknown] {
            assert_eq!(next(Direction::Backward, BRAKE, motion), Direction::Leaving);
        }
        for motion in [Stands, Back, Forward, Unknown] {
            for thumb in [NEUTRAL, BRAKE, DRIVE] {
                let leaving = Direction::Leaving;
                assert_eq!(next(leaving, thumb, motion), leaving);
                assert_eq!(leaving.after(at(thumb), motion, 20_000, true), FRESH);
            }
        }
    }

    #[test]
    fn a_speed_is_a_motion() {
        let of = |milli| Motion::of(MetresPerSecond::from_milli(milli));
        assert_eq!([of(-149), of(149)], [Motion::Stands; 2]);
        assert_eq!([of(-3000), of(-151), of(200)], [Motion::Back; 3]);
        assert_eq!(of(400), Motion::Forward);
    }
}
