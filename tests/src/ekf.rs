//! A textbook extended Kalman filter for the charge of a cell: the second to beat.
//!
//! Two states, the charge and the voltage of one polarisation branch; the cell's own tables give
//! resting voltage, slope and both resistances. It corrects at each frame with a voltage, and
//! only predicts, with the last current, over those that are lost.
//! Source: G. L. Plett, "Extended Kalman filtering for battery management systems of LiPB-based
//! HEV battery packs", parts 1 to 3, J. Power Sources 134 (2004) 252, 262, 277: from memory, the
//! simplest of the cell models there. The Joseph form of the update is from any textbook of
//! filtering, from memory.

use std::sync::Arc;

use homestretch_sim::ride::Measured;
use serde::Serialize;

use crate::build::Build;
use crate::estimator::{Estimate, Estimator};
use crate::resistance::Resistance;

/// Standard deviations on each side that hold nine parts in ten of a normal distribution.
const NINE_IN_TEN: f64 = 1.645;

/// What a filter of this kind has to be told, and nobody measures.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct FilterSettings {
    /// How the charge strays from the count: standard deviation after one second, growing with
    /// the root of time.
    pub soc_drift_per_root_s: f64,
    /// How far the polarisation strays from its branch: standard deviation in the long run.
    pub polarisation_sd_V: f64,
    /// Standard deviation of a cell's voltage from the model's.
    pub voltage_sd_V: f64,
    /// Standard deviation of the first charge, that of the first voltage.
    pub first_soc_sd: f64,
    /// Time constant of the branch.
    pub polarisation_time_s: f64,
}

/// Found by `homestretch-checks ekf-search FOLDER --seeds 3` on the whole reference set of sixteen
/// traces: 2.34 % rms on the eight that it looked at, 4.85 % on the others. A sixth setting, the
/// branch's resistance over the one that the table implies, was searched too and stayed at 1.
pub const FOUND: FilterSettings = FilterSettings {
    soc_drift_per_root_s: 2.934e-5,
    polarisation_sd_V: 2.652e-3,
    voltage_sd_V: 7.500e-2,
    first_soc_sd: 0.100,
    polarisation_time_s: 35.68,
};

/// The filter.
#[derive(Debug)]
pub struct Filter {
    build: Arc<Build>,
    settings: FilterSettings,
    belief: Option<Belief>,
    time_s: f64,
    current_A: f64,
    temperature_degC: f64,
}

/// Two states and their covariance, symmetric by how it is kept.
#[derive(Clone, Copy, Debug)]
struct Belief {
    soc: f64,
    polarisation_V: f64,
    soc_variance: f64,
    covariance: f64,
    polarisation_variance: f64,
}

impl Filter {
    /// A filter that has seen nothing yet.
    #[must_use]
    pub fn new(build: Arc<Build>, settings: FilterSettings) -> Self {
        Self {
            temperature_degC: build.assumed_temperature_degC,
            build,
            settings,
            belief: None,
            time_s: 0.0,
            current_A: 0.0,
        }
    }

    /// The resistance that acts at once, and that of the branch: so that the pair gives both
    /// pulse resistances of the table.
    fn branches(&self, pulse: Resistance) -> (f64, f64) {
        let left = |time_s: f64| (-time_s / self.settings.polarisation_time_s).exp();
        let slow_ohm = (pulse.after_10s_ohm - pulse.after_1s_ohm) / (left(1.0) - left(10.0));
        let at_once_ohm = pulse.after_1s_ohm - slow_ohm * (1.0 - left(1.0));
        (at_once_ohm, slow_ohm)
    }

    fn begin(&self, cell_V: f64) -> Belief {
        let pulse = self.build.resistance.at(0.5, self.temperature_degC);
        let (at_once_ohm, _) = self.branches(pulse);
        let resting_V = cell_V + at_once_ohm * self.current_A;
        Belief {
            soc: self.build.resting.soc(resting_V, self.temperature_degC),
            polarisation_V: 0.0,
            soc_variance: self.settings.first_soc_sd.powi(2),
            covariance: 0.0,
            polarisation_variance: self.settings.polarisation_sd_V.powi(2),
        }
    }

    /// The belief `time_s` later, the current having been the last one.
    fn predicted(&self, before: Belief, time_s: f64) -> Belief {
        let pulse = self.build.resistance.at(before.soc, self.temperature_degC);
        let (_, slow_ohm) = self.branches(pulse);
        let left = (-time_s / self.settings.polarisation_time_s).exp();
        let renewed = 1.0 - left * left;
        let polarisation_noise = renewed * self.settings.polarisation_sd_V.powi(2);
        Belief {
            soc: before.soc - self.build.share_drawn(self.current_A, time_s),
            polarisation_V: left * before.polarisation_V + (1.0 - left) * slow_ohm * self.current_A,
            soc_variance: before.soc_variance + time_s * self.settings.soc_drift_per_root_s.powi(2),
            covariance: left * before.covariance,
            polarisation_variance: left * left * before.polarisation_variance + polarisation_noise,
        }
    }

    /// The belief after a cell's voltage was measured under the present current.
    fn corrected(&self, before: Belief, cell_V: f64) -> Belief {
        let temperature_degC = self.temperature_degC;
        let pulse = self.build.resistance.at(before.soc, temperature_degC);
        let (at_once_ohm, _) = self.branches(pulse);
        let expected_V = self.build.resting.voltage_V(before.soc, temperature_degC)
            - before.polarisation_V
            - at_once_ohm * self.current_A;
        // The voltage rises with charge by the slope, and falls by the polarisation as it is.
        let slope_V = self.build.resting.slope_V(before.soc, temperature_degC);
        let noise = self.settings.voltage_sd_V.powi(2);
        let with_soc = before.soc_variance * slope_V - before.covariance;
        let with_polarisation = before.covariance * slope_V - before.polarisation_variance;
        let variance = slope_V * with_soc - with_polarisation + noise;
        let (soc_gain, polarisation_gain) = (with_soc / variance, with_polarisation / variance);
        let surprise_V = cell_V - expected_V;

        // Joseph form, for what a correction leaves: (I - KH) P (I - KH)' + K R K'.
        let (a, b) = (1.0 - soc_gain * slope_V, soc_gain);
        let (c, d) = (-polarisation_gain * slope_V, 1.0 + polarisation_gain);
        let (p, q, r) = (before.soc_variance, before.covariance, before.polarisation_variance);
        Belief {
            soc: (before.soc + soc_gain * surprise_V).clamp(0.0, 1.0),
            polarisation_V: before.polarisation_V + polarisation_gain * surprise_V,
            soc_variance: a * a * p + 2.0 * a * b * q + b * b * r + noise * soc_gain.powi(2),
            covariance: a * c * p
                + (a * d + b * c) * q
                + b * d * r
                + noise * soc_gain * polarisation_gain,
            polarisation_variance: c * c * p
                + 2.0 * c * d * q
                + d * d * r
                + noise * polarisation_gain.powi(2),
        }
    }
}

impl Estimator for Filter {
    fn step(&mut self, measured: &Measured) -> Estimate {
        if let Some(belief) = self.belief {
            self.belief = Some(self.predicted(belief, measured.time_s - self.time_s));
        }
        self.time_s = measured.time_s;
        if let Some(temperature_degC) = measured.cell_temperature_degC {
            self.temperature_degC = temperature_degC;
        }
        if let Some(pack_A) = measured.pack_current_A {
            self.current_A = self.build.cell_current_A(pack_A);
        }
        if let Some(pack_V) = measured.pack_voltage_V {
            let cell_V = self.build.cell_voltage_V(pack_V);
            self.belief = Some(match self.belief {
                None => self.begin(cell_V),
                Some(belief) => self.corrected(belief, cell_V),
            });
        }
        self.belief.map_or(Estimate::within(0.0, 0.5, 1.0), |belief| {
            let half = NINE_IN_TEN * belief.soc_variance.max(0.0).sqrt();
            Estimate::within(belief.soc - half, belief.soc, belief.soc + half)
        })
    }
}

#[cfg(test)]
mod tests;
