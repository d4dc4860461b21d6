//! Where every joule went.
//!
//! Kept by `stepping` and closed by `refresh`. The chemical side is the area under the 25 degC resting
//! curve between the charges of every group; the other side is added up from currents and voltages.

use super::{Pack, STEP_S};

/// Energies since the pack was made (J). Law, at any moment:
/// `chemical = terminal + ohmic + branches + tail + hysteresis + reversible + wiring + stored`.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Energy {
    /// Left the cells: integral of the 25 degC resting curve over charge, all groups.
    pub chemical_J: f64,
    /// Delivered at the terminals, less what was charged.
    pub terminal_J: f64,
    /// Heat of the cells' instant resistance.
    pub ohmic_J: f64,
    /// Heat of the branches.
    pub branches_J: f64,
    /// Heat of the slow spheres: the resting voltage of the mean less that of the surface, times charge. It
    /// may shrink for a while when a current turns round: the tail gives back.
    pub tail_J: f64,
    /// Heat of hysteresis.
    pub hysteresis_J: f64,
    /// What the resting voltage at the cells' temperature gave less than at 25 degC. May be negative.
    pub reversible_J: f64,
    /// Heat of welds, strips and leads.
    pub wiring_J: f64,
    /// In the branches now.
    pub stored_J: f64,
    /// Heat taken up by the reaction itself at 25 degC (entropy), for the thermal balance only: not part of the
    /// law, since the resting curve does not contain it. Positive warms the cells.
    pub entropy_J: f64,
}

impl Energy {
    /// Chemical energy less everything it became (J); zero but for rounding.
    #[must_use]
    pub fn imbalance_J(&self) -> f64 {
        let heats = self.ohmic_J + self.branches_J + self.tail_J + self.hysteresis_J;
        self.chemical_J
            - self.terminal_J
            - heats
            - self.reversible_J
            - self.wiring_J
            - self.stored_J
    }

    /// All heat that the cells themselves received (J).
    #[must_use]
    pub fn cell_heat_J(&self) -> f64 {
        self.ohmic_J
            + self.branches_J
            + self.tail_J
            + self.hysteresis_J
            + self.reversible_J
            + self.entropy_J
    }
}

impl Pack {
    /// The accounts up to now (J), the interval that is still open included. O(groups).
    #[must_use]
    pub fn energy(&self) -> Energy {
        let curve = &self.cell.curve;
        let chemical = |group: &super::group::Group| {
            let soc = group.soc_after(self.accounts.drawn_C());
            (group.area_V - curve.area_V(soc)) * group.capacity_C
        };
        self.closed(self.groups.iter().map(chemical).sum())
    }

    /// The accounts with the open interval added, in which the cells gave `chemical_J`.
    pub(super) fn closed(&self, chemical_J: f64) -> Energy {
        let (accounts, sums, past) = (&self.accounts, &self.sums, &self.energy);
        let current_A2s = accounts.current_A2 * STEP_S;
        let branches = sums.branches_ohm.iter().zip(&accounts.twice_branches_A2);
        let branches_W = branches.map(|(ohm, twice_A2)| 0.25 * ohm * twice_A2).sum::<f64>();
        Energy {
            chemical_J: past.chemical_J + chemical_J,
            terminal_J: past.terminal_J + accounts.terminal_W * STEP_S,
            ohmic_J: past.ohmic_J + sums.instant_ohm * current_A2s,
            branches_J: past.branches_J + branches_W * STEP_S,
            tail_J: past.tail_J + chemical_J - accounts.surface_W * STEP_S,
            hysteresis_J: past.hysteresis_J - sums.hysteresis_V * accounts.hysteresis_A * STEP_S,
            reversible_J: past.reversible_J - sums.warm_V * accounts.drawn_C(),
            wiring_J: past.wiring_J + sums.wiring_ohm * current_A2s,
            stored_J: sums.stored_J(self.states.branches_A),
            entropy_J: past.entropy_J - 298.15 * sums.per_K * accounts.drawn_C(),
        }
    }
}
