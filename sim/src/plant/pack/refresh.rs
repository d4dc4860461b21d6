//! The look at every group, each 0.2 s: close the accounts, warm the cells, sum up anew.
//!
//! Called by `stepping` and, out of turn, by `change`. O(groups).

use std::sync::Arc;

use super::super::cell::{Cell, Kinetics, LAGS};
use super::draw;
use super::group::Group;
use super::heat::Heat;
use super::interval::{Interval, Voltages};
use super::ledger::Energy;
use super::settings::{PackFault, PackSettings};
use super::stepping::{Accounts, LONG, States};
use super::sums::{Lasting, Resisting, Sums};
use super::{Pack, TABLE_STEP_K};
use crate::plant::STEP_S;

/// The bend of the resistance over current is worked out anew once the resistance moved by this share.
const KINETICS_STEP: f64 = 0.005;
/// Resistances are looked up at every group's charge once in so many refreshes, and at once when their table has
/// changed: 1 s, in which 5C moves the charge by 0.14 % and, where it rises steepest near empty, a resistance by 1 %.
const RESISTANCE_REFRESHES: u32 = 5;

impl Pack {
    /// A rested pack.
    ///
    /// # Errors
    /// `OutOfRange` or `TooFleeting` for a setting that makes no sense, with its value.
    pub fn new(cell: Arc<Cell>, settings: &PackSettings) -> Result<Self, PackFault> {
        settings.check()?;
        let capacity_Ah = cell.capacity_Ah();
        let groups = draw::cells(settings)
            .into_iter()
            .map(|cells| Group::new(cells, capacity_Ah, &settings.wiring))
            .collect();
        let heat = Heat::new(settings);
        let resistance = Arc::new(cell.resistance_at(heat.cells_degC));
        let mut pack = Self {
            resistance_degC: heat.cells_degC,
            cell,
            groups,
            lasting: Lasting::default(),
            resisting: Resisting::default(),
            refreshes_left: 0,
            wiring: settings.wiring,
            parallel: f64::from(settings.parallel),
            states: States::default(),
            interval: Interval::default(),
            accounts: Accounts::default(),
            voltages: Voltages::default(),
            sums: Sums::default(),
            resistance,
            kinetics: Kinetics::default(),
            kinetics_ohm: 0.0,
            heat,
            energy: Energy::default(),
            drawn_C: 0.0,
            current_A: 0.0,
        };
        pack.add_up();
        pack.prepare_lags();
        pack.look_again(0.0);
        pack.voltages.last_V = pack.voltages.emf_V;
        Ok(pack)
    }

    /// Adds up what lasts as long as no group loses a cell.
    pub(super) fn add_up(&mut self) {
        let begun = Lasting { wiring_ohm: self.wiring.leads_ohm, ..Lasting::default() };
        self.lasting = self.groups.iter().fold(begun, |sum, group| Lasting {
            groups: sum.groups + 1.0,
            capacity_C: sum.capacity_C + group.capacity_C,
            wiring_ohm: sum.wiring_ohm + group.wiring_ohm,
        });
    }

    /// Closes the interval and begins the next.
    pub(super) fn refresh(&mut self) {
        let seconds = f64::from(self.accounts.steps) * STEP_S;
        let drawn_C = self.accounts.drawn_C();
        self.states.longs_C = self.interval.longs.now_C(self.states.longs_C, &self.accounts);
        let (next, chemical_J) = self.look_at_groups(drawn_C);
        self.drawn_C += drawn_C;
        let energy = self.closed(chemical_J);
        let cells_J = energy.cell_heat_J() - self.energy.cell_heat_J();
        let wiring_J = energy.wiring_J - self.energy.wiring_J;
        self.energy = energy;
        self.heat.advance(cells_J, wiring_J, seconds);
        let current_A = if seconds > 0.0 { drawn_C / seconds } else { 0.0 };
        self.begin_interval(next, current_A);
    }

    /// Looks at every group anew without any charge drawn, after the world has changed something.
    pub(super) fn look_again(&mut self, current_A: f64) {
        self.refreshes_left = 0;
        let (next, _) = self.look_at_groups(0.0);
        self.begin_interval(next, current_A);
        self.look_ahead();
    }

    /// Begins an interval; what the branches hold more or less by a changed resistance is booked as their heat.
    fn begin_interval(&mut self, mut next: Sums, current_A: f64) {
        let before_J = self.sums.stored_J(self.states.branches_A);
        if (self.heat.cells_degC - self.resistance_degC).abs() > TABLE_STEP_K {
            // The groups meet the new resistances at the next refresh.
            self.resistance_degC = self.heat.cells_degC;
            self.resistance = Arc::new(self.cell.resistance_at(self.resistance_degC));
            self.refreshes_left = 0;
            self.kinetics_ohm = 0.0;
            self.prepare_lags();
            next.branches_s = self.sums.branches_s;
        }
        let groups = self.lasting.groups;
        let cell_ohm = next.table_ohm / groups;
        if (cell_ohm - self.kinetics_ohm).abs() > KINETICS_STEP * self.kinetics_ohm {
            self.kinetics_ohm = cell_ohm;
            self.kinetics = self.cell.kinetics(cell_ohm, self.heat.cells_degC);
        }
        next.warm_K = self.heat.cells_degC - 25.0;
        next.warm_V = next.per_K * next.warm_K;
        next.kinetic_factor = self.kinetics.factor(current_A / self.parallel);
        next.instant_ohm *= next.kinetic_factor;
        self.sums = next;
        self.energy.branches_J += before_J - self.sums.stored_J(self.states.branches_A);
        self.interval.hysteresis_per_A =
            self.cell.hysteresis.gamma * STEP_S * groups / self.lasting.capacity_C;
        self.begin_accounts();
    }

    /// Coefficients of the lagged states, which move with temperature only.
    fn prepare_lags(&mut self) {
        let tail = &self.cell.tail;
        let (quick_s, slow_s) = tail.diffusion_times_s(self.resistance_degC);
        self.sums.branches_s = tail.branches_at_s(self.resistance_degC);
        let lags = |lags: &'static [(f64, f64)]| {
            [quick_s, slow_s].into_iter().flat_map(move |diffusion_s| {
                // A deficit fills by its gain over its lag, whatever the diffusion time.
                lags.iter().map(move |&(gain, lag)| (lag * diffusion_s, gain / lag))
            })
        };
        let (long, short) = LAGS.split_at(LONG);
        self.interval.longs.prepare(lags(long));
        self.interval.shorts.prepare(lags(short));
        self.interval.branches.prepare(self.sums.branches_s.iter().map(|&s| (s, 1.0 / s)));
    }

    /// Charge missing at the surfaces of the quick and of the slow sphere (C).
    pub(super) fn deficits_C(&self) -> (f64, f64) {
        let states = &self.states;
        let [long1, long2, long3, long4] =
            self.interval.longs.now_C(states.longs_C, &self.accounts);
        let [short1, short2, short3, short4] = states.shorts_C;
        ((long1 + long2) + (short1 + short2), (long3 + long4) + (short3 + short4))
    }

    /// Takes the drawn charge off every group and sums up what they are now; also gives the chemical energy that
    /// left them (J). The long lags have been brought up to date.
    fn look_at_groups(&mut self, drawn_C: f64) -> (Sums, f64) {
        let [long1, long2, long3, long4] = self.states.longs_C;
        let [short1, short2, short3, short4] = self.states.shorts_C;
        let (quick_C, slow_C) =
            ((long1 + long2) + (short1 + short2), (long3 + long4) + (short3 + short4));
        if self.refreshes_left == 0 {
            self.look_at_resistances();
        }
        self.refreshes_left -= 1;
        let (curve, resisting) = (&self.cell.curve, &self.resisting);
        let mut sums = Sums {
            table_ohm: resisting.table_ohm,
            instant_ohm: resisting.instant_ohm,
            branches_ohm: resisting.branches_ohm,
            branches_s: self.sums.branches_s,
            quick_C,
            slow_C,
            wiring_ohm: self.lasting.wiring_ohm,
            hysteresis_V: self.cell.hysteresis.magnitude_V * self.lasting.groups,
            ..Sums::default()
        };
        let mut chemical_J = 0.0;
        for group in &mut self.groups {
            group.charge_C -= drawn_C;
            let per_C = group.per_C;
            let soc = group.charge_C * per_C;
            let (quick, slow) = (soc - quick_C * per_C, soc - slow_C * per_C);
            let mean = curve.piece_at(&mut group.mean_at, soc);
            let area_V = mean.area_V(soc);
            chemical_J += (group.area_V - area_V) * group.capacity_C;
            group.area_V = area_V;
            let fast = curve.piece_at(&mut group.quick_at, quick).quick(quick);
            let lazy = curve.piece_at(&mut group.slow_at, slow).slow(slow);
            let seen = &mut group.seen;
            seen.surface_V = fast.voltage_V + lazy.voltage_V;
            seen.quick_V_C = fast.slope_V * per_C;
            seen.slow_V_C = lazy.slope_V * per_C;
            seen.per_K = mean.per_K;
            sums.surface_V += seen.surface_V;
            sums.quick_V_C += seen.quick_V_C;
            sums.slow_V_C += seen.slow_V_C;
            sums.per_K += seen.per_K;
        }
        (sums, chemical_J)
    }

    /// Looks up the resistances of every group at its charge, and adds them up.
    fn look_at_resistances(&mut self) {
        let table = &*self.resistance;
        let mut all = Resisting::default();
        for group in &mut self.groups {
            let of_cell = table.look(&mut group.resistance_at, group.charge_C * group.per_C);
            let factor = group.resistance_factor;
            group.seen.instant_ohm = of_cell.instant_ohm * factor;
            group.seen.branches_ohm = of_cell.branches_ohm.map(|ohm| ohm * factor);
            all.table_ohm += of_cell.instant_ohm;
            all.instant_ohm += group.seen.instant_ohm;
            for (sum, ohm) in all.branches_ohm.iter_mut().zip(group.seen.branches_ohm) {
                *sum += ohm;
            }
        }
        self.resisting = all;
        self.refreshes_left = RESISTANCE_REFRESHES;
    }

    /// Coefficients of the steps to come, from the sums.
    fn begin_accounts(&mut self) {
        let (sums, interval, states) = (&self.sums, &mut self.interval, &self.states);
        let (quick_V_C, slow_V_C) = (sums.quick_V_C, sums.slow_V_C);
        let [feed1, feed2, feed3, feed4] = interval.longs.feed_C_A;
        let [fades1, fades2, fades3, fades4] = interval.longs.fading_C(states.longs_C);
        let [short1, short2, short3, short4] = states.shorts_C;
        interval.rise_V = quick_V_C * (fades1 + fades2) + slow_V_C * (fades3 + fades4);
        interval.line_ohm =
            quick_V_C * (STEP_S + feed1 + feed2) + slow_V_C * (STEP_S + feed3 + feed4);
        // Short deficits are in the surface's voltage already, and are taken off step by step.
        interval.line_V = sums.surface_V
            + quick_V_C * (short1 + short2)
            + slow_V_C * (short3 + short4)
            + 0.5 * interval.rise_V;
        interval.surface_ohm = 0.5 * interval.line_ohm
            + interval.shorts.weigh([quick_V_C, quick_V_C, slow_V_C, slow_V_C]);
        let branches_ohm = interval.branches.weigh(sums.branches_ohm);
        interval.resistance_ohm =
            interval.surface_ohm + branches_ohm + sums.instant_ohm + sums.wiring_ohm;
        (interval.warm_V, interval.hysteresis_V) = (sums.warm_V, sums.hysteresis_V);
        self.accounts = Accounts::default();
    }
}
