//! How a ride ends, and when no drive is left.
//!
//! Used by `world`. "No drive left" is what a rider would call it: the thumb is well down and the
//! board goes slower than a walk, with a radio that works. It is looked for in the true speed, so
//! that neither the pack's nor the library's idea of empty decides it. Whether it is the pack that
//! has no more to give, or a hill or motors that are too much or too weak, is told by the pack's
//! voltage under load: near its stop voltage it is the pack.

/// Walking pace, 5 km/h. Common practice, no source.
const WALK_M_S: f64 = 1.4;

/// A rider who wants no more than a walk has less to miss.
const OF_WISH: f64 = 0.5;

/// Ticks with the thumb well down and the board slower than a walk: eight seconds, which a board
/// with drive needs nowhere near from standstill.
const TICKS: u32 = 400;

/// Well down.
const ASKS: f64 = 0.7;

/// A silence of half a second takes the drive for reasons of its own; how long it takes to come
/// back is left out as well.
const SILENT_TICKS: u32 = 25;
const BACK_TICKS: u32 = 150;

/// How a ride ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ending {
    /// At the end of the way.
    Arrived,
    /// With the thumb down and the board slower than a walk, the pack near its stop voltage.
    NoDriveLeft,
    /// The same with a pack that has more to give: too steep, too heavy, or motors too weak.
    Stuck,
}

impl Ending {
    /// What a table or a file calls it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Arrived => "arrived",
            Self::NoDriveLeft => "no_drive_left",
            Self::Stuck => "stuck",
        }
    }
}

/// What is looked at in a tick.
#[derive(Clone, Copy, Debug)]
pub(super) struct Try {
    pub(super) thumb: f64,
    /// Whether the rider only lets go to ask anew.
    pub(super) lets_go: bool,
    pub(super) speed_m_s: f64,
    pub(super) wish_m_s: f64,
    /// Whether frames get through, both ways.
    pub(super) heard: bool,
    /// Whether the pack holds the drive back.
    pub(super) pack_is_low: bool,
}

/// Counts the ticks in which drive was asked for in vain.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct DriveLeft {
    in_vain: u32,
    with_low_pack: u32,
    silent_for: u32,
    waits_for: u32,
}

impl DriveLeft {
    /// The counts after a tick more.
    pub(super) fn after(self, tick: &Try) -> Self {
        let silent_for = if tick.heard { 0 } else { self.silent_for.saturating_add(1) };
        let waits_for =
            if silent_for > SILENT_TICKS { BACK_TICKS } else { self.waits_for.saturating_sub(1) };
        if tick.lets_go {
            return Self { silent_for, waits_for, ..self };
        }
        let slow_m_s = WALK_M_S.min(OF_WISH * tick.wish_m_s);
        let in_vain = tick.thumb >= ASKS && tick.speed_m_s < slow_m_s && waits_for == 0;
        let counted = |count: u32, more| if in_vain { count.saturating_add(more) } else { 0 };
        Self {
            in_vain: counted(self.in_vain, 1),
            with_low_pack: counted(self.with_low_pack, u32::from(tick.pack_is_low)),
            silent_for,
            waits_for,
        }
    }

    /// How the ride ended; nothing while there is drive.
    pub(super) const fn ending(self) -> Option<Ending> {
        if self.in_vain < TICKS {
            None
        } else if self.with_low_pack > 0 {
            Some(Ending::NoDriveLeft)
        } else {
            Some(Ending::Stuck)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const VAIN: Try = Try {
        thumb: 0.9,
        lets_go: false,
        speed_m_s: 1.0,
        wish_m_s: 5.0,
        heard: true,
        pack_is_low: true,
    };

    #[test]
    fn drive_is_gone_after_eight_seconds_of_asking_at_less_than_a_walk() {
        let mut left = DriveLeft::default();
        for _ in 0..399 {
            left = left.after(&VAIN);
            assert_eq!(left.ending(), None);
        }
        assert_eq!(left.after(&VAIN).ending(), Some(Ending::NoDriveLeft));
        for better in [
            Try { speed_m_s: 1.5, ..VAIN },
            Try { thumb: 0.5, ..VAIN },
            Try { wish_m_s: 1.9, ..VAIN },
        ] {
            assert_eq!(left.after(&better).after(&VAIN).ending(), None);
        }
        let lost = Try { heard: false, ..VAIN };
        assert!(left.after(&lost).ending().is_some(), "a lost frame is no silence");
    }

    #[test]
    fn a_pack_that_has_more_to_give_is_stuck_and_not_empty() {
        let mut left = DriveLeft::default();
        for _ in 0..400 {
            left = left.after(&Try { pack_is_low: false, ..VAIN });
        }
        assert_eq!(left.ending(), Some(Ending::Stuck));
    }

    #[test]
    fn a_silent_radio_is_no_empty_pack() {
        let mut left = DriveLeft::default();
        for tick in 0..3000 {
            left = left.after(&Try { heard: tick % 500 == 0, speed_m_s: 0.0, ..VAIN });
            assert_eq!(left.ending(), None);
        }
    }
}
