//! Whether the frames of a ride are sealed.

use clap::ValueEnum;

/// The choice, as it is typed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub(super) enum Seal {
    /// As they are on a board
    #[default]
    On,
    /// With a checksum instead of a seal, which saves time and changes no ride
    Off,
}

impl Seal {
    pub(super) fn is_on(self) -> bool {
        self == Self::On
    }
}
