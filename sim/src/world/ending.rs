//! How a ride ends, and when no drive is left.
//!
//! Used by `world`. "No drive left" is what a rider would call it: the thumb asks for a good part
//! of the drive and the board stays slower than a walk. It is looked for in the true speed, so that
//! neither the pack's nor the library's idea of empty decides it.

/// Walking pace, 5 km/h. Common practice, no source.
const WALK_M_S: f64 = 1.4;

/// Ticks with the thumb well down and the board slower than a walk: eight seconds, which a board
/// with drive needs nowhere near from standstill.
const TICKS: u32 = 400;

/// Well down.
const ASKS: f64 = 0.4;

/// How a ride ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ending {
    /// At the end of the way.
    Arrived,
    /// With the thumb down and the board slower than a walk.
    NoDriveLeft,
}

impl Ending {
    /// What a table or a file calls it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Arrived => "arrived",
            Self::NoDriveLeft => "no_drive_left",
        }
    }
}

/// A silence of half a second takes the drive for reasons of its own; how long it takes to come
/// back is left out as well.
const SILENT_TICKS: u32 = 25;
const BACK_TICKS: u32 = 150;

/// Counts the ticks in which drive was asked for in vain.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct DriveLeft {
    in_vain: u32,
    silent_for: u32,
    waits_for: u32,
}

impl DriveLeft {
    /// The count after a tick more; `heard` says whether frames get through, both ways.
    pub(super) fn after(self, thumb: f64, speed_m_s: f64, heard: bool) -> Self {
        let silent_for = if heard { 0 } else { self.silent_for.saturating_add(1) };
        let waits_for =
            if silent_for > SILENT_TICKS { BACK_TICKS } else { self.waits_for.saturating_sub(1) };
        let in_vain = thumb >= ASKS && speed_m_s < WALK_M_S && waits_for == 0;
        let in_vain = if in_vain { self.in_vain.saturating_add(1) } else { 0 };
        Self { in_vain, silent_for, waits_for }
    }

    /// Whether none is left.
    pub(super) const fn is_gone(self) -> bool {
        self.in_vain >= TICKS
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn drive_is_gone_after_eight_seconds_of_asking_at_less_than_a_walk() {
        let mut left = DriveLeft::default();
        for _ in 0..399 {
            left = left.after(0.5, 1.0, true);
            assert!(!left.is_gone());
        }
        assert!(left.after(0.5, 1.0, true).is_gone());
        assert!(!left.after(0.5, 1.5, true).after(0.5, 1.0, true).is_gone());
        assert!(!left.after(0.2, 1.0, true).after(0.5, 1.0, true).is_gone());
        assert!(left.after(0.5, 1.0, false).is_gone(), "a lost frame is no silence");
    }

    #[test]
    fn a_silent_radio_is_no_empty_pack() {
        let mut left = DriveLeft::default();
        for tick in 0..3000 {
            left = left.after(1.0, 0.0, tick % 500 == 0);
            assert!(!left.is_gone());
        }
    }
}
