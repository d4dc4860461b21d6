//! Rest after charge lies higher than rest after discharge: one state from -1 to 1.
//!
//! Used by `pack`: `dh = -gamma |dq|/Q (h + sign(i))`, and the voltage rests `magnitude_V * h` off the
//! table. Source: the one-state form of G. L. Plett, J. Power Sources 134 (2004) 262 (from memory); the gap
//! of iron phosphate, about 20 mV between the branches, W. Dreyer et al., Nature Materials 9 (2010) 448.

use super::Chemistry;
use super::fault::{CellFault, within};

/// How far, and how soon, the direction of the current moves the resting voltage.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hysteresis {
    /// Half the gap between the branches, 0 to 0.1 V.
    pub magnitude_V: f64,
    /// How often the branch is all but changed in one full charge, 0 to 200.
    pub gamma: f64,
}

impl Hysteresis {
    /// No hysteresis.
    pub const NONE: Self = Self { magnitude_V: 0.0, gamma: 0.0 };

    /// The default of a kind: none for the oxides, 10 mV each way for iron phosphate.
    #[must_use]
    pub const fn of(chemistry: Chemistry) -> Self {
        match chemistry {
            Chemistry::NickelRich | Chemistry::Cobalt => Self::NONE,
            // gamma: the branch changes over some 5 % of charge; common practice, no source.
            Chemistry::IronPhosphate => Self { magnitude_V: 0.010, gamma: 20.0 },
        }
    }

    pub(crate) fn checked(self) -> Result<Self, CellFault> {
        within("hysteresis magnitude_V", self.magnitude_V, 0.0, 0.1)?;
        within("hysteresis gamma", self.gamma, 0.0, 200.0)?;
        Ok(self)
    }
}
