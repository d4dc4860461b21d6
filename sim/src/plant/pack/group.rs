//! One group of cells in parallel, and what it gives at this moment.
//!
//! Held by `Pack`; looked at by `refresh` and `readers`. Cells of a group share their voltage, so their
//! charge evens out: a group has one.

use super::super::cell::{Cell, Resistances};
use super::draw::Drawn;

#[derive(Clone, Debug)]
pub(crate) struct Group {
    /// Charge at the last refresh (C).
    pub(crate) charge_C: f64,
    /// What it holds between soc 0 and 1 (C).
    pub(crate) capacity_C: f64,
    /// Its resistance over that of one new cell.
    pub(crate) resistance_factor: f64,
    /// One over the number of cells.
    weld_share: f64,
    /// Cells that carry current.
    pub(crate) cells: Vec<Drawn>,
    /// Pieces of the curve where surface and mean were last seen.
    pub(crate) slow_at: usize,
    pub(crate) quick_at: usize,
    pub(crate) mean_at: usize,
}

impl Group {
    pub(crate) fn new(cells: Vec<Drawn>, capacity_Ah: f64) -> Self {
        let mut group = Self {
            charge_C: 0.0,
            capacity_C: 0.0,
            resistance_factor: 1.0,
            weld_share: 1.0,
            cells,
            slow_at: 0,
            quick_at: 0,
            mean_at: 0,
        };
        group.add_up(capacity_Ah);
        group.charge_C = group
            .cells
            .iter()
            .map(|cell| cell.soc * cell.capacity_share * capacity_Ah * 3600.0)
            .sum();
        group
    }

    /// Capacity and resistance of the cells that are there.
    pub(crate) fn add_up(&mut self, capacity_Ah: f64) {
        self.capacity_C =
            self.cells.iter().map(|cell| cell.capacity_share * capacity_Ah * 3600.0).sum();
        self.resistance_factor =
            1.0 / self.cells.iter().map(|cell| 1.0 / cell.resistance_factor).sum::<f64>();
        self.weld_share = 1.0 / self.cells.iter().map(|_| 1.0).sum::<f64>();
    }

    /// Charge once `drawn_C` more has left.
    pub(crate) fn soc_after(&self, drawn_C: f64) -> f64 {
        (self.charge_C - drawn_C) / self.capacity_C
    }

    pub(crate) fn resistances(&self, of_cell: Resistances) -> Resistances {
        Resistances {
            instant_ohm: of_cell.instant_ohm * self.resistance_factor,
            branch1_ohm: of_cell.branch1_ohm * self.resistance_factor,
            branch2_ohm: of_cell.branch2_ohm * self.resistance_factor,
        }
    }

    /// Resting voltage at the surface once `drawn_C` has left and the surface is short of `quick_C` and
    /// `slow_C` more, hysteresis and temperature aside.
    pub(crate) fn surface_V(&self, cell: &Cell, drawn_C: f64, quick_C: f64, slow_C: f64) -> f64 {
        let (quick, slow) = (self.soc_after(drawn_C + quick_C), self.soc_after(drawn_C + slow_C));
        let curve = &cell.curve;
        curve.quick(curve.find(quick), quick).voltage_V
            + curve.slow(curve.find(slow), slow).voltage_V
    }

    /// Welds side by side, then the strip.
    pub(crate) fn wiring_ohm(&self, wiring: &super::Wiring) -> f64 {
        wiring.strip_ohm + wiring.weld_ohm * self.weld_share
    }
}
