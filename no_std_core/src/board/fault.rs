//! What can be wrong with a board, as data; words only in `Display`.

use heapless::Vec;

use super::Quantity;

/// How many faults one description can have; more are counted, not kept.
const MOST_FAULTS: usize = 32;

/// One fault. Values are in millionths of the quantity's unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum Fault {
    /// A value outside what is allowed.
    OutOfRange {
        /// Which quantity.
        quantity: Quantity,
        /// What was given.
        given: i64,
        /// The lowest value allowed.
        lowest: i64,
        /// The highest value allowed.
        highest: i64,
    },
    /// A value that has to be greater than another one and is not.
    NotAbove {
        /// Which quantity.
        quantity: Quantity,
        /// What was given.
        given: i64,
        /// The quantity that it has to exceed.
        other: Quantity,
        /// What that one is.
        other_given: i64,
    },
    /// A pack voltage that no pack of these cells has.
    NotOfThisPack {
        /// Which quantity.
        quantity: Quantity,
        /// What was given.
        given: i64,
        /// The pack with every cell at its lowest voltage, less a tenth for what sags under load.
        lowest: i64,
        /// The pack with every cell at its highest voltage.
        highest: i64,
    },
    /// A voltage that the resting-voltage curve does not reach.
    BeyondCurve {
        /// Which quantity.
        quantity: Quantity,
        /// What was given.
        given: i64,
        /// Where the curve ends.
        curve_end: i64,
    },
}

impl Fault {
    /// The quantity that is at fault.
    #[must_use]
    pub const fn quantity(&self) -> Quantity {
        match self {
            Self::OutOfRange { quantity, .. }
            | Self::NotAbove { quantity, .. }
            | Self::NotOfThisPack { quantity, .. }
            | Self::BeyondCurve { quantity, .. } => *quantity,
        }
    }
}

/// Millionths written as a decimal number without needless zeros.
struct Decimal(i64);

impl core::fmt::Display for Decimal {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        let size = self.0.unsigned_abs();
        let (whole, mut part, mut digits) =
            (size.wrapping_div(1_000_000), size.wrapping_rem(1_000_000), 6_usize);
        if self.0 < 0 {
            f.write_str("-")?;
        }
        write!(f, "{whole}")?;
        if part == 0 {
            return Ok(());
        }
        while part.wrapping_rem(10) == 0 {
            part = part.wrapping_div(10);
            digits = digits.saturating_sub(1);
        }
        write!(f, ".{part:0digits$}")
    }
}

impl core::fmt::Display for Fault {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match *self {
            Self::OutOfRange { quantity, given, lowest, highest } => {
                write!(
                    f,
                    "{quantity} is {}; {} to {} is allowed",
                    Decimal(given),
                    Decimal(lowest),
                    Decimal(highest)
                )
            }
            Self::NotAbove { quantity, given, other, other_given } => {
                write!(
                    f,
                    "{quantity} is {}; it has to be above {other}, which is {}",
                    Decimal(given),
                    Decimal(other_given)
                )
            }
            Self::NotOfThisPack { quantity, given, lowest, highest } => write!(
                f,
                "{quantity} is {}; {} to {} is allowed for this many of these cells in series",
                Decimal(given),
                Decimal(lowest),
                Decimal(highest)
            ),
            Self::BeyondCurve { quantity, given, curve_end } => {
                write!(
                    f,
                    "{quantity} is {}; the resting-voltage curve ends at {}",
                    Decimal(given),
                    Decimal(curve_end)
                )
            }
        }
    }
}

impl core::error::Error for Fault {}

/// All faults of a description.
#[derive(Clone, Debug, Default, PartialEq, Eq, Hash)]
pub struct Faults {
    kept: Vec<Fault, MOST_FAULTS>,
}

impl Faults {
    /// Notes one more fault.
    pub(crate) fn add(&mut self, fault: Fault) {
        // Beyond the most that can be kept the first ones are the ones to mend first.
        let _ = self.kept.push(fault);
    }

    /// Whether `quantity` has been found at fault already.
    pub(crate) fn has(&self, quantity: Quantity) -> bool {
        self.kept.iter().any(|fault| fault.quantity() == quantity)
    }

    /// Whether there are none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.kept.is_empty()
    }

    /// Each fault, in the order of a board file.
    pub fn iter(&self) -> impl Iterator<Item = &Fault> {
        self.kept.iter()
    }
}

impl core::fmt::Display for Faults {
    /// One line per fault.
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        for (index, fault) in self.kept.iter().enumerate() {
            if index > 0 {
                f.write_str("\n")?;
            }
            write!(f, "{fault}")?;
        }
        Ok(())
    }
}

impl core::error::Error for Faults {}
