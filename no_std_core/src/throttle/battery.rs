//! The handheld's own battery: warns while there is time, and then walks home.
//!
//! Fed by the throttle's tick with what the caller measures. A hand that dies at full speed is a
//! silent one, and the board stops by itself; this is to be home before that.

use super::error::{Error, Quantity, thousandths, within};
use crate::time::Duration;
use crate::units::Volts;

/// A voltage has to stay down for so long: a radio that sends pulls it down for milliseconds. Common
/// practice, no source.
pub const LOW_FOR: Duration = Duration::from_secs(3);

/// [`LOW_FOR`] in microseconds.
const LOW_FOR_US: u32 = 3_000_000;

/// So far above its threshold a battery is no longer low.
const BACK_ABOVE: Volts = Volts::from_milli(100);

/// Under which voltages the hand warns and walks home.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct BatteryLimits {
    /// Below this it warns, 0.8 to 60 V.
    pub warn_below: Volts,
    /// Below this it walks home; at least 0.05 V under the warning, and 0.7 V.
    pub walk_below: Volts,
}

impl BatteryLimits {
    /// One lithium-ion cell: 3.6 and 3.4 V under the little that a hand asks for. Nickel-rich cells
    /// rest there at about a third and a seventh of their charge (Chen 2020, see `cell::published`).
    pub const USUAL: Self =
        Self { warn_below: Volts::from_milli(3600), walk_below: Volts::from_milli(3400) };

    /// Nothing, if they make sense.
    ///
    /// # Errors
    /// [`Error::OutOfRange`]: `HandWarnBelow` or `HandWalkBelow`.
    pub(super) fn check(&self) -> Result<(), Error> {
        let (warn, walk) =
            (thousandths(self.warn_below.to_micro()), thousandths(self.walk_below.to_micro()));
        within(Quantity::HandWarnBelow, warn, 800, 60_000)?;
        within(Quantity::HandWalkBelow, walk, 700, warn.saturating_sub(50))
    }
}

/// How the handheld's battery is.
///
/// | state | above warning by 0.1 V | between | under warning for 3 s | under walk for 3 s |
/// | --- | --- | --- | --- | --- |
/// | `Fine` | `Fine` | `Fine` | `Low` | `Spent` |
/// | `Low` | `Fine` | `Low` | `Low` | `Spent` |
/// | `Spent` | `Spent` | `Spent` | `Spent` | `Spent` |
///
/// Nothing measured changes nothing. `Spent` ends with the next start.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum HandBattery {
    /// It will do.
    #[default]
    Fine,
    /// It warns.
    Low,
    /// It walks home.
    Spent,
}

/// A battery over time.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(super) struct BatteryWatch {
    pub(super) state: HandBattery,
    /// Microseconds under the threshold that comes next.
    down_for: u32,
}

impl BatteryWatch {
    /// The state after measuring `volts`, `micros` after the last time.
    pub(super) fn after(self, volts: Volts, micros: u32, limits: &BatteryLimits) -> Self {
        let (threshold, next) = match self.state {
            HandBattery::Fine => (limits.warn_below, HandBattery::Low),
            HandBattery::Low => (limits.walk_below, HandBattery::Spent),
            HandBattery::Spent => return self,
        };
        if volts < threshold {
            let down_for = self.down_for.saturating_add(micros);
            return if down_for >= LOW_FOR_US {
                Self { state: next, down_for: 0 }
            } else {
                Self { down_for, ..self }
            };
        }
        let fine = self.state == HandBattery::Low && volts >= limits.warn_below + BACK_ABOVE;
        let state = if fine { HandBattery::Fine } else { self.state };
        Self { state, down_for: 0 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn after(watch: BatteryWatch, milli: i32, ticks: u32) -> BatteryWatch {
        (0..ticks).fold(watch, |watch, _| {
            watch.after(Volts::from_milli(milli), 20_000, &BatteryLimits::USUAL)
        })
    }

    #[test]
    fn each_cell_of_the_table_holds() {
        let fine = BatteryWatch::default();
        assert_eq!(after(fine, 3550, 149).state, HandBattery::Fine);
        let low = after(fine, 3550, 150);
        assert_eq!(low.state, HandBattery::Low);
        assert_eq!(after(low, 3650, 500).state, HandBattery::Low);
        assert_eq!(after(low, 3700, 1).state, HandBattery::Fine);
        assert_eq!(after(low, 3390, 149).state, HandBattery::Low);
        let spent = after(low, 3390, 150);
        assert_eq!(spent.state, HandBattery::Spent);
        assert_eq!(after(spent, 4200, 500).state, HandBattery::Spent);
        // Found nearly empty: it warns, and walks as long after; a moment of it is not enough.
        assert_eq!(after(after(fine, 3500, 149), 3300, 149).state, HandBattery::Low);
        assert_eq!(after(fine, 3300, 300).state, HandBattery::Spent);
    }

    #[test]
    fn a_radio_that_pulls_the_voltage_down_for_moments_warns_nobody() {
        let mut watch = BatteryWatch::default();
        for tick in 0..10_000 {
            watch = after(watch, if tick % 100 < 90 { 3300 } else { 3800 }, 1);
        }
        assert_eq!(watch.state, HandBattery::Fine);
    }

    #[test]
    fn thresholds_that_make_no_sense_are_refused_by_name() {
        let usual = BatteryLimits::USUAL;
        let crossed = BatteryLimits { walk_below: Volts::from_milli(3551), ..usual };
        let (quantity, given, lowest, highest) = (Quantity::HandWalkBelow, 3551, 700, 3550);
        assert_eq!(crossed.check(), Err(Error::OutOfRange { quantity, given, lowest, highest }));
        assert_eq!(usual.check(), Ok(()));
    }
}
