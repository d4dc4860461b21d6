//! A few published cells, each under its paper's name, to begin with before a cell is measured.
//!
//! One file per cell; to add one, copy a file and name it here. The tables are results of
//! published parameter sets, solved with a battery-modelling library: good for a first ride on the
//! bench, no replacement for a slow discharge of the cells in the pack.

mod ai_2020;
mod chen_2020;
mod kim_2011;
mod o_kane_2022;
mod o_regan_2022;
mod prada_2013;

pub use ai_2020::AI_2020;
pub use chen_2020::CHEN_2020;
pub use kim_2011::KIM_2011;
pub use o_kane_2022::O_KANE_2022;
pub use o_regan_2022::O_REGAN_2022;
pub use prada_2013::PRADA_2013;

use super::{ResistanceMap, RestingCurve};
use crate::units::{Celsius, Coulombs, Ohms, Ratio, Volts};

/// All published cells.
pub const ALL: [&PublishedCell; 6] =
    [&CHEN_2020, &O_REGAN_2022, &O_KANE_2022, &PRADA_2013, &KIM_2011, &AI_2020];

/// Resistances from 1C pulses of a rested cell: all charges of the first temperature first.
#[derive(Clone, Copy, Debug)]
pub struct Pulses {
    /// Charges, rising.
    pub soc: &'static [Ratio],
    /// Temperatures in whole degrees Celsius, rising.
    pub temperatures: &'static [i32; 4],
    /// After one second.
    pub one_second: &'static [Ohms],
    /// After ten seconds.
    pub ten_seconds: &'static [Ohms],
}

/// A published cell. State of charge 1 is rested at the highest voltage, 0 at the lowest, at 25 °C.
#[derive(Clone, Copy, Debug)]
pub struct PublishedCell {
    /// The name by which a board file asks for it.
    pub key: &'static str,
    /// Charge between the two voltages in mAh.
    pub capacity_mah: i32,
    /// Lowest resting voltage in mV.
    pub lowest_mv: i32,
    /// Highest resting voltage in mV.
    pub highest_mv: i32,
    /// Charges of the resting voltages, rising from 0 to 1.
    pub soc: &'static [Ratio],
    /// Resting voltages by temperature.
    pub resting: &'static [(Celsius, &'static [Volts])],
    /// Resistances.
    pub pulses: Pulses,
}

impl PublishedCell {
    /// The published cell of that key, if there is one.
    #[must_use]
    pub fn named(key: &str) -> Option<&'static Self> {
        ALL.into_iter().find(|cell| cell.key == key)
    }

    /// Its capacity when new.
    #[must_use]
    pub fn capacity(&self) -> Coulombs {
        Coulombs::from_milliampere_hours(self.capacity_mah)
    }

    /// Its resting-voltage curve.
    ///
    /// # Errors
    /// Where the table were no curve; a test builds every one.
    pub fn resting_curve(&self) -> Result<RestingCurve, super::CurveFault> {
        RestingCurve::new(self.soc, self.resting)
    }

    /// Its resistance.
    ///
    /// # Errors
    /// Where the table were no map; a test builds every one.
    pub fn resistance_map(&self) -> Result<ResistanceMap, super::ResistanceFault> {
        let temperatures = self.pulses.temperatures.map(Celsius::from_whole);
        ResistanceMap::new(
            self.pulses.soc,
            &temperatures,
            self.pulses.ten_seconds,
            Some(self.pulses.one_second),
        )
    }
}

/// Turns a table of integers into one of a quantity while compiling.
macro_rules! table {
    ($(#[$about:meta])* $name:ident, $quantity:ident, $per_unit:literal) => {
        $(#[$about])*
        #[allow(
            clippy::indexing_slicing,
            clippy::arithmetic_side_effects,
            reason = "evaluated while compiling only: a slip would not build"
        )]
        const fn $name<const N: usize>(whole: [i32; N]) -> [$quantity; N] {
            let mut made = [$quantity::ZERO; N];
            let mut index = 0;
            while index < N {
                made[index] = $quantity::from_fraction(whole[index], $per_unit);
                index += 1;
            }
            made
        }
    };
}

table!(
    /// Charges from hundredths of a percent.
    charges, Ratio, 10_000
);
table!(
    /// Voltages from steps of 10 µV.
    volts, Volts, 100_000
);
table!(
    /// Resistances from µΩ.
    ohms, Ohms, 1_000_000
);

/// The charges at which resting voltages are given: every percent, every half a percent at the ends.
const STEPS_OF_CHARGE: [Ratio; 116] = charges([
    0, 50, 100, 150, 200, 250, 300, 350, 400, 450, 500, 550, 600, 650, 700, 750, 800, 850, 900,
    950, 1000, 1100, 1200, 1300, 1400, 1500, 1600, 1700, 1800, 1900, 2000, 2100, 2200, 2300, 2400,
    2500, 2600, 2700, 2800, 2900, 3000, 3100, 3200, 3300, 3400, 3500, 3600, 3700, 3800, 3900, 4000,
    4100, 4200, 4300, 4400, 4500, 4600, 4700, 4800, 4900, 5000, 5100, 5200, 5300, 5400, 5500, 5600,
    5700, 5800, 5900, 6000, 6100, 6200, 6300, 6400, 6500, 6600, 6700, 6800, 6900, 7000, 7100, 7200,
    7300, 7400, 7500, 7600, 7700, 7800, 7900, 8000, 8100, 8200, 8300, 8400, 8500, 8600, 8700, 8800,
    8900, 9000, 9100, 9200, 9300, 9400, 9500, 9550, 9600, 9650, 9700, 9750, 9800, 9850, 9900, 9950,
    10000,
]);

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cell::Pulse;

    #[test]
    fn every_published_cell_builds_and_keeps_its_ends() {
        for cell in ALL {
            let curve = cell.resting_curve().unwrap();
            let at = curve.at(Celsius::from_whole(25));
            let end = |volts: Volts, wanted: i32| {
                assert!((volts.to_milli() - wanted).abs() <= 1, "{}", cell.key)
            };
            end(at.voltage(Ratio::ZERO), cell.lowest_mv);
            end(at.voltage(Ratio::ONE), cell.highest_mv);
            let map = cell.resistance_map().unwrap();
            let ohms =
                |t| map.ohms(Ratio::from_percent(50), Celsius::from_whole(t), Pulse::TenSeconds);
            assert!(ohms(-10) > ohms(0) && ohms(0) > ohms(40), "{}", cell.key);
        }
    }

    #[test]
    fn a_name_that_nobody_published_is_no_cell() {
        assert!(PublishedCell::named("imaginary").is_none());
        assert_eq!(PublishedCell::named("prada-2013-lfp-26650").unwrap().capacity_mah, 2303);
    }
}
