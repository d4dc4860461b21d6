//! What the world does to a pack besides drawing current: weather, rest, charging, a weld that breaks.
//!
//! Called by the world between steps; each closes the open interval first.

use super::super::cell::LAGS;
use super::settings::PackFault;
use super::stepping::{LONG, States};
use super::{Pack, TABLE_STEP_K};

/// Resting goes by pieces of this length (s): short against the heat nodes.
const REST_PIECE_S: f64 = 1.0;

impl Pack {
    /// Sets the temperature of the air (degC); held within -60 to 80, NaN changes nothing.
    pub fn set_air_degC(&mut self, air_degC: f64) {
        if !air_degC.is_nan() {
            self.heat.air_degC = air_degC.clamp(-60.0, 80.0);
        }
    }

    /// Imposes the temperature of cells and enclosure (degC); held within -60 to 150, NaN changes nothing.
    pub fn set_cell_temperature_degC(&mut self, temperature_degC: f64) {
        if !temperature_degC.is_nan() {
            self.heat.cells_degC = temperature_degC.clamp(-60.0, 150.0);
            self.heat.enclosure_degC = self.heat.cells_degC;
        }
    }

    /// Takes `cells` of a group out for good: their charge is lost to it, the others carry more.
    ///
    /// The deficits at the surface of the others jump to what their share of the current would have left.
    ///
    /// # Errors
    /// `NoSuchGroup`, or `TooManyCells` when none would stay.
    pub fn fail_weld(&mut self, group: usize, cells: u32) -> Result<(), PackFault> {
        self.refresh();
        let groups = self.groups.len();
        let Some(hurt) = self.groups.get_mut(group) else {
            return Err(PackFault::NoSuchGroup { group, groups });
        };
        let left = hurt.cells.len();
        let staying =
            usize::try_from(cells).ok().and_then(|gone| left.checked_sub(gone)).unwrap_or(0);
        if staying == 0 {
            return Err(PackFault::TooManyCells { group, asked: cells, left });
        }
        let soc = hurt.soc_after(0.0);
        hurt.cells.truncate(staying);
        hurt.add_up(self.cell.capacity_Ah(), &self.wiring);
        hurt.charge_C = soc * hurt.capacity_C;
        self.add_up();
        self.look_again(self.current_A);
        Ok(())
    }

    /// Lets the pack stand without current for a time (s, at most a year): it relaxes and cools.
    pub fn rest(&mut self, duration_s: f64) {
        self.refresh();
        let mut left_s = if duration_s > 0.0 { duration_s.min(365.0 * 86_400.0) } else { 0.0 };
        while left_s > 0.0 {
            let piece_s = left_s.min(REST_PIECE_S);
            let still = self.heat.still_within(1e-6) && self.states.quiet();
            if still {
                break;
            }
            self.fade(piece_s);
            left_s -= piece_s;
            if (self.heat.cells_degC - self.resistance_degC).abs() > TABLE_STEP_K {
                // Lags and resistances of the branches follow the temperature, as they do step by step: the
                // first look brings the new table, the second makes the groups meet it.
                self.look_again(0.0);
                self.look_again(0.0);
            }
        }
        self.current_A = 0.0;
        self.look_again(0.0);
        self.voltages.last_V = self.voltages.emf_V;
    }

    /// Lets the lagged states fade and their energy become heat.
    fn fade(&mut self, seconds: f64) {
        let (quick_s, slow_s) = self.cell.tail.diffusion_times_s(self.heat.cells_degC);
        let (long, short) = LAGS.split_at(LONG);
        let lags_s = |lags: &'static [(f64, f64)]| {
            [quick_s, slow_s]
                .into_iter()
                .flat_map(move |time_s| lags.iter().map(move |&(_, lag)| lag * time_s))
        };
        let before_J = self.sums.stored_J(self.states.branches_A);
        let states = self.states.longs_C.iter_mut().chain(&mut self.states.shorts_C);
        for (state, lag_s) in states.zip(lags_s(long).chain(lags_s(short))) {
            *state *= libm::exp(-seconds / lag_s);
        }
        for (state, lag_s) in self.states.branches_A.iter_mut().zip(self.sums.branches_s) {
            *state *= libm::exp(-seconds / lag_s);
        }
        let freed_J = before_J - self.sums.stored_J(self.states.branches_A);
        self.energy.branches_J += freed_J;
        self.heat.advance(freed_J, 0.0, seconds);
    }

    /// Charges the pack slowly and without loss until the first group rests at the cell's highest voltage, and
    /// lets it rest. Books what went in as energy at the terminals; the temperature stays.
    pub fn charge_full(&mut self) {
        self.refresh();
        let charge_C = self.chargeable_Ah() * 3600.0;
        let curve = &self.cell.curve;
        let mut taken_J = 0.0;
        for group in &mut self.groups {
            let (before, after) = (group.soc_after(0.0), group.soc_after(-charge_C));
            taken_J += group.capacity_C * (curve.area_V(after) - curve.area_V(before));
            group.charge_C += charge_C;
        }
        self.drawn_C -= charge_C;
        self.energy.chemical_J -= taken_J;
        self.energy.terminal_J -= taken_J;
        self.energy.branches_J += self.sums.stored_J(self.states.branches_A);
        let hysteresis = if self.cell.hysteresis.gamma > 0.0 { 1.0 } else { 0.0 };
        self.states = States { hysteresis, ..States::default() };
        self.current_A = 0.0;
        self.look_again(0.0);
        self.voltages.last_V = self.voltages.emf_V;
    }
}

impl States {
    /// Whether next to nothing is left of the past (1 microcoulomb, 1 microampere).
    fn quiet(&self) -> bool {
        let deficits_C = self.longs_C.iter().chain(&self.shorts_C);
        deficits_C.chain(&self.branches_A).all(|state| state.abs() < 1e-6)
    }
}
