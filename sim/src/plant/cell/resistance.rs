//! Instant resistance and three branches, solved so that the table's own pulses come out.
//!
//! The tail and the third branch are in those pulses already: what they contribute is taken off first. Between the table's
//! temperatures each resistance goes along its own Arrhenius line, beyond them along the row's fitted one.
//! Asked by `pack` whenever the temperature has moved.

use super::curve::Curve;
use super::fault::{CellFault, within};
use super::tables::CellTables;
use super::tail::{BRANCHES, GAS_J_MOL_K, ICE_POINT_K, Tail, deficit_s};

/// The instant resistance is at least this share of that after 1 s, should tables and tail contradict each
/// other so badly that less was left. No source.
const LEAST_INSTANT_SHARE: f64 = 0.2;

/// Resistances of one cell (ohm): instant, and of the branches.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Resistances {
    pub(crate) instant_ohm: f64,
    pub(crate) branches_ohm: [f64; BRANCHES],
}

impl Resistances {
    fn blend(self, other: Self, share: f64, mix: fn(f64, f64, f64) -> f64) -> Self {
        Self {
            instant_ohm: mix(self.instant_ohm, other.instant_ohm, share),
            branches_ohm: mix_all(self.branches_ohm, other.branches_ohm, |a, b| mix(a, b, share)),
        }
    }

    fn scaled(self, by: f64) -> Self {
        Self {
            instant_ohm: self.instant_ohm * by,
            branches_ohm: self.branches_ohm.map(|ohm| ohm * by),
        }
    }
}

#[inline]
fn mix_all(
    [a1, a2, a3]: [f64; BRANCHES],
    [b1, b2, b3]: [f64; BRANCHES],
    mix: impl Fn(f64, f64) -> f64,
) -> [f64; BRANCHES] {
    [mix(a1, b1), mix(a2, b2), mix(a3, b3)]
}

/// One charge of the table: its temperatures, rising, and how the whole depends on them.
#[derive(Clone, Debug)]
struct ChargeRow {
    soc: f64,
    energy_J_mol: f64,
    temperatures: Vec<(f64, Resistances)>,
}

#[derive(Clone, Debug)]
pub(crate) struct ResistanceTable {
    rows: Vec<ChargeRow>,
}

impl ResistanceTable {
    pub(crate) fn new(tables: &CellTables, tail: &Tail, curve: &Curve) -> Result<Self, CellFault> {
        let sorted = |mut all: Vec<f64>| {
            all.sort_by(f64::total_cmp);
            all.dedup();
            all
        };
        for row in &tables.resistance {
            within("resistance soc", row.soc, 0.0, 1.0)?;
            within("resistance temperature_degC", row.temperature_degC, -40.0, 80.0)?;
            within("r_10s_ohm", row.r_10s_ohm, 1e-4, 10.0)?;
            if let Some(r_1s_ohm) = row.r_1s_ohm {
                within("r_1s_ohm", r_1s_ohm, 1e-4, row.r_10s_ohm * 1.1)?;
            }
        }
        let socs = sorted(tables.resistance.iter().map(|row| row.soc).collect());
        let temperatures =
            sorted(tables.resistance.iter().map(|row| row.temperature_degC).collect());
        if socs.is_empty() {
            return Err(CellFault::TooShort { table: "resistance", given: 0, needed: 1 });
        }
        let mut rows = Vec::with_capacity(socs.len());
        for soc in socs {
            let mut solved = Vec::with_capacity(temperatures.len());
            let mut wholes = Vec::with_capacity(temperatures.len());
            for &temperature_degC in &temperatures {
                let mut here = tables.resistance.iter().filter(|row| {
                    row.soc.total_cmp(&soc).is_eq()
                        && row.temperature_degC.total_cmp(&temperature_degC).is_eq()
                });
                let (Some(row), None) = (here.next(), here.next()) else {
                    return Err(CellFault::GridHole { soc, temperature_degC });
                };
                let r_1s_ohm = row.r_1s_ohm.unwrap_or(row.r_10s_ohm * tail.r_1s_share);
                let pulse = Pulse { soc, temperature_degC, r_1s_ohm, r_10s_ohm: row.r_10s_ohm };
                solved.push((temperature_degC, pulse.solve(tables, tail, curve)));
                wholes.push((temperature_degC, row.r_10s_ohm));
            }
            let energy_J_mol = activation_J_mol(&wholes).unwrap_or(tail.resistance_J_mol);
            rows.push(ChargeRow { soc, energy_J_mol, temperatures: solved });
        }
        Ok(Self { rows })
    }

    /// The rows at one temperature.
    pub(crate) fn at(&self, temperature_degC: f64) -> ResistanceAt {
        let ends: Vec<(f64, Resistances)> =
            self.rows.iter().map(|row| (row.soc, row.at(temperature_degC))).collect();
        let level = |end: Option<&(f64, Resistances)>| {
            let &(soc, at_soc) = end.unwrap_or(&(0.0, Resistances::default()));
            let per_soc = Resistances::default();
            Line { from: soc, to: f64::INFINITY, origin: soc, at_origin: at_soc, per_soc }
        };
        let first = level(ends.first());
        let mut lines = vec![Line { from: f64::NEG_INFINITY, to: first.origin, ..first }];
        lines.extend(ends.windows(2).filter_map(|pair| {
            let [a, b] = pair else { return None };
            let per_soc = a.1.blend(b.1, 1.0 / (b.0 - a.0), |a, b, share| (b - a) * share);
            Some(Line { from: a.0, to: b.0, origin: a.0, at_origin: a.1, per_soc })
        }));
        let last = level(ends.last());
        lines.push(last);
        ResistanceAt { lines, last }
    }
}

impl ChargeRow {
    fn at(&self, temperature_degC: f64) -> Resistances {
        let after = self.temperatures.partition_point(|entry| entry.0 <= temperature_degC);
        let before = after.checked_sub(1).and_then(|i| self.temperatures.get(i));
        match (before, self.temperatures.get(after)) {
            (Some(&(cold, a)), Some(&(warm, b))) => {
                a.blend(b, inverse_share(cold, warm, temperature_degC), arrhenius)
            }
            (Some(&(end, r)), None) | (None, Some(&(end, r))) => {
                let inverse = 1.0 / (temperature_degC + ICE_POINT_K) - 1.0 / (end + ICE_POINT_K);
                r.scaled(libm::exp(self.energy_J_mol / GAS_J_MOL_K * inverse))
            }
            (None, None) => Resistances::default(),
        }
    }
}

/// Where `at` lies between two temperatures, along the inverse of the absolute temperature.
fn inverse_share(cold_degC: f64, warm_degC: f64, at_degC: f64) -> f64 {
    let inverse = |t: f64| 1.0 / (t + ICE_POINT_K);
    (inverse(at_degC) - inverse(cold_degC)) / (inverse(warm_degC) - inverse(cold_degC))
}

/// Along the logarithm where both are resistances, straight where one is nothing.
fn arrhenius(a: f64, b: f64, share: f64) -> f64 {
    if a > 1e-9 && b > 1e-9 {
        a * libm::exp(share * libm::log(b / a))
    } else {
        straight(a, b, share)
    }
}

fn straight(a: f64, b: f64, share: f64) -> f64 {
    a + share * (b - a)
}

/// Activation energy by least squares over (temperature, resistance); none from one temperature.
fn activation_J_mol(points: &[(f64, f64)]) -> Option<f64> {
    if points.len() < 2 {
        return None;
    }
    let n = points.iter().map(|_| 1.0).sum::<f64>();
    let line = |point: &(f64, f64)| (1.0 / (point.0 + ICE_POINT_K), libm::log(point.1));
    let (x, y) = points.iter().map(line).fold((0.0, 0.0), |m, p| (m.0 + p.0 / n, m.1 + p.1 / n));
    let (mut across, mut along) = (0.0, 0.0);
    for (px, py) in points.iter().map(line) {
        across += (px - x) * (py - y);
        along += (px - x) * (px - x);
    }
    Some((GAS_J_MOL_K * across / along).clamp(0.0, 80e3))
}

/// One pulse of the table.
struct Pulse {
    soc: f64,
    temperature_degC: f64,
    r_1s_ohm: f64,
    r_10s_ohm: f64,
}

impl Pulse {
    /// The share of the fall that charge drawn and spheres take, per ampere (ohm).
    fn tail_ohm(&self, after_s: f64, tables: &CellTables, tail: &Tail, curve: &Curve) -> f64 {
        let capacity_C = tables.capacity_Ah * 3600.0;
        let (quick_s, slow_s) = tail.diffusion_times_s(self.temperature_degC);
        let drawn = |deficit: f64| self.soc - tables.pulse_A * (after_s + deficit) / capacity_C;
        let (quick, slow) = (drawn(deficit_s(quick_s, after_s)), drawn(deficit_s(slow_s, after_s)));
        (curve.resting_V(self.soc) - curve.surface_V(quick, slow)) / tables.pulse_A
    }

    fn solve(&self, tables: &CellTables, tail: &Tail, curve: &Curve) -> Resistances {
        let grown = |after_s: f64, lag_s: f64| 1.0 - libm::exp(-after_s / lag_s);
        let [_, branch2_s, branch3_s] = tail.branches_at_s(self.temperature_degC);
        let branch3_ohm = tail.branch3_share * self.r_10s_ohm;
        let left = |table_ohm: f64, after_s: f64| {
            table_ohm
                - self.tail_ohm(after_s, tables, tail, curve)
                - branch3_ohm * grown(after_s, branch3_s)
        };
        let (rest_1s, rest_10s) = (left(self.r_1s_ohm, 1.0), left(self.r_10s_ohm, 10.0));
        let (one_1, ten_1) = (grown(1.0, tail.branch1_s), grown(10.0, tail.branch1_s));
        let (one_2, ten_2) = (grown(1.0, branch2_s), grown(10.0, branch2_s));
        let growth = rest_10s - rest_1s;
        let mut branch1_ohm = tail.branch1_share * self.r_1s_ohm;
        let mut branch2_ohm = (growth - branch1_ohm * (ten_1 - one_1)) / (ten_2 - one_2);
        if branch2_ohm < 0.0 {
            // Tail and third branch grow by more than the table leaves: first the second branch gives way, then the
            // first; what is then still too much is shared between the two pulses.
            branch2_ohm = 0.0;
            branch1_ohm = (growth / (ten_1 - one_1)).max(0.0);
        }
        let left_1s = rest_1s - branch1_ohm * one_1 - branch2_ohm * one_2;
        let left_10s = rest_10s - branch1_ohm * ten_1 - branch2_ohm * ten_2;
        let instant_ohm = (0.5 * (left_1s + left_10s)).max(LEAST_INSTANT_SHARE * self.r_1s_ohm);
        Resistances { instant_ohm, branches_ohm: [branch1_ohm, branch2_ohm, branch3_ohm] }
    }
}

/// One stretch of charge: straight from its origin. The first and the last are level and have no end.
#[derive(Clone, Copy, Debug)]
struct Line {
    from: f64,
    to: f64,
    origin: f64,
    at_origin: Resistances,
    per_soc: Resistances,
}

/// The resistances of a cell at one temperature, by charge: straight between the rows, level beyond them.
#[derive(Clone, Debug)]
pub(crate) struct ResistanceAt {
    lines: Vec<Line>,
    last: Line,
}

impl ResistanceAt {
    /// The stretch of `soc`, searched by halves.
    #[inline(never)]
    fn find(&self, soc: f64) -> usize {
        self.lines.partition_point(|line| line.from <= soc).saturating_sub(1)
    }

    /// The resistances at `soc`; the stretch is the remembered one nearly always, else searched.
    #[inline]
    pub(crate) fn look(&self, remembered: &mut usize, soc: f64) -> Resistances {
        let mut line = self.lines.get(*remembered).unwrap_or(&self.last);
        if !(soc >= line.from && soc < line.to) {
            *remembered = self.find(soc);
            line = self.lines.get(*remembered).unwrap_or(&self.last);
        }
        line.at_origin.blend(line.per_soc, soc - line.origin, |a, slope, along| a + slope * along)
    }
}
