//! Kinds of cells, for the constants that a builder's own tables cannot tell.
//!
//! Asked by `tail` and `hysteresis` for their defaults.

/// The kind of a cell's positive electrode; the negative one is graphite.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Chemistry {
    /// Nickel-rich oxides (NMC, NCA).
    NickelRich,
    /// Cobalt oxide (LCO).
    Cobalt,
    /// Iron phosphate (LFP).
    IronPhosphate,
}
