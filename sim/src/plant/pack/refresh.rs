//! The look at every group, each 0.2 s: close the accounts, warm the cells, sum up anew.
//!
//! Called by `stepping` and, out of turn, by `change`. O(groups).

use std::sync::Arc;

use super::super::cell::{Cell, LAGS};
use super::draw;
use super::group::Group;
use super::heat::Heat;
use super::ledger::Energy;
use super::settings::{PackFault, PackSettings};
use super::stepping::{DEFICITS, Interval, States};
use super::sums::Sums;
use super::{Pack, TABLE_STEP_K};
use crate::plant::STEP_S;

impl Pack {
    /// A rested pack.
    ///
    /// # Errors
    /// `OutOfRange` or `TooFleeting` for a setting that makes no sense, with its value.
    pub fn new(cell: Arc<Cell>, settings: &PackSettings) -> Result<Self, PackFault> {
        settings.check()?;
        let capacity_Ah = cell.capacity_Ah();
        let groups =
            draw::cells(settings).into_iter().map(|cells| Group::new(cells, capacity_Ah)).collect();
        let heat = Heat::new(settings);
        let resistance = Arc::new(cell.resistance_at(heat.cells_degC));
        let mut pack = Self {
            resistance_degC: heat.cells_degC,
            cell,
            groups,
            wiring: settings.wiring,
            parallel: f64::from(settings.parallel),
            states: States::default(),
            interval: Interval::default(),
            sums: Sums::default(),
            resistance,
            heat,
            energy: Energy::default(),
            drawn_C: 0.0,
            voltage_V: 0.0,
            current_A: 0.0,
        };
        pack.prepare_lags();
        pack.sum_up(0.0);
        pack.voltage_V = pack.source().emf_V;
        Ok(pack)
    }

    /// Closes the interval and begins the next.
    pub(super) fn refresh(&mut self) {
        let seconds = f64::from(self.interval.steps) * STEP_S;
        let energy = self.energy();
        let cells_J = energy.cell_heat_J() - self.energy.cell_heat_J();
        let wiring_J = energy.wiring_J - self.energy.wiring_J;
        self.energy = energy;
        let drawn_C = self.interval.drawn_C;
        self.drawn_C += drawn_C;
        for group in &mut self.groups {
            group.charge_C -= drawn_C;
        }
        self.heat.advance(cells_J, wiring_J, seconds);
        let current_A = if seconds > 0.0 { drawn_C / seconds } else { 0.0 };
        self.begin_interval(current_A);
    }

    /// Sums up anew; what the branches hold more or less by a changed resistance is booked as their heat.
    pub(super) fn begin_interval(&mut self, current_A: f64) {
        let [.., branch1_A, branch2_A] = self.states.lagged;
        let before_J = self.sums.stored_J(branch1_A, branch2_A);
        if (self.heat.cells_degC - self.resistance_degC).abs() > TABLE_STEP_K {
            self.resistance_degC = self.heat.cells_degC;
            self.resistance = Arc::new(self.cell.resistance_at(self.resistance_degC));
            self.prepare_lags();
        }
        self.sum_up(current_A);
        self.energy.branches_J += before_J - self.sums.stored_J(branch1_A, branch2_A);
    }

    /// Coefficients of the lagged states, which move with temperature only.
    fn prepare_lags(&mut self) {
        let tail = &self.cell.tail;
        let (quick_s, slow_s) = tail.diffusion_times_s(self.resistance_degC);
        self.sums.branch1_s = tail.branch1_s;
        self.sums.branch2_s = tail.branch2_at_s(self.resistance_degC);
        let spheres = [quick_s, slow_s].into_iter().flat_map(|diffusion_s| {
            // A deficit fills by its gain over its lag, whatever the diffusion time.
            LAGS.iter().map(move |&(gain, lag)| (lag * diffusion_s, gain / lag))
        });
        let branches = [self.sums.branch1_s, self.sums.branch2_s].map(|lag_s| (lag_s, 1.0 / lag_s));
        let coefficients = self.interval.keep.iter_mut().zip(&mut self.interval.feed);
        for ((keep, feed), (lag_s, gain_per_s)) in coefficients.zip(spheres.chain(branches)) {
            let half = 0.5 * STEP_S / lag_s;
            *keep = (1.0 - half) / (1.0 + half);
            *feed = gain_per_s * STEP_S / (1.0 + half);
        }
    }

    fn deficits_C(&self) -> (f64, f64) {
        let (quick, slow) = self.states.lagged.split_at(LAGS.len());
        (quick.iter().sum(), slow.iter().take(LAGS.len()).sum())
    }

    fn sum_up(&mut self, current_A: f64) {
        let (quick_C, slow_C) = self.deficits_C();
        let cell = Arc::clone(&self.cell);
        let curve = &cell.curve;
        let mut sums = Sums {
            branch1_s: self.sums.branch1_s,
            branch2_s: self.sums.branch2_s,
            ..Sums::default()
        };
        let mut capacity_C = 0.0;
        let mut cell_instant_ohm = 0.0;
        for group in &mut self.groups {
            let per_C = 1.0 / group.capacity_C;
            let soc = group.charge_C * per_C;
            let quick = soc - quick_C * per_C;
            let slow = soc - slow_C * per_C;
            group.mean_at = curve.locate(group.mean_at, soc);
            group.quick_at = curve.locate(group.quick_at, quick);
            group.slow_at = curve.locate(group.slow_at, slow);
            let (fast, lazy) =
                (curve.quick(group.quick_at, quick), curve.slow(group.slow_at, slow));
            sums.surface_V += fast.voltage_V + lazy.voltage_V;
            sums.quick_V_C += fast.slope_V * per_C;
            sums.slow_V_C += lazy.slope_V * per_C;
            sums.per_K += curve.per_K(group.mean_at);
            sums.hysteresis_V += cell.hysteresis.magnitude_V;
            let of_cell = self.resistance.at(soc);
            let resistances = group.resistances(of_cell);
            cell_instant_ohm += of_cell.instant_ohm;
            sums.instant_ohm += resistances.instant_ohm;
            sums.branch1_ohm += resistances.branch1_ohm;
            sums.branch2_ohm += resistances.branch2_ohm;
            sums.wiring_ohm += group.wiring_ohm(&self.wiring);
            capacity_C += group.capacity_C;
        }
        let groups = self.groups.iter().map(|_| 1.0).sum::<f64>().max(1.0);
        sums.wiring_ohm += self.wiring.leads_ohm;
        sums.warm_V = sums.per_K * (self.heat.cells_degC - 25.0);
        sums.kinetic_factor = cell.kinetic_factor(
            cell_instant_ohm / groups,
            current_A / self.parallel,
            self.heat.cells_degC,
        );
        sums.instant_ohm *= sums.kinetic_factor;
        self.sums = sums;
        self.begin_accounts(quick_C, slow_C, cell.hysteresis.gamma * STEP_S * groups / capacity_C);
    }

    fn begin_accounts(&mut self, quick_C: f64, slow_C: f64, hysteresis_per_A: f64) {
        let sums = self.sums;
        let (keep, feed) = (self.interval.keep, self.interval.feed);
        let mut next = Interval {
            keep,
            feed,
            line_V: sums.surface_V + sums.quick_V_C * quick_C + sums.slow_V_C * slow_C,
            line_V_C: sums.quick_V_C + sums.slow_V_C,
            surface_ohm: 0.5 * STEP_S * (sums.quick_V_C + sums.slow_V_C),
            hysteresis_per_A,
            ..Interval::default()
        };
        let takes = [sums.quick_V_C; LAGS.len()]
            .into_iter()
            .chain([sums.slow_V_C; LAGS.len()])
            .chain([sums.branch1_ohm, sums.branch2_ohm]);
        for (at, (takes, (weight, (keep, feed)))) in
            takes.zip(next.weight.iter_mut().zip(keep.iter().zip(&feed))).enumerate()
        {
            *weight = 0.5 * (1.0 + keep) * takes;
            let ohm = 0.5 * feed * takes;
            if at < DEFICITS {
                next.surface_ohm += ohm;
            } else {
                next.branches_ohm += ohm;
            }
        }
        self.interval = next;
    }
}
