//! One group of cells in parallel, and what it gives at this moment.
//!
//! Held by `Pack`; looked at by `refresh`, told by `readers`. Cells of a group share their voltage, so their
//! charge evens out: a group has one.

use super::super::cell::BRANCHES;
use super::draw::Drawn;

#[derive(Clone, Debug)]
pub(crate) struct Group {
    /// Charge at the last refresh (C).
    pub(crate) charge_C: f64,
    /// What it holds between soc 0 and 1 (C), and one over it.
    pub(crate) capacity_C: f64,
    pub(crate) per_C: f64,
    /// Its resistance over that of one new cell.
    pub(crate) resistance_factor: f64,
    /// Welds side by side, then the strip (ohm).
    pub(crate) wiring_ohm: f64,
    /// Pieces of the curve where surface and mean were last seen.
    pub(crate) slow_at: usize,
    pub(crate) quick_at: usize,
    pub(crate) mean_at: usize,
    /// The same of the resistances.
    pub(crate) resistance_at: usize,
    /// Area under the resting curve up to the charge at the last refresh (V).
    pub(crate) area_V: f64,
    /// How it was at the last refresh.
    pub(crate) seen: Seen,
    /// Cells that carry current.
    pub(crate) cells: Vec<Drawn>,
}

/// What a group gives, in coefficients that hold until the next refresh: the parts of `sums`.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Seen {
    pub(crate) surface_V: f64,
    pub(crate) quick_V_C: f64,
    pub(crate) slow_V_C: f64,
    pub(crate) per_K: f64,
    /// As in the table, at its pulse current.
    pub(crate) instant_ohm: f64,
    pub(crate) branches_ohm: [f64; BRANCHES],
}

/// The moment at which a group is asked for its voltage: what is common to all.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Moment {
    /// Charge that the surfaces lost since the refresh (C).
    pub(crate) quick_C: f64,
    pub(crate) slow_C: f64,
    pub(crate) warm_K: f64,
    pub(crate) hysteresis_V: f64,
    pub(crate) branches_A: [f64; BRANCHES],
    pub(crate) kinetic_A: f64,
    pub(crate) current_A: f64,
}

impl Group {
    pub(crate) fn new(cells: Vec<Drawn>, capacity_Ah: f64, wiring: &super::Wiring) -> Self {
        let mut group = Self {
            charge_C: 0.0,
            capacity_C: 0.0,
            per_C: 1.0,
            resistance_factor: 1.0,
            wiring_ohm: 0.0,
            slow_at: 0,
            quick_at: 0,
            mean_at: 0,
            resistance_at: 0,
            area_V: 0.0,
            seen: Seen::default(),
            cells,
        };
        group.add_up(capacity_Ah, wiring);
        group.charge_C = group
            .cells
            .iter()
            .map(|cell| cell.soc * cell.capacity_share * capacity_Ah * 3600.0)
            .sum();
        group
    }

    /// Capacity, resistance and welds of the cells that are there.
    pub(crate) fn add_up(&mut self, capacity_Ah: f64, wiring: &super::Wiring) {
        self.capacity_C =
            self.cells.iter().map(|cell| cell.capacity_share * capacity_Ah * 3600.0).sum();
        self.per_C = 1.0 / self.capacity_C;
        self.resistance_factor =
            1.0 / self.cells.iter().map(|cell| 1.0 / cell.resistance_factor).sum::<f64>();
        let cells = self.cells.iter().map(|_| 1.0).sum::<f64>();
        self.wiring_ohm = wiring.strip_ohm + wiring.weld_ohm / cells;
    }

    /// Charge once `drawn_C` more has left.
    pub(crate) fn soc_after(&self, drawn_C: f64) -> f64 {
        (self.charge_C - drawn_C) * self.per_C
    }

    /// Terminal voltage (V), on the straight pieces of the last refresh.
    #[inline]
    pub(crate) fn voltage_V(&self, now: &Moment) -> f64 {
        let seen = &self.seen;
        let surface_V = seen.surface_V - seen.quick_V_C * now.quick_C - seen.slow_V_C * now.slow_C;
        let other_V = seen.per_K * now.warm_K + now.hysteresis_V;
        let [ohm1, ohm2, ohm3] = seen.branches_ohm;
        let [branch1_A, branch2_A, branch3_A] = now.branches_A;
        let branches_V = ohm1 * branch1_A + ohm2 * branch2_A + ohm3 * branch3_A;
        (surface_V + other_V)
            - (branches_V + seen.instant_ohm * now.kinetic_A + self.wiring_ohm * now.current_A)
    }
}
