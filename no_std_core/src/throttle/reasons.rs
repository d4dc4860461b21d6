//! Why the demand is less than what the thumb asks.
//!
//! Every stage that takes something away adds its reason; the screen shows the strongest. The
//! order of the reasons is their strength: how much they can take and how little is left to the
//! rider to decide.

/// One reason for a smaller demand. Stronger ones come first, in this order.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Reason {
    /// The thumb's count lies outside its way: a wire is open or shorted.
    BrokenThumb,
    /// The hand is silent (at the board's end): no drive.
    SilentHand,
    /// The thumb asks, but has not been neutral for long enough before.
    NotArmed,
    /// The thumb has asked for the same drive for so long that it may be stuck: no drive before it
    /// has been neutral.
    StuckThumb,
    /// The pack has fallen to its stop voltage (hard): no drive.
    StopVoltage,
    /// The pack has risen above its highest voltage (hard): no charging.
    OverVoltage,
    /// What is known about the board is too old, or its voltage is not known at all.
    StaleTelemetry,
    /// The handheld's own battery is nearly empty: the walk home.
    HandBattery,
    /// The pack sags under the load: less drive.
    Sagging,
    /// More current leaves the pack than it should give: less drive.
    DischargeCurrent,
    /// The cells are hot: less drive.
    HotPack,
    /// A motor is hot: less drive.
    HotMotor,
    /// The motor controller is hot: less drive.
    HotController,
    /// The cells are cold: less drive.
    ColdPack,
    /// The charge has come down to the reserve: less drive, then less speed.
    Reserve,
    /// The board waits to be pushed: no drive before it rolls.
    PushStart,
    /// The brake that is left would not stop the board within the stated distance: less speed.
    WeakBrake,
    /// The board nears the top speed of its pace: less drive.
    TopSpeed,
    /// The pack may be nearly full: less charging, so less brake.
    NearlyFull,
    /// The cells are too cold to be charged: less brake.
    ColdCharge,
    /// The cells are too hot to be charged: less brake.
    HotCharge,
    /// The brake would charge with more current than the pack takes: less brake.
    ChargeCurrent,
    /// The board hardly moves: the brake fades, so that it never pushes backwards.
    Standstill,
}

impl Reason {
    /// All reasons, the strongest first.
    pub const ALL: [Self; 23] = [
        Self::BrokenThumb,
        Self::SilentHand,
        Self::NotArmed,
        Self::StuckThumb,
        Self::StopVoltage,
        Self::OverVoltage,
        Self::StaleTelemetry,
        Self::HandBattery,
        Self::Sagging,
        Self::DischargeCurrent,
        Self::HotPack,
        Self::HotMotor,
        Self::HotController,
        Self::ColdPack,
        Self::Reserve,
        Self::PushStart,
        Self::WeakBrake,
        Self::TopSpeed,
        Self::NearlyFull,
        Self::ColdCharge,
        Self::HotCharge,
        Self::ChargeCurrent,
        Self::Standstill,
    ];

    /// The bit that stands for it in a record: its place in [`Self::ALL`]. Never changes its meaning.
    const fn bit(self) -> u32 {
        match self {
            Self::BrokenThumb => 1,
            Self::SilentHand => 1 << 1,
            Self::NotArmed => 1 << 2,
            Self::StuckThumb => 1 << 3,
            Self::StopVoltage => 1 << 4,
            Self::OverVoltage => 1 << 5,
            Self::StaleTelemetry => 1 << 6,
            Self::HandBattery => 1 << 7,
            Self::Sagging => 1 << 8,
            Self::DischargeCurrent => 1 << 9,
            Self::HotPack => 1 << 10,
            Self::HotMotor => 1 << 11,
            Self::HotController => 1 << 12,
            Self::ColdPack => 1 << 13,
            Self::Reserve => 1 << 14,
            Self::PushStart => 1 << 15,
            Self::WeakBrake => 1 << 16,
            Self::TopSpeed => 1 << 17,
            Self::NearlyFull => 1 << 18,
            Self::ColdCharge => 1 << 19,
            Self::HotCharge => 1 << 20,
            Self::ChargeCurrent => 1 << 21,
            Self::Standstill => 1 << 22,
        }
    }
}

/// A set of [`Reason`]s; goes through them from the strongest to the weakest.
#[derive(Clone, Copy, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Reasons(u32);

impl Reasons {
    /// No reason: the demand is what the thumb asks.
    pub const NONE: Self = Self(0);

    /// The set with one reason in it.
    #[must_use]
    pub const fn of(reason: Reason) -> Self {
        Self(reason.bit())
    }

    /// This set and `reason`.
    #[must_use]
    pub const fn with(self, reason: Reason) -> Self {
        Self(self.0 | reason.bit())
    }

    /// All that is in this set or in `other`.
    #[must_use]
    pub const fn and(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    /// Whether `reason` is in the set.
    #[must_use]
    pub const fn contains(self, reason: Reason) -> bool {
        self.0 & reason.bit() != 0
    }

    /// Whether there is no reason in it.
    #[must_use]
    pub const fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// The strongest reason in it.
    #[must_use]
    pub fn strongest(self) -> Option<Reason> {
        self.iter().next()
    }

    /// Its reasons, the strongest first.
    pub fn iter(self) -> impl Iterator<Item = Reason> {
        Reason::ALL.into_iter().filter(move |reason| self.contains(*reason))
    }

    /// The set as a number, for records and digests: bit `n` is the `n`th of [`Reason::ALL`].
    #[must_use]
    pub const fn to_bits(self) -> u32 {
        self.0
    }

    /// The reverse of [`Self::to_bits`]; bits without a meaning are left out.
    #[must_use]
    pub const fn from_bits(bits: u32) -> Self {
        Self(bits & 0x7F_FFFF)
    }
}

impl core::fmt::Debug for Reasons {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.debug_set().entries(self.iter()).finish()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::vec::Vec;

    proptest! {
        #[test]
        fn law_a_set_survives_its_bits(bits: u32) {
            let reasons = Reasons::from_bits(bits);
            let rebuilt = reasons.iter().fold(Reasons::NONE, Reasons::with);
            prop_assert_eq!(rebuilt, reasons);
            prop_assert_eq!(Reasons::from_bits(reasons.to_bits()), reasons);
        }

        #[test]
        fn law_reasons_come_in_order_of_strength(bits: u32) {
            let listed: Vec<_> = Reasons::from_bits(bits).iter().collect();
            prop_assert!(listed.is_sorted());
            prop_assert_eq!(listed.first().copied(), Reasons::from_bits(bits).strongest());
        }
    }

    #[test]
    fn the_bit_of_a_reason_is_its_place_in_the_order() {
        for (place, reason) in Reason::ALL.into_iter().enumerate() {
            assert_eq!(Reasons::of(reason).to_bits(), 1 << place);
        }
    }
}
