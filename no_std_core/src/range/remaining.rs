//! The way that is left, as it is told and as it is kept between two looks.
//!
//! Worked out by `range`; shown by `status`.

use super::{ODOMETER_DOUBT, SIGMA_OF_HALF_WIDTH};
use crate::math::{narrow, root};
use crate::units::{Metres, Ratio};

/// One sigma to what nine in ten exceed, of a normal error (1.2816).
const MET_NINE_IN_TEN: Ratio = Ratio::from_fraction(12_816, 10_000);

/// A distance that is left. `nine_in_ten <= likely`.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Remaining {
    /// As likely too much as too little.
    pub likely: Metres,
    /// Met nine times in ten.
    pub nine_in_ten: Metres,
}

/// A distance that is left, in 256ths of a metre.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub(super) struct Kept {
    likely: i32,
    nine_in_ten: i32,
}

impl Kept {
    pub(super) fn of(remaining: Remaining) -> Self {
        let kept = |way: Metres| narrow(way.to_bits() >> 24);
        Self { likely: kept(remaining.likely), nine_in_ten: kept(remaining.nine_in_ten) }
    }

    pub(super) fn told(self) -> Remaining {
        let told = |kept: i32| Metres::from_bits(i64::from(kept) << 24);
        Remaining { likely: told(self.likely), nine_in_ten: told(self.nine_in_ten) }
    }
}

/// The way that is left, from the likely one, the one from the lower end of the charge's interval, and the doubts
/// of consumption and tables.
pub(super) fn judged(
    likely: Metres,
    at_low: Metres,
    consumption_doubt: Ratio,
    table_doubt: Ratio,
) -> Remaining {
    let by_charge = (likely - at_low).scaled(SIGMA_OF_HALF_WIDTH);
    let by_consumption = likely.scaled(consumption_doubt);
    let by_tables = likely.scaled(table_doubt);
    let by_odometer = likely.scaled(ODOMETER_DOUBT);
    let sigma = sum_of_squares([by_charge, by_consumption, by_tables, by_odometer]);
    let nine_in_ten = (likely - sigma.scaled(MET_NINE_IN_TEN)).held_within(Metres::ZERO, likely);
    Remaining { likely, nine_in_ten }
}

/// The root of the sum of squares of distances.
fn sum_of_squares(parts: [Metres; 4]) -> Metres {
    // Sixteenths of a metre; beyond 100 000 km the sum stays at its end.
    let sum = parts.into_iter().fold(0_i64, |sum, part| {
        let coarse = i64::from(narrow(part.to_bits() >> 28));
        sum.saturating_add(coarse.wrapping_mul(coarse))
    });
    Metres::from_bits(i64::from(root(sum)) << 28)
}
