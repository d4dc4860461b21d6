//! What the wheels roll on: how much harder it rolls than dry asphalt, and how well it grips.
//!
//! Used by `outline` and by whoever computes forces. Common practice, no source: both figures
//! depend on wheel, tyre, pressure and speed far more than one table can say. A small hard wheel
//! suffers more on rough ground than the pneumatic tyre that these figures have in mind.

/// A kind of ground.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Surface {
    /// Dry asphalt: the ground on which a vehicle's rolling resistance is stated.
    #[default]
    Asphalt,
    /// Asphalt after rain.
    WetAsphalt,
    /// Smooth concrete, joints between its plates.
    Concrete,
    /// Paving slabs or bricks with narrow joints.
    Paving,
    /// The same after rain.
    WetPaving,
    /// Rounded stones with wide joints.
    Cobbles,
    /// The same after rain.
    WetCobbles,
    /// Gravel pressed hard by traffic, as on a towpath.
    PackedGravel,
    /// Planks across the way, as on a pier.
    Planks,
    /// The same after rain.
    WetPlanks,
    /// Short grass on firm earth.
    Grass,
    /// A carpet of wet leaves on asphalt.
    WetLeaves,
    /// Snow pressed hard by traffic.
    PackedSnow,
    /// Bare ice.
    Ice,
}

impl Surface {
    /// Every surface, from asphalt to ice.
    pub const ALL: [Self; 14] = [
        Self::Asphalt,
        Self::WetAsphalt,
        Self::Concrete,
        Self::Paving,
        Self::WetPaving,
        Self::Cobbles,
        Self::WetCobbles,
        Self::PackedGravel,
        Self::Planks,
        Self::WetPlanks,
        Self::Grass,
        Self::WetLeaves,
        Self::PackedSnow,
        Self::Ice,
    ];

    /// What the vehicle's own rolling resistance is multiplied by; 1 on dry asphalt.
    ///
    /// Common practice, no source.
    #[must_use]
    pub const fn rolling_factor(self) -> f64 {
        match self {
            Self::Asphalt | Self::Ice => 1.0,
            Self::WetAsphalt => 1.1,
            Self::Concrete => 1.05,
            Self::Paving => 1.3,
            Self::WetPaving => 1.4,
            Self::Cobbles | Self::PackedSnow => 2.0,
            Self::WetCobbles => 2.1,
            Self::PackedGravel => 1.7,
            Self::Planks => 1.5,
            Self::WetPlanks => 1.6,
            Self::Grass => 3.5,
            Self::WetLeaves => 1.5,
        }
    }

    /// The greatest force along the ground that a wheel can pass on, as a share of its load.
    ///
    /// Common practice, no source; rubber that rolls without locking.
    #[must_use]
    pub const fn friction(self) -> f64 {
        match self {
            Self::Asphalt => 0.8,
            Self::WetAsphalt | Self::WetPaving => 0.5,
            Self::Concrete => 0.75,
            Self::Paving => 0.65,
            Self::Cobbles | Self::Planks => 0.55,
            Self::WetCobbles => 0.35,
            Self::PackedGravel => 0.45,
            Self::Grass => 0.4,
            Self::WetPlanks => 0.25,
            Self::WetLeaves | Self::PackedSnow => 0.2,
            Self::Ice => 0.08,
        }
    }

    /// The name that files use.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Asphalt => "asphalt",
            Self::WetAsphalt => "wet_asphalt",
            Self::Concrete => "concrete",
            Self::Paving => "paving",
            Self::WetPaving => "wet_paving",
            Self::Cobbles => "cobbles",
            Self::WetCobbles => "wet_cobbles",
            Self::PackedGravel => "packed_gravel",
            Self::Planks => "planks",
            Self::WetPlanks => "wet_planks",
            Self::Grass => "grass",
            Self::WetLeaves => "wet_leaves",
            Self::PackedSnow => "packed_snow",
            Self::Ice => "ice",
        }
    }

    /// The surface of that name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|surface| surface.name() == name)
    }
}
