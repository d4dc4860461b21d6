//! The slow constants of a cell, that voltage and resistance tables do not tell.
//!
//! Used by `curve` (which part of the voltage which sphere feels), `resistance` (what the table's pulses
//! already contain) and `pack` (the states). Defaults per kind come from the study `tests/fit_cells.py`:
//! fitted on published cells' tables and relaxation, not on rides.

use super::Chemistry;
use super::fault::{CellFault, within};

/// Gas constant (J/(mol K)), CODATA 2018.
pub(crate) const GAS_J_MOL_K: f64 = 8.314_462_618;
/// Faraday constant (C/mol), CODATA 2018.
pub(crate) const FARADAY_C_MOL: f64 = 96_485.332_12;
/// Ice point (K).
pub(crate) const ICE_POINT_K: f64 = 273.15;

/// How the surface of a sphere runs ahead of its mean under a steady flow: four first-order lags, as
/// (gain, lag), both in diffusion times; the gains sum to 1/15.
///
/// Source: fitted to the series for a sphere with constant surface flux (J. Crank, The Mathematics of
/// Diffusion, 2nd ed. 1975, section 6.3; roots of tan x = x), within 1.2 % from 1e-4 to 2 diffusion times.
/// The series itself would need dozens of terms in the first seconds.
pub(crate) const LAGS: [(f64, f64); 4] = [
    (0.040_475_44, 0.043_015_8),
    (0.017_069_13, 0.005_919_2),
    (0.006_120_80, 0.000_680_4),
    (0.003_001_30, 0.000_060_6),
];

/// Branches: first-order lags of the current, each with a resistance.
pub(crate) const BRANCHES: usize = 3;

/// Slow constants of a cell. Times are at 25 degC.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tail {
    /// Diffusion time (radius squared over diffusivity) of the sphere that feels the knee (1 to 1e5 s).
    pub quick_s: f64,
    /// Diffusion time of the sphere that feels the plateau (1 to 1e5 s).
    pub slow_s: f64,
    /// Activation energy of both diffusion times (-20e3 to 80e3 J/mol).
    pub diffusion_J_mol: f64,
    /// Charge below which the resting curve's knee begins (0.02 to 0.6).
    pub knee_soc: f64,
    /// Share of the plateau that the quick sphere feels: 0 where the positive electrode shapes it, 1 where
    /// the graphite does (iron phosphate). 0 to 1.
    pub quick_share: f64,
    /// Time constant of the first branch (0.2 to 5 s).
    pub branch1_s: f64,
    /// Resistance of the first branch as a share of that after 1 s (0 to 0.5).
    pub branch1_share: f64,
    /// Time constant of the second branch (5 to 100 s).
    pub branch2_s: f64,
    /// Activation energy of the time constants of second and third branch (-20e3 to 80e3 J/mol).
    pub branch2_J_mol: f64,
    /// Time constant of the third branch, the salt gradient of the electrolyte (20 to 300 s).
    pub branch3_s: f64,
    /// Resistance of the third branch as a share of the table's after 10 s (0 to 0.6); 0 where the tables
    /// show none.
    pub branch3_share: f64,
    /// Share of the instant resistance that is charge transfer and therefore falls with current (0 to 1).
    pub kinetic_share: f64,
    /// Resistance after 1 s over that after 10 s, where the table has only the latter (0.3 to 1).
    pub r_1s_share: f64,
    /// Activation energy of the resistances where the table has one temperature (0 to 80e3 J/mol).
    pub resistance_J_mol: f64,
}

impl Tail {
    /// The default of a kind, for a builder's own cell.
    ///
    /// Nickel-rich: the geometric mean (times, share of the third branch), mean (the rest) of three published
    /// 21700 cells. Cobalt and
    /// iron phosphate: of the one published cell each, so less is known there; the tables of the latter show no third branch. First branch: the tables
    /// begin at 1 s and say nothing of it; common practice, no source.
    #[must_use]
    pub const fn of(chemistry: Chemistry) -> Self {
        match chemistry {
            Chemistry::NickelRich => Self {
                quick_s: 1780.0,
                slow_s: 182.0,
                diffusion_J_mol: 27e3,
                knee_soc: 0.26,
                quick_share: 0.0,
                branch1_s: 1.5,
                branch1_share: 0.1,
                branch2_s: 32.0,
                branch2_J_mol: 22e3,
                branch3_s: 179.0,
                branch3_share: 0.29,
                kinetic_share: 0.74,
                r_1s_share: 0.80,
                resistance_J_mol: 14e3,
            },
            Chemistry::Cobalt => Self {
                quick_s: 998.0,
                slow_s: 30.0,
                diffusion_J_mol: 5e3,
                knee_soc: 0.10,
                quick_share: 0.0,
                branch1_s: 1.5,
                branch1_share: 0.1,
                branch2_s: 40.0,
                branch2_J_mol: 41e3,
                branch3_s: 50.0,
                branch3_share: 0.30,
                kinetic_share: 0.11,
                r_1s_share: 0.90,
                resistance_J_mol: 4e3,
            },
            Chemistry::IronPhosphate => Self {
                quick_s: 8450.0,
                slow_s: 8450.0,
                diffusion_J_mol: 0.0,
                knee_soc: 0.20,
                quick_share: 1.0,
                branch1_s: 1.5,
                branch1_share: 0.1,
                branch2_s: 40.0,
                branch2_J_mol: 2e3,
                branch3_s: 100.0,
                branch3_share: 0.0,
                kinetic_share: 0.75,
                r_1s_share: 0.96,
                resistance_J_mol: 17e3,
            },
        }
    }

    pub(crate) fn checked(self) -> Result<Self, CellFault> {
        within("tail quick_s", self.quick_s, 1.0, 1e5)?;
        within("tail slow_s", self.slow_s, 1.0, 1e5)?;
        within("tail diffusion_J_mol", self.diffusion_J_mol, -20e3, 80e3)?;
        within("tail knee_soc", self.knee_soc, 0.02, 0.6)?;
        within("tail quick_share", self.quick_share, 0.0, 1.0)?;
        within("tail branch1_s", self.branch1_s, 0.2, 5.0)?;
        within("tail branch1_share", self.branch1_share, 0.0, 0.5)?;
        within("tail branch2_s", self.branch2_s, 5.0, 100.0)?;
        within("tail branch2_J_mol", self.branch2_J_mol, -20e3, 80e3)?;
        within("tail branch3_s", self.branch3_s, 20.0, 300.0)?;
        within("tail branch3_share", self.branch3_share, 0.0, 0.6)?;
        within("tail kinetic_share", self.kinetic_share, 0.0, 1.0)?;
        within("tail r_1s_share", self.r_1s_share, 0.3, 1.0)?;
        within("tail resistance_J_mol", self.resistance_J_mol, 0.0, 80e3)?;
        Ok(self)
    }

    /// Diffusion times (quick, slow) at a temperature (s).
    pub(crate) fn diffusion_times_s(&self, temperature_degC: f64) -> (f64, f64) {
        let slower = warmth(self.diffusion_J_mol, temperature_degC);
        (self.quick_s * slower, self.slow_s * slower)
    }

    /// Time constants of the branches at a temperature (s).
    pub(crate) fn branches_at_s(&self, temperature_degC: f64) -> [f64; BRANCHES] {
        let slower = warmth(self.branch2_J_mol, temperature_degC);
        [self.branch1_s, self.branch2_s * slower, self.branch3_s * slower]
    }
}

/// How much slower (above 1 in the cold) a process of this activation energy is than at 25 degC.
pub(crate) fn warmth(energy_J_mol: f64, temperature_degC: f64) -> f64 {
    let inverse = 1.0 / (temperature_degC + ICE_POINT_K) - 1.0 / (25.0 + ICE_POINT_K);
    libm::exp(energy_J_mol / GAS_J_MOL_K * inverse)
}

/// Deficit at the surface per ampere `after_s` of steady current (C/A), for a diffusion time.
pub(crate) fn deficit_s(diffusion_s: f64, after_s: f64) -> f64 {
    LAGS.iter()
        .map(|&(gain, lag)| gain * diffusion_s * (1.0 - libm::exp(-after_s / (lag * diffusion_s))))
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: exact series of a sphere under constant flux, roots of tan x = x (Crank 1975, 6.3).
    #[test]
    fn source_four_lags_stand_for_the_sphere() {
        for step in 0..=40 {
            let time = libm::pow(10.0, -4.0 + 0.1 * f64::from(step));
            let mut exact = 0.0;
            for n in 1..2000 {
                let near = (f64::from(n) + 0.5) * std::f64::consts::PI;
                let mut root = near;
                for _ in 0..40 {
                    root = near - libm::atan(1.0 / root);
                }
                exact += 2.0 / 3.0 * (1.0 - libm::exp(-time * root * root)) / (root * root);
            }
            // 1.2 % is the fit's own worst, and the series' cut at 2000 roots is worth 0.1 % of the first.
            let close = deficit_s(1.0, time) / exact;
            assert!((close - 1.0).abs() < 0.015, "{time}: {close}");
        }
    }

    #[test]
    fn a_bad_constant_is_named() {
        let tail = Tail { knee_soc: f64::NAN, ..Tail::of(Chemistry::NickelRich) };
        let words = tail.checked().unwrap_err().to_string();
        assert!(words.contains("knee_soc") && words.contains("NaN"), "{words}");
    }
}
