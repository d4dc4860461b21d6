//! How a pack is built, worn and cooled, as plain data with checks.
//!
//! Read from files or drawn by a campaign elsewhere; used once by `Pack::new`.

use thiserror::Error;

/// How unequal the cells are: standard deviations, drawn per cell and cut at three of them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread {
    /// Of capacity, as a share (0 to 0.2).
    pub capacity: f64,
    /// Of resistance, as a share (0 to 0.3).
    pub resistance: f64,
    /// Of charge at the start, in soc (0 to 0.2).
    pub charge: f64,
}

/// How worn the cells are.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Age {
    /// Capacity left, as a share of new (0.3 to 1.2: some cells hold more than their sheet says).
    pub capacity_share: f64,
    /// Resistance over that when new (0.3 to 10).
    pub resistance_growth: f64,
}

/// What is in the current's way besides cells.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wiring {
    /// Welds of one cell (0 to 0.1 ohm); cells of a group share.
    pub weld_ohm: f64,
    /// Strips of one group (0 to 0.1 ohm).
    pub strip_ohm: f64,
    /// Leads and connectors of the pack (0 to 1 ohm).
    pub leads_ohm: f64,
}

/// How heat is held and given off.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Thermal {
    /// Heat that warms one cell by a kelvin (1 to 1e4 J/K).
    pub cell_heat_J_K: f64,
    /// The same for the enclosure (1 to 1e6 J/K).
    pub enclosure_heat_J_K: f64,
    /// Flow from all cells to the enclosure (0 to 1e3 W/K).
    pub cells_to_enclosure_W_K: f64,
    /// Flow from the enclosure to the air (0 to 1e3 W/K).
    pub enclosure_to_air_W_K: f64,
}

/// All of a pack but its kind of cell.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PackSettings {
    /// Groups in series (1 to 200).
    pub series: u32,
    /// Cells in parallel in each (1 to 200).
    pub parallel: u32,
    /// Charge of the cells at the start, before the spread (0 to 1).
    pub start_soc: f64,
    /// Temperature of cells and enclosure at the start (-40 to 80 degC).
    pub temperature_degC: f64,
    /// Temperature of the air (-40 to 80 degC).
    pub air_degC: f64,
    /// The same seed draws the same cells.
    pub seed: u64,
    /// How unequal the cells are.
    pub spread: Spread,
    /// How worn they are.
    pub age: Age,
    /// Welds, strips and leads.
    pub wiring: Wiring,
    /// Heat.
    pub thermal: Thermal,
}

impl PackSettings {
    /// New, equal cells, 80 % charged at 25 degC, with no resistance besides theirs.
    ///
    /// Heat: cells of 70 J/K (70 g at about 1000 J/(kg K), common practice, no source) that lose their heat
    /// to an enclosure with a time constant of 20 minutes, and that to the air.
    #[must_use]
    pub fn ideal(series: u32, parallel: u32) -> Self {
        let cells = f64::from(series) * f64::from(parallel);
        Self {
            series,
            parallel,
            start_soc: 0.8,
            temperature_degC: 25.0,
            air_degC: 25.0,
            seed: 0,
            spread: Spread { capacity: 0.0, resistance: 0.0, charge: 0.0 },
            age: Age { capacity_share: 1.0, resistance_growth: 1.0 },
            wiring: Wiring { weld_ohm: 0.0, strip_ohm: 0.0, leads_ohm: 0.0 },
            thermal: Thermal {
                cell_heat_J_K: 70.0,
                enclosure_heat_J_K: 20.0 * cells,
                cells_to_enclosure_W_K: 70.0 * cells / 1200.0,
                enclosure_to_air_W_K: 70.0 * cells / 600.0,
            },
        }
    }

    pub(crate) fn check(&self) -> Result<(), PackFault> {
        let (spread, age, wiring, thermal) = (self.spread, self.age, self.wiring, self.thermal);
        for (quantity, given, lowest, highest) in [
            ("series", f64::from(self.series), 1.0, 200.0),
            ("parallel", f64::from(self.parallel), 1.0, 200.0),
            ("start_soc", self.start_soc, 0.0, 1.0),
            ("temperature_degC", self.temperature_degC, -40.0, 80.0),
            ("air_degC", self.air_degC, -40.0, 80.0),
            ("spread capacity", spread.capacity, 0.0, 0.2),
            ("spread resistance", spread.resistance, 0.0, 0.3),
            ("spread charge", spread.charge, 0.0, 0.2),
            ("age capacity_share", age.capacity_share, 0.3, 1.2),
            ("age resistance_growth", age.resistance_growth, 0.3, 10.0),
            ("weld_ohm", wiring.weld_ohm, 0.0, 0.1),
            ("strip_ohm", wiring.strip_ohm, 0.0, 0.1),
            ("leads_ohm", wiring.leads_ohm, 0.0, 1.0),
            ("cell_heat_J_K", thermal.cell_heat_J_K, 1.0, 1e4),
            ("enclosure_heat_J_K", thermal.enclosure_heat_J_K, 1.0, 1e6),
            ("cells_to_enclosure_W_K", thermal.cells_to_enclosure_W_K, 0.0, 1e3),
            ("enclosure_to_air_W_K", thermal.enclosure_to_air_W_K, 0.0, 1e3),
        ] {
            if !(given >= lowest && given <= highest) {
                return Err(PackFault::OutOfRange { quantity, given, lowest, highest });
            }
        }
        let flow_W_K = thermal.cells_to_enclosure_W_K + thermal.enclosure_to_air_W_K;
        let cells_J_K = thermal.cell_heat_J_K * f64::from(self.series) * f64::from(self.parallel);
        // The heat nodes are stepped plainly, by up to a second: they must be slower than that.
        let held_J_K = cells_J_K.min(thermal.enclosure_heat_J_K);
        if flow_W_K * 4.0 > held_J_K {
            return Err(PackFault::TooFleeting { flow_W_K, held_J_K });
        }
        Ok(())
    }
}

/// Why a pack cannot be built, or changed.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum PackFault {
    /// A value lies outside what the model can mean.
    #[error("{quantity} is {given}, allowed is {lowest} to {highest}")]
    OutOfRange {
        /// Name of the quantity, with its unit.
        quantity: &'static str,
        /// What was given.
        given: f64,
        /// Lowest allowed value.
        lowest: f64,
        /// Highest allowed value.
        highest: f64,
    },
    /// Heat would run out of a node within a few steps.
    #[error(
        "{flow_W_K} W/K out of {held_J_K} J/K is too fast: a time constant of at least 4 s is needed"
    )]
    TooFleeting {
        /// Flow out of the node.
        flow_W_K: f64,
        /// What it holds.
        held_J_K: f64,
    },
    /// There is no such group.
    #[error("there is no group {group}: the pack has {groups}, counted from 0")]
    NoSuchGroup {
        /// Asked for.
        group: usize,
        /// Groups there are.
        groups: usize,
    },
    /// More cells would be lost than can be.
    #[error("{asked} cells cannot leave group {group}: it has {left}, and one must stay")]
    TooManyCells {
        /// Where.
        group: usize,
        /// Cells that should leave.
        asked: u32,
        /// Cells that are there.
        left: usize,
    },
}
