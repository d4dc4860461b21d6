//! The hard limits: stop voltage, over-voltage and standstill, after shaping and at a rate of their own.
//!
//! The last stage before the demand. What stands behind them is a motor controller or a protection
//! board that would cut everything at once; they are there to be gentler than that. The fade at
//! standstill is here because nothing that still comes off at its own rate may outlast the motion:
//! a brake must never push backwards. Common practice, no source.

use super::ceilings::{CeilingRates, Ceilings};
use super::rate::Rate;
use super::reasons::Reason;
use crate::units::{Ratio, Volts};

/// How fast hard limits move, from all to nothing or back. Half a second: twice a reaction to
/// light (0.25 s), so a rider still shifts weight in time, and a fifth of a discharge pulse that
/// cells are rated for (10 s, from memory). From full braking it ends the fade at standstill while
/// there still is some speed left. Drive is back slowly, for the cause is seldom gone; the brake in a
/// second, for a board that starts to roll. No source.
const PACE: CeilingRates = CeilingRates {
    drive_falls: Rate::all_within(500),
    drive_rises: Rate::all_within(5000),
    brake_falls: Rate::all_within(500),
    brake_rises: Rate::all_within(1000),
};

/// The two voltages of a limit that trips.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Latch {
    /// Reaching this trips it.
    pub trip: Volts,
    /// Reaching this, on the safe side, lets it go.
    pub release: Volts,
}

/// What the hard limits need to know.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(crate) struct HardLimits {
    pub(super) stop: Latch,
    pub(super) over: Latch,
    pub(super) floor: Ratio,
}

/// Whether a limit has tripped.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Trip {
    /// It has not.
    #[default]
    Clear,
    /// It has, and its voltage has not come back far enough.
    Tripped,
}

impl Trip {
    /// The state after seeing whether the voltage `trips` it or `releases` it; neither keeps it.
    #[must_use]
    const fn after(self, trips: bool, releases: bool) -> Self {
        match (self, trips, releases) {
            (Self::Clear | Self::Tripped, true, _) => Self::Tripped,
            (Self::Clear, false, _) => Self::Clear,
            (Self::Tripped, false, true) => Self::Clear,
            (Self::Tripped, false, false) => Self::Tripped,
        }
    }
}

/// The state of the hard limits. Each of the two that trip:
///
/// | state | at or beyond trip | between | at or beyond release | voltage unknown |
/// | --- | --- | --- | --- | --- |
/// | `Clear` | `Tripped` | `Clear` | `Clear` | `Clear` |
/// | `Tripped` | `Tripped` | `Tripped` | `Clear` | `Tripped` |
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Hard {
    /// The pack fell to its stop voltage.
    pub stop: Trip,
    /// The pack rose above its highest voltage.
    pub over: Trip,
    /// What is left meanwhile.
    pub ceilings: Ceilings,
}

impl Default for Hard {
    fn default() -> Self {
        Self { stop: Trip::Clear, over: Trip::Clear, ceilings: Ceilings::OPEN }
    }
}

impl Hard {
    /// The state after hearing the pack's voltage; one that was not measured changes nothing.
    ///
    /// Law: nothing comes back before the voltage has.
    #[must_use]
    pub(crate) fn heard(self, voltage: Option<Volts>, limits: &HardLimits) -> Self {
        let Some(voltage) = voltage else { return self };
        let HardLimits { stop, over, .. } = limits;
        Self {
            stop: self.stop.after(voltage <= stop.trip, voltage >= stop.release),
            over: self.over.after(voltage >= over.trip, voltage <= over.release),
            ..self
        }
    }

    /// The state `micros` later, where the speed leaves `brake`.
    ///
    /// Law: tripped, drive is gone within half a second and charging as well.
    #[must_use]
    pub(crate) fn after(self, brake: (Ratio, Reason), micros: u32, limits: &HardLimits) -> Self {
        let (share, reason) = brake;
        let all = share >= Ratio::ONE && self.stop == Trip::Clear && self.over == Trip::Clear;
        if all && self.ceilings == Ceilings::OPEN {
            // As a rule.
            return self;
        }
        let target = Ceilings::OPEN.brake_held(share, reason);
        let target = match self.stop {
            Trip::Clear => target,
            Trip::Tripped => target.drive_held(Ratio::ZERO, Reason::StopVoltage),
        };
        let target = match self.over {
            Trip::Clear => target,
            Trip::Tripped => target.brake_held(limits.floor, Reason::OverVoltage),
        };
        Self { ceilings: self.ceilings.toward(target, micros, &PACE), ..self }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn limits() -> HardLimits {
        HardLimits {
            stop: Latch { trip: Volts::from_whole(33), release: Volts::from_whole(38) },
            over: Latch { trip: Volts::from_whole(51), release: Volts::from_whole(50) },
            floor: Ratio::from_percent(30),
        }
    }

    fn seen(hard: Hard, volts: Option<i32>) -> Hard {
        let standstill = (Ratio::ONE, Reason::Standstill);
        hard.heard(volts.map(Volts::from_whole), &limits()).after(standstill, 10_000, &limits())
    }

    #[test]
    fn each_cell_of_the_table_holds() {
        let clear = Hard::default();
        let stopped = Hard { stop: Trip::Tripped, ..clear };
        let over = Hard { over: Trip::Tripped, ..clear };
        let trips = |hard: Hard| (hard.stop, hard.over);
        let (none, tripped) = (Trip::Clear, Trip::Tripped);
        assert_eq!(trips(seen(clear, Some(33))), (tripped, none));
        assert_eq!(trips(seen(clear, Some(34))), (none, none));
        assert_eq!(trips(seen(clear, Some(51))), (none, tripped));
        assert_eq!(trips(seen(clear, None)), (none, none));
        assert_eq!(trips(seen(stopped, Some(30))), (tripped, none));
        assert_eq!(trips(seen(stopped, Some(37))), (tripped, none));
        assert_eq!(trips(seen(stopped, Some(38))), (none, none));
        assert_eq!(trips(seen(stopped, None)), (tripped, none));
        assert_eq!(trips(seen(over, Some(52))), (none, tripped));
        assert_eq!(trips(seen(over, Some(50))), (none, none));
        assert_eq!(trips(seen(over, None)), (none, tripped));
    }

    #[test]
    fn a_tripped_limit_takes_all_it_takes_within_half_a_second() {
        let (mut stopped, mut over) = (Hard::default(), Hard::default());
        for _ in 0..51 {
            stopped = seen(stopped, Some(30));
            over = seen(over, Some(55));
        }
        assert_eq!(stopped.ceilings.drive.share, Ratio::ZERO);
        assert_eq!(stopped.ceilings.brake.share, Ratio::ONE);
        assert_eq!(over.ceilings.brake.share, Ratio::from_percent(30));
        assert_eq!(over.ceilings.drive.share, Ratio::ONE);
    }

    proptest! {
        #[test]
        fn law_a_hard_limit_never_moves_faster_than_half_a_second_for_all(
            seen in prop::collection::vec(
                (prop::option::of(any::<i32>()), 0..=1 << 24),
                1..100,
            ),
        ) {
            let mut hard = Hard::default();
            for (volts, standstill) in seen {
                let (volts, share) = (volts.map(Volts::from_bits), Ratio::from_bits(standstill));
                let standstill = (share, Reason::Standstill);
                let after = hard.heard(volts, &limits()).after(standstill, 10_000, &limits());
                // A fiftieth of all per 10 ms.
                let step = Ratio::from_fraction(1, 50);
                for (before, after) in [
                    (hard.ceilings.drive, after.ceilings.drive),
                    (hard.ceilings.brake, after.ceilings.brake),
                ] {
                    prop_assert!((after.share - before.share).magnitude() <= step);
                }
                hard = after;
            }
        }
    }
}
