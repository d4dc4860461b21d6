//! How this pack's resistance stands to the board file's, learned from how voltage and current swing
//! together under load.
//!
//! Wear and wiring add to it, and a table of a rested cell is not that of one that works. What the
//! table says of charge and temperature is kept; learned is one number over all of them. Fed by
//! `under_load` with the steepness of a window, read by `load`.

use crate::math::{divide, root, scale_wide, square, sum};
use crate::units::Ratio;

/// Before anything is learned: the resistance of the board file.
const AS_DESCRIBED: Ratio = Ratio::ONE;

/// One sigma of it: over the reference rides of new packs the swing of a window shows 0.58 (an iron
/// phosphate cell at up to 5C) to 1.21 of the table's one-second resistance, of the worn ones 1.07 and
/// 1.41 (`homestretch-checks drop`).
const DESCRIBED_DOUBT: Ratio = Ratio::from_percent(25);

/// One sigma of what one window shows of it: within one of those rides half of the windows lie in a
/// band of 0.1 to 0.7, mostly 0.25. Neighbours are alike, so that each counts for less than that.
const WINDOW_DOUBT: Ratio = Ratio::from_percent(40);

/// However many windows: a ride's swing and another's are not the same.
const LEAST_DOUBT: Ratio = Ratio::from_percent(4);

/// No pack has less or more.
const LEAST: Ratio = Ratio::from_percent(30);
const MOST: Ratio = Ratio::from_whole(4);

/// The resistance over that of the board file after one second, as far as it has shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Resistance {
    /// Over that of the board file.
    pub scale: Ratio,
    /// One sigma of it.
    pub doubt: Ratio,
}

impl Default for Resistance {
    fn default() -> Self {
        Self { scale: AS_DESCRIBED, doubt: DESCRIBED_DOUBT }
    }
}

impl Resistance {
    /// After a window that showed it to be `told` times that of the board file.
    ///
    /// A scalar Kalman step. Nothing beyond what a pack can have is believed.
    #[must_use]
    pub(crate) fn after(self, told: Ratio) -> Self {
        if told < LEAST || told > MOST {
            return self;
        }
        let own = square(self.doubt.to_bits());
        let gain = divide(own, sum(own, square(WINDOW_DOUBT.to_bits())), Ratio::FRACTION_BITS);
        let gain = Ratio::from_bits(gain);
        let left = scale_wide::<{ Ratio::FRACTION_BITS }>(own, (Ratio::ONE - gain).to_bits());
        Self {
            scale: self.scale + (told - self.scale).scaled(gain),
            doubt: Ratio::from_bits(root(left)).max(LEAST_DOUBT),
        }
    }

    /// Whether some life can have led to it.
    #[must_use]
    pub(crate) fn is_possible(&self) -> bool {
        (LEAST..=MOST).contains(&self.scale)
            && (LEAST_DOUBT..=DESCRIBED_DOUBT).contains(&self.doubt)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_worn_pack_is_found_within_minutes() {
        let mut pack = Resistance::default();
        for _ in 0..20 {
            pack = pack.after(Ratio::from_percent(150));
        }
        assert!((pack.scale.to_f64() - 1.5).abs() < 0.07, "{pack:?}");
    }

    proptest! {
        #[test]
        fn law_it_stays_possible_and_its_doubt_never_grows(told in proptest::collection::vec(any::<i32>(), 0..200)) {
            let mut pack = Resistance::default();
            for told in told {
                let next = pack.after(Ratio::from_bits(told));
                prop_assert!(next.is_possible() && next.doubt <= pack.doubt, "{next:?}");
                pack = next;
            }
        }
    }
}
