//! Whether the thumb may move the board: only through neutral.
//!
//! After `thumb`, before `curve`. Fresh telemetry is no part of it: a rider has to be able to
//! brake without any, and the limits already give no drive to a board nobody hears.
//! Common practice, no source: a neutral start is what every vehicle with a throttle asks for.
//!
//! | state | late tick or clock back | broken thumb | neutral | thumb asks |
//! | --- | --- | --- | --- | --- |
//! | `Disarmed` | `Disarmed`, that cause | `Disarmed`, broken | `Settling` | unchanged |
//! | `Settling` | `Disarmed`, that cause | `Disarmed`, broken | `Armed` after [`NEUTRAL_FOR`] | `Disarmed`, too soon |
//! | `Armed` | `Disarmed`, that cause | `Doubtful` | `Armed` | `Armed` |
//! | `Doubtful` | `Disarmed`, that cause | `Disarmed`, broken, after [`BROKEN_FOR`] | `Armed` | `Armed` |

use super::rate::Step;
use super::reasons::{Reason, Reasons};
use super::thumb::Thumb;
use crate::time::{Duration, Instant};
use crate::units::Ratio;

/// How long the thumb has to be neutral before it is believed. Longer than a thumb that slips
/// across the centre; twice a reaction to light (0.25 s), so that it is a decision. No source.
pub const NEUTRAL_FOR: Duration = Duration::from_millis(500);

/// How long a wire may seem broken before it counts as broken: a spark or a shaken plug ends
/// sooner. A third of the fastest human reaction (touch, 0.15 s). Common practice, no source.
///
/// Drive goes off from the first moment; only braking is held for that long.
pub const BROKEN_FOR: Duration = Duration::from_millis(50);

/// Why the thumb moves nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Cause {
    /// It has just been switched on.
    Started,
    /// The thumb's count was out of its way for longer than [`BROKEN_FOR`].
    BrokenThumb {
        /// The last count seen.
        count: u16,
    },
    /// A tick came too late to know what happened meanwhile.
    LateTick,
    /// The clock stepped back.
    ClockSteppedBack,
    /// The thumb asked for something before it had been neutral for [`NEUTRAL_FOR`].
    AskedTooSoon,
}

/// Whether the thumb may move the board.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Arming {
    /// It may not.
    Disarmed {
        /// Why not.
        why: Cause,
    },
    /// It is neutral, not yet for long enough.
    Settling {
        /// Since when it is neutral.
        since: Instant,
    },
    /// It may.
    Armed {
        /// What it asks, -1 to 1.
        thumb: Ratio,
    },
    /// It could a moment ago, and cannot be read now: no drive, and the brake stays as it was.
    Doubtful {
        /// Since when it cannot be read.
        since: Instant,
        /// What it last asked of the brake, -1 to 0.
        brake: Ratio,
    },
}

impl Default for Arming {
    fn default() -> Self {
        Self::Disarmed { why: Cause::Started }
    }
}

impl Arming {
    /// The state after reading `thumb` at `now`, `step` after the last reading.
    ///
    /// A repeated instant moves no clock but is read; readings up to a second apart count as if
    /// the thumb had stayed where it was in between.
    #[must_use]
    pub fn after(self, now: Instant, step: Step, thumb: Thumb) -> Self {
        match step {
            Step::Late => {
                return Self::Disarmed { why: Cause::LateTick };
            }
            Step::Backwards => {
                return Self::Disarmed { why: Cause::ClockSteppedBack };
            }
            Step::First | Step::OnTime { .. } => {}
        }
        let lasted = |since, long: Duration| now.since(since).is_some_and(|time| time >= long);
        match (self, thumb) {
            (Self::Armed { thumb: last }, Thumb::Broken { .. }) => {
                Self::Doubtful { since: now, brake: last.min(Ratio::ZERO) }
            }
            (Self::Doubtful { since, brake }, Thumb::Broken { .. })
                if !lasted(since, BROKEN_FOR) =>
            {
                Self::Doubtful { since, brake }
            }
            (
                Self::Disarmed { .. } | Self::Settling { .. } | Self::Doubtful { .. },
                Thumb::Broken { count },
            ) => Self::Disarmed { why: Cause::BrokenThumb { count } },
            (Self::Armed { .. } | Self::Doubtful { .. }, Thumb::At(thumb)) => Self::Armed { thumb },
            (Self::Disarmed { .. }, Thumb::At(thumb)) if thumb == Ratio::ZERO => {
                Self::Settling { since: now }
            }
            (Self::Disarmed { why }, Thumb::At(_)) => Self::Disarmed { why },
            (Self::Settling { since }, Thumb::At(thumb)) if thumb == Ratio::ZERO => {
                if lasted(since, NEUTRAL_FOR) {
                    Self::Armed { thumb: Ratio::ZERO }
                } else {
                    Self::Settling { since }
                }
            }
            (Self::Settling { .. }, Thumb::At(_)) => Self::Disarmed { why: Cause::AskedTooSoon },
        }
    }

    /// What of `thumb` may move the board.
    ///
    /// Laws: nothing unless armed or doubtful; a thumb that cannot be read never drives.
    #[must_use]
    pub fn allow(self, thumb: Thumb) -> Allowed {
        let reasons = match thumb {
            Thumb::Broken { .. } => Reasons::of(Reason::BrokenThumb),
            Thumb::At(_) => Reasons::NONE,
        };
        match self {
            Self::Armed { thumb } => Allowed { thumb, reasons },
            Self::Doubtful { brake, .. } => Allowed { thumb: brake, reasons },
            Self::Disarmed { .. } | Self::Settling { .. } => {
                let asks = match thumb {
                    Thumb::At(thumb) => thumb != Ratio::ZERO,
                    Thumb::Broken { .. } => false,
                };
                let reasons = if asks { reasons.with(Reason::NotArmed) } else { reasons };
                Allowed { thumb: Ratio::ZERO, reasons }
            }
        }
    }

    /// Whether somebody's thumb is in charge, even if it cannot be read for the moment.
    #[must_use]
    pub const fn is_armed(self) -> bool {
        match self {
            Self::Armed { .. } | Self::Doubtful { .. } => true,
            Self::Disarmed { .. } | Self::Settling { .. } => false,
        }
    }
}

/// A thumb that may move the board.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Allowed {
    /// What it asks, -1 to 1.
    pub thumb: Ratio,
    /// Why that is less than what the sensor says.
    pub reasons: Reasons,
}

#[cfg(test)]
mod tests;
