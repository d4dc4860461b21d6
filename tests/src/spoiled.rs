//! The rows of a trace as a handheld would have got them.
//!
//! Used by `accuracy` and `search`, so that both mean the same by a seed.

use homestretch_sim::ride::RideRow;
use homestretch_sim::sensors::{SensorError, SensorSettings, Sensors};

use crate::reference::Reference;

/// What is done to a trace before an estimator sees it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Spoiling {
    /// Default sensors and radio drawn from this seed; `None` for the exact rows.
    pub seed: Option<u64>,
    /// Whether the temperature is measured.
    pub with_temperature: bool,
}

/// The rows of `reference` under `spoiling`, the truth beside them.
///
/// # Errors
/// [`SensorError`], which the default settings don't give.
pub fn rows(reference: &Reference, spoiling: Spoiling) -> Result<Vec<RideRow>, SensorError> {
    let Some(seed) = spoiling.seed else {
        let mut rows = reference.rows.clone();
        if !spoiling.with_temperature {
            for row in &mut rows {
                row.measured.cell_temperature_degC = None;
            }
        }
        return Ok(rows);
    };
    let settings = SensorSettings {
        drop_temperature: !spoiling.with_temperature,
        ..SensorSettings::default()
    };
    let sensors = Sensors::new(&settings, sensor_seed(&reference.name, seed))?;
    Ok(sensors.apply(reference.rows.iter().cloned()).collect())
}

/// The seed of a trace's sensors: another for each trace, so that the same seed does not give
/// all of them the same wrong gain, and five seeds are more than five draws.
///
/// The name only stirs the numbers. Source: the FNV-1a hash, 64 bits, from memory.
#[must_use]
pub fn sensor_seed(name: &str, seed: u64) -> u64 {
    let bytes = name.bytes().chain(seed.to_le_bytes());
    bytes.fold(0xcbf2_9ce4_8422_2325, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_hash_is_the_published_one() {
        // Of the letter a, as in the hash's own test list; from memory. Without the seed's bytes.
        let hash = (0xcbf2_9ce4_8422_2325_u64 ^ u64::from(b'a')).wrapping_mul(0x0100_0000_01b3);
        assert_eq!(hash, 0xaf63_dc4c_8601_ec8c);
    }

    #[test]
    fn traces_and_seeds_have_sensors_of_their_own() {
        let seeds = ["one", "other"].map(|name| [1, 2].map(|seed| sensor_seed(name, seed)));
        let mut seeds = seeds.concat();
        seeds.sort_unstable();
        seeds.dedup();
        assert_eq!(seeds.len(), 4);
    }
}
