//! Where every joule went.
//!
//! Kept by `stepping` and closed by `refresh`. The chemical side is the area under the 25 degC resting
//! curve between the charges of every group; the other side is added up from currents and voltages.

use super::Pack;

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
    /// Heat of the two branches.
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
        let (interval, sums, past) = (&self.interval, &self.sums, &self.energy);
        let curve = &self.cell.curve;
        let mut chemical_J = 0.0;
        if interval.steps > 0 {
            for group in &self.groups {
                let (before, after) = (group.soc_after(0.0), group.soc_after(interval.drawn_C));
                let fell_V = curve.area_V(curve.locate(group.mean_at, before), before)
                    - curve.area_V(curve.locate(group.mean_at, after), after);
                chemical_J += fell_V * group.capacity_C;
            }
        }
        let [.., branch1_A, branch2_A] = &self.states.lagged;
        Energy {
            chemical_J: past.chemical_J + chemical_J,
            terminal_J: past.terminal_J + interval.terminal_J,
            ohmic_J: past.ohmic_J + sums.instant_ohm * interval.current_A2s,
            branches_J: past.branches_J
                + sums.branch1_ohm * interval.branch1_A2s
                + sums.branch2_ohm * interval.branch2_A2s,
            tail_J: past.tail_J + chemical_J - interval.surface_J,
            hysteresis_J: past.hysteresis_J - sums.hysteresis_V * interval.hysteresis_C,
            reversible_J: past.reversible_J - sums.warm_V * interval.drawn_C,
            wiring_J: past.wiring_J + sums.wiring_ohm * interval.current_A2s,
            stored_J: sums.stored_J(*branch1_A, *branch2_A),
            entropy_J: past.entropy_J - 298.15 * sums.per_K * interval.drawn_C,
        }
    }
}
