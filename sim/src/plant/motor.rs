//! One or two equal motors: torque by current, losses in copper and iron, heat.
//!
//! Used by `vehicle`. A brushless motor is seen as the direct-current machine that it is to its
//! controller: one current, one voltage, one resistance. Source: textbooks; torque per ampere and
//! volts per speed are the same number in SI units, Kt = 60 / (2 pi KV).

use crate::plant::range::{OutOfRange, within};

/// Change of copper's resistance per kelvin, of that at 20 degC (handbooks, from memory).
const COPPER_PER_K: f64 = 0.00393;

/// Where winding resistances are stated.
const STATED_AT_CELSIUS: f64 = 20.0;

/// The resistance rises no further than here: insulation is gone by then, and the motor with it,
/// which this model does not play. From memory: the best insulation class in use ends at 220 degC.
const BURNT_CELSIUS: f64 = 300.0;

/// How one motor takes up heat and sheds it: two lumps in a row, winding and case, then air.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Heat {
    /// Heat that warms the winding by one kelvin, 2 to 10 000 J/K.
    pub winding_J_K: f64,
    /// Heat that warms iron and case by one kelvin, 2 to 50 000 J/K.
    pub case_J_K: f64,
    /// Power from winding to case per kelvin, 0.05 to 200 W/K.
    pub winding_to_case_W_K: f64,
    /// Power from case to air per kelvin in a ride's wind, 0.02 to 200 W/K.
    pub case_to_air_W_K: f64,
}

/// One or two equal motors; all values are for each.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Motor {
    /// How many, 1 or 2.
    pub count: u8,
    /// Turns per minute per volt without load, 5 to 2000.
    pub kv_rpm_V: f64,
    /// Winding resistance at 20 degC as the controller sees it, 0.001 to 5 ohm.
    pub winding_ohm: f64,
    /// Drag of the iron at any speed (hysteresis), 0 to 5 N m.
    pub hysteresis_N_m: f64,
    /// Drag of the iron that grows with speed (eddy currents), 0 to 0.5 N m per rad/s.
    pub eddy_N_m_s: f64,
    /// Moment of inertia of the rotor, 0 to 0.5 kg m².
    pub rotor_kg_m2: f64,
    /// How it takes up and sheds heat.
    pub heat: Heat,
}

/// Torque in N m per ampere of a motor that turns `kv_rpm_V` times a minute per volt.
///
/// # Source
/// The definition of both, in SI units: Kt = 60 / (2 pi KV).
#[must_use]
pub fn torque_constant_N_m_A(kv_rpm_V: f64) -> f64 {
    60.0 / (2.0 * core::f64::consts::PI * kv_rpm_V)
}

impl Motor {
    /// Whether all values lie in their ranges.
    ///
    /// # Errors
    /// [`OutOfRange`] for the first that does not.
    pub fn check(&self) -> Result<(), OutOfRange> {
        within("count", f64::from(self.count), (1.0, 2.0))?;
        within("kv_rpm_V", self.kv_rpm_V, (5.0, 2000.0))?;
        within("winding_ohm", self.winding_ohm, (0.001, 5.0))?;
        within("hysteresis_N_m", self.hysteresis_N_m, (0.0, 5.0))?;
        within("eddy_N_m_s", self.eddy_N_m_s, (0.0, 0.5))?;
        within("rotor_kg_m2", self.rotor_kg_m2, (0.0, 0.5))?;
        within("winding_J_K", self.heat.winding_J_K, (2.0, 10_000.0))?;
        within("case_J_K", self.heat.case_J_K, (2.0, 50_000.0))?;
        within("winding_to_case_W_K", self.heat.winding_to_case_W_K, (0.05, 200.0))?;
        within("case_to_air_W_K", self.heat.case_to_air_W_K, (0.02, 200.0))?;
        // So that steps of 0.2 s stay far from swinging.
        let quickest_s = self.heat.winding_J_K.min(self.heat.case_J_K)
            / (self.heat.winding_to_case_W_K + self.heat.case_to_air_W_K);
        within("heat time constant in seconds", quickest_s, (1.0, f64::MAX))
    }

    /// Resistance of one winding at a temperature.
    pub(crate) fn winding_at_ohm(&self, winding_degC: f64) -> f64 {
        let above_K = winding_degC.min(BURNT_CELSIUS) - STATED_AT_CELSIUS;
        self.winding_ohm * (1.0 + COPPER_PER_K * above_K)
    }
}

/// How warm a motor is.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Warmth {
    pub(crate) winding_degC: f64,
    pub(crate) case_degC: f64,
}

impl Warmth {
    /// The state after `duration_s`, in which copper and iron turned that much into heat.
    pub(crate) fn after(
        self,
        heat: &Heat,
        air_degC: f64,
        (copper_J, iron_J): (f64, f64),
        duration_s: f64,
    ) -> Self {
        let inward_J = heat.winding_to_case_W_K * (self.winding_degC - self.case_degC) * duration_s;
        let outward_J = heat.case_to_air_W_K * (self.case_degC - air_degC) * duration_s;
        Self {
            winding_degC: self.winding_degC + (copper_J - inward_J) / heat.winding_J_K,
            case_degC: self.case_degC + (iron_J + inward_J - outward_J) / heat.case_J_K,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn source_torque_constant_by_turns_per_volt() {
        // Source: the definition, worked out apart from this program to four digits; tolerance
        // is half of the last one.
        for (kv, kt) in [(90.0, 0.10610), (170.0, 0.05617), (190.0, 0.05026), (230.0, 0.04152)] {
            assert!((torque_constant_N_m_A(kv) - kt).abs() < 0.000_005_1, "KV {kv}");
        }
    }

    #[test]
    fn steady_heat_settles_where_the_flows_meet() {
        let heat = Heat {
            winding_J_K: 150.0,
            case_J_K: 400.0,
            winding_to_case_W_K: 3.0,
            case_to_air_W_K: 1.2,
        };
        let mut warmth = Warmth { winding_degC: 20.0, case_degC: 20.0 };
        for _ in 0..40_000 {
            warmth = warmth.after(&heat, 20.0, (30.0 * 0.2, 6.0 * 0.2), 0.2);
        }
        // 36 W through the case, 30 W of it from the winding; 8000 s are 20 time constants.
        assert!((warmth.case_degC - 50.0).abs() < 1e-3);
        assert!((warmth.winding_degC - 60.0).abs() < 1e-3);
    }

    #[test]
    fn source_copper_at_100_degC_has_a_third_more_resistance() {
        // Source: CRC wire tables, 2.22 at 100 degC over 1.678 at 20 degC (1e-8 ohm m), 1.323.
        // Tolerance 1.5 %: the handbook's coefficient at 20 degC is a straight line, the table not.
        let heat = Heat {
            winding_J_K: 150.0,
            case_J_K: 400.0,
            winding_to_case_W_K: 3.0,
            case_to_air_W_K: 1.2,
        };
        let motor = Motor {
            count: 1,
            kv_rpm_V: 190.0,
            winding_ohm: 0.05,
            hysteresis_N_m: 0.0,
            eddy_N_m_s: 0.0,
            rotor_kg_m2: 0.0,
            heat,
        };
        let ratio = motor.winding_at_ohm(100.0) / motor.winding_at_ohm(20.0);
        assert!((ratio - 2.22 / 1.678).abs() < 0.015 * 1.323);
    }
}
