//! What can be read off a pack at any moment.
//!
//! For sensors, checks and reports. The group readers are O(groups): ask them at the rate of telemetry.

use super::Pack;
use super::group::{Group, Moment};

impl Pack {
    /// Mean terminal voltage of the last step (V); the resting voltage before the first.
    #[must_use]
    pub const fn voltage_V(&self) -> f64 {
        self.voltages.last_V
    }

    /// Current of the last step (A).
    #[must_use]
    pub const fn current_A(&self) -> f64 {
        self.current_A
    }

    /// Groups in series.
    #[must_use]
    pub fn series(&self) -> usize {
        self.groups.len()
    }

    /// Cells in a group that still carry current.
    #[must_use]
    pub fn cells_in_group(&self, group: usize) -> Option<usize> {
        self.groups.get(group).map(|group| group.cells.len())
    }

    /// The end of the last step.
    fn moment(&self) -> Moment {
        let (quick_C, slow_C) = self.deficits_C();
        let drawn_C = self.accounts.drawn_C();
        Moment {
            quick_C: drawn_C + (quick_C - self.sums.quick_C),
            slow_C: drawn_C + (slow_C - self.sums.slow_C),
            warm_K: self.sums.warm_K,
            hysteresis_V: self.cell.hysteresis.magnitude_V * self.states.hysteresis,
            branches_A: self.states.branches_A,
            kinetic_A: self.sums.kinetic_factor * self.current_A,
            current_A: self.current_A,
        }
    }

    /// Terminal voltage of a group (V), its welds and strip included, at the end of the last step.
    #[must_use]
    pub fn group_voltage_V(&self, group: usize) -> Option<f64> {
        self.groups.get(group).map(|group| group.voltage_V(&self.moment()))
    }

    /// Lowest and highest terminal voltage of the groups (V).
    #[must_use]
    pub fn group_voltages_V(&self) -> (f64, f64) {
        let moment = self.moment();
        self.groups
            .iter()
            .map(|group| group.voltage_V(&moment))
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| (low.min(v), high.max(v)))
    }

    /// Charge of a group over what it holds; 0 and 1 as in the cell's table.
    #[must_use]
    pub fn group_soc(&self, group: usize) -> Option<f64> {
        self.groups.get(group).map(|group| group.soc_after(self.accounts.drawn_C()))
    }

    /// What a group holds between soc 0 and 1 (Ah).
    #[must_use]
    pub fn group_capacity_Ah(&self, group: usize) -> Option<f64> {
        self.groups.get(group).map(|group| group.capacity_C / 3600.0)
    }

    /// Temperature of the cells (degC).
    #[must_use]
    pub const fn cell_temperature_degC(&self) -> f64 {
        self.heat.cells_degC
    }

    /// Temperature of the box around them (degC).
    #[must_use]
    pub const fn enclosure_degC(&self) -> f64 {
        self.heat.enclosure_degC
    }

    /// Temperature of the cells that make the most heat (degC): their rise over the enclosure is taken to
    /// be that of the mean times their share of heat, as it is once both are steady.
    #[must_use]
    pub fn hottest_degC(&self) -> f64 {
        let per_cell = |group: &Group| {
            let cells = group.cells.iter().map(|_| 1.0).sum::<f64>();
            group.resistance_factor / cells
        };
        let count = self.groups.iter().map(|_| 1.0).sum::<f64>();
        let mean = self.groups.iter().map(per_cell).sum::<f64>() / count;
        let most = self.groups.iter().map(per_cell).fold(0.0, f64::max);
        let rise_K = (self.heat.cells_degC - self.heat.enclosure_degC).max(0.0);
        self.heat.cells_degC + rise_K * (most / mean - 1.0)
    }

    /// Charge that can be drawn until the first group rests at the cell's lowest voltage at 25 degC (Ah).
    #[must_use]
    pub fn drawable_Ah(&self) -> f64 {
        let (empty_soc, _) = self.cell.span();
        let left_C = |group: &Group| {
            (group.soc_after(self.accounts.drawn_C()) - empty_soc) * group.capacity_C
        };
        self.groups.iter().map(left_C).fold(f64::INFINITY, f64::min) / 3600.0
    }

    /// Charge that goes in until the first group rests at the cell's highest voltage at 25 degC (Ah).
    #[must_use]
    pub fn chargeable_Ah(&self) -> f64 {
        let (_, full_soc) = self.cell.span();
        let room_C = |group: &Group| {
            (full_soc - group.soc_after(self.accounts.drawn_C())) * group.capacity_C
        };
        self.groups.iter().map(room_C).fold(f64::INFINITY, f64::min) / 3600.0
    }

    /// The most that could be drawn after a full charge (Ah), as balanced as the groups are now.
    #[must_use]
    pub fn usable_capacity_Ah(&self) -> f64 {
        self.drawable_Ah() + self.chargeable_Ah()
    }

    /// Charge of the pack: what can be drawn until its first group rests at the lowest voltage, over the
    /// most that could be after a full charge. Outside 0 to 1 once driven outside.
    #[must_use]
    pub fn true_soc(&self) -> f64 {
        let usable_Ah = self.usable_capacity_Ah();
        if usable_Ah > 0.0 { self.drawable_Ah() / usable_Ah } else { 0.0 }
    }

    /// Net charge drawn since the pack was made (C).
    #[must_use]
    pub fn charge_drawn_C(&self) -> f64 {
        self.drawn_C + self.accounts.drawn_C()
    }
}
