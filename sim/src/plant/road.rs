//! The road under the wheels and the air above it, and how both hold a board back.
//!
//! Used by `vehicle` and `tractive`. Source: Martin, Milliken, Cobb et al., Journal of Applied
//! Biomechanics 14 (1998) 276-291, cited from memory: rolling, climbing and air resistance, each
//! along the way. The ideal gas law for the density of dry air.

use crate::plant::GRAVITY_M_S2;
use crate::plant::body::Body;
use crate::plant::range::{OutOfRange, nearest, within};

/// Specific gas constant of dry air, J/(kg K): 8.314463 J/(mol K) over 28.9652 g/mol, the mean
/// molar mass of dry air in the ICAO standard atmosphere (from memory).
const DRY_AIR_J_KG_K: f64 = 287.05;

/// 0 degrees Celsius in kelvin, by definition.
const ZERO_CELSIUS_K: f64 = 273.15;

const GRADE: (f64, f64) = (-0.5, 0.5);
const FRICTION: (f64, f64) = (0.02, 1.5);
const ROLLING_FACTOR: (f64, f64) = (0.1, 10.0);
const HEADWIND_M_S: (f64, f64) = (-40.0, 40.0);
const AIR_DENSITY_KG_M3: (f64, f64) = (0.5, 2.0);

/// The road at one place and moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Road {
    /// Rise over run, uphill positive, -0.5 to 0.5.
    pub grade: f64,
    /// Greatest force between wheel and road per load, 0.02 to 1.5: dry asphalt about 0.8, wet
    /// paint or leaves about 0.3 (common practice, no source).
    pub friction: f64,
    /// What the surface makes of the rolling resistance on smooth asphalt, 0.1 to 10.
    pub rolling_factor: f64,
    /// Wind along the way, against the rider positive, -40 to 40 m/s.
    pub headwind_m_s: f64,
    /// Density of the air, 0.5 to 2 kg/m³.
    pub air_density_kg_m3: f64,
}

impl Default for Road {
    /// Level dry asphalt in still air of the standard atmosphere at sea level.
    fn default() -> Self {
        Self {
            grade: 0.0,
            friction: 0.8,
            rolling_factor: 1.0,
            headwind_m_s: 0.0,
            air_density_kg_m3: 1.225,
        }
    }
}

/// Sine and cosine of the road's angle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Slope {
    /// Share of the weight along the way, uphill positive.
    pub sine: f64,
    /// Share of the weight on the road.
    pub cosine: f64,
}

impl Road {
    /// Whether all values lie in their ranges.
    ///
    /// # Errors
    /// [`OutOfRange`] for the first that does not.
    pub fn check(&self) -> Result<(), OutOfRange> {
        within("grade", self.grade, GRADE)?;
        within("friction", self.friction, FRICTION)?;
        within("rolling_factor", self.rolling_factor, ROLLING_FACTOR)?;
        within("headwind_m_s", self.headwind_m_s, HEADWIND_M_S)?;
        within("air_density_kg_m3", self.air_density_kg_m3, AIR_DENSITY_KG_M3)
    }

    /// The angle of a grade.
    #[must_use]
    pub fn slope(&self) -> Slope {
        let cosine = 1.0 / (1.0 + self.grade * self.grade).sqrt();
        Slope { sine: self.grade * cosine, cosine }
    }

    /// This road with every value moved to the nearest allowed one, for a loop that has no room
    /// for an error: one bad number must not turn the whole ride into no numbers.
    #[inline]
    pub(crate) fn bounded(&self) -> Self {
        Self {
            grade: nearest(self.grade, GRADE),
            friction: nearest(self.friction, FRICTION),
            rolling_factor: nearest(self.rolling_factor, ROLLING_FACTOR),
            headwind_m_s: nearest(self.headwind_m_s, HEADWIND_M_S),
            air_density_kg_m3: nearest(self.air_density_kg_m3, AIR_DENSITY_KG_M3),
        }
    }
}

/// Density of dry air in kg/m³ at a temperature in degrees Celsius and a pressure in pascal.
///
/// # Source
/// The ideal gas law.
#[must_use]
pub fn air_density_kg_m3(temperature_degC: f64, pressure_Pa: f64) -> f64 {
    pressure_Pa / (DRY_AIR_J_KG_K * (temperature_degC + ZERO_CELSIUS_K))
}

/// The force in newtons that holds back a board which moves forward at a steady `speed_m_s`;
/// negative where the hill or the wind pushes.
///
/// At standstill it counts the whole rolling resistance, which then only resists.
#[must_use]
pub fn road_load_N(body: &Body, road: &Road, speed_m_s: f64) -> f64 {
    let weight_N = body.mass_kg() * GRAVITY_M_S2;
    let Slope { sine, cosine } = road.slope();
    let rolling = body.rolling_resistance * road.rolling_factor * cosine;
    let through_air_m_s = speed_m_s + road.headwind_m_s;
    let dynamic = 0.5 * road.air_density_kg_m3 * body.drag_area_m2;
    weight_N * (rolling + sine) + dynamic * through_air_m_s * through_air_m_s.abs()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn source_air_density_meets_the_standard_atmosphere() {
        // Source: ICAO standard atmosphere, 15 degC and 101 325 Pa at sea level: 1.225 kg/m³.
        // Tolerance: the table's last digit.
        assert!((air_density_kg_m3(15.0, 101_325.0) - 1.225).abs() < 0.0005);
        // 5000 m: -17.5 degC and 54 048 Pa: 0.7364 kg/m³ (from memory).
        assert!((air_density_kg_m3(-17.47, 54_048.0) - 0.7364).abs() < 0.0005);
    }

    #[test]
    fn a_slope_is_a_right_triangle() {
        for grade in [-0.5, -0.1, 0.0, 0.03, 0.5] {
            let Slope { sine, cosine } = Road { grade, ..Road::default() }.slope();
            // Rounding of four operations.
            assert!((sine * sine + cosine * cosine - 1.0).abs() < 1e-15);
            assert!((sine - grade * cosine).abs() < 1e-15);
        }
    }

    #[test]
    fn a_road_that_cannot_be_is_refused() {
        let road = Road { friction: f64::NAN, ..Road::default() };
        assert_eq!(road.check().unwrap_err().quantity, "friction");
        assert!(road.bounded().check().is_ok());
    }
}
