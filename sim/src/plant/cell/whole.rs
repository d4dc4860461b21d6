//! The cell: curve, resistances and constants, checked once and then only read.
//!
//! Held by `pack` behind an `Arc`, so that a forked world shares it.

use super::Chemistry;
use super::curve::Curve;
use super::fault::CellFault;
use super::hysteresis::Hysteresis;
use super::resistance::{ResistanceAt, ResistanceTable};
use super::tables::CellTables;
use super::tail::{FARADAY_C_MOL, GAS_J_MOL_K, ICE_POINT_K, Tail};

/// One cell as it really is. Built from tables, never changed.
#[derive(Clone, Debug)]
pub struct Cell {
    pub(crate) curve: Curve,
    pub(crate) tail: Tail,
    pub(crate) hysteresis: Hysteresis,
    resistance: ResistanceTable,
    capacity_Ah: f64,
    pulse_A: f64,
    empty_soc: f64,
    full_soc: f64,
}

impl Cell {
    /// A cell from its tables and slow constants.
    ///
    /// # Errors
    /// `OutOfRange`, `TooShort`, `UnequalColumns`, `SocNotRising`, `VoltageFalls` or `GridHole`, each with the
    /// value that is wrong.
    pub fn new(tables: &CellTables, tail: Tail, hysteresis: Hysteresis) -> Result<Self, CellFault> {
        let tail = tail.checked()?;
        let hysteresis = hysteresis.checked()?;
        let curve = Curve::new(&tables.resting_rows()?, &tail);
        let resistance = ResistanceTable::new(tables, &tail, &curve)?;
        let (empty_soc, full_soc) = (curve.soc_at(tables.lowest_V), curve.soc_at(tables.highest_V));
        Ok(Self {
            curve,
            tail,
            hysteresis,
            resistance,
            capacity_Ah: tables.capacity_Ah,
            pulse_A: tables.pulse_A,
            empty_soc,
            full_soc,
        })
    }

    /// A builder's own cell, with the slow constants and hysteresis of its kind.
    ///
    /// # Errors
    /// As [`Cell::new`].
    pub fn of(tables: &CellTables, chemistry: Chemistry) -> Result<Self, CellFault> {
        Self::new(tables, Tail::of(chemistry), Hysteresis::of(chemistry))
    }

    /// Resting voltage at 25 degC (V), hysteresis aside. Goes on straight below 0 and above 1.
    #[must_use]
    pub fn resting_V(&self, soc: f64) -> f64 {
        self.curve.resting_V(soc)
    }

    /// Resting voltage at a temperature (V), hysteresis aside.
    #[must_use]
    pub fn resting_at_V(&self, soc: f64, temperature_degC: f64) -> f64 {
        self.curve.resting_V(soc) + (temperature_degC - 25.0) * self.curve.per_K(soc)
    }

    /// The charge that rests at this voltage and 25 degC; may lie outside 0 to 1.
    #[must_use]
    pub fn soc_at_rest(&self, voltage_V: f64) -> f64 {
        self.curve.soc_at(voltage_V)
    }

    /// Charge of a new cell between soc 0 and 1 of its table (Ah).
    #[must_use]
    pub const fn capacity_Ah(&self) -> f64 {
        self.capacity_Ah
    }

    /// Charge at which it rests at the lowest and the highest voltage.
    pub(crate) const fn span(&self) -> (f64, f64) {
        (self.empty_soc, self.full_soc)
    }

    pub(crate) fn resistance_at(&self, temperature_degC: f64) -> ResistanceAt {
        self.resistance.at(temperature_degC)
    }

    /// How charge transfer bends at a temperature, for an instant resistance as in the table.
    pub(crate) fn kinetics(&self, instant_ohm: f64, temperature_degC: f64) -> Kinetics {
        let scale_V = 4.0 * GAS_J_MOL_K * (temperature_degC + ICE_POINT_K) / FARADAY_C_MOL;
        // Beyond 20 the sine would leave no digits; no cell that can drive anything comes near.
        let pulse = (self.tail.kinetic_share * instant_ohm * self.pulse_A / scale_V).min(20.0);
        Kinetics {
            share: self.tail.kinetic_share,
            pulse_A: self.pulse_A,
            pulse,
            sine: libm::sinh(pulse),
        }
    }
}

/// The bend of the instant resistance over current.
///
/// Charge transfer follows an inverse hyperbolic sine (Butler-Volmer with equal halves, two electrodes alike):
/// twice the current costs less than twice the voltage.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Kinetics {
    share: f64,
    pulse_A: f64,
    pulse: f64,
    sine: f64,
}

impl Kinetics {
    /// The instant resistance at a current per cell, over the table's at its pulse current.
    pub(crate) fn factor(&self, current_A: f64) -> f64 {
        if self.pulse < 1e-6 {
            return 1.0;
        }
        // Below half the pulse current the bend hardly shows; held, lest a load that sets in looks for one
        // refresh as if it met the resistance of no current.
        let ratio = (current_A.abs() / self.pulse_A).max(0.5);
        let bent = ratio * self.sine;
        let inverse_sine = libm::log(bent + (bent * bent + 1.0).sqrt());
        1.0 - self.share + self.share * inverse_sine / (ratio * self.pulse)
    }
}
