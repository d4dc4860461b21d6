//! Slow constants of published cells, each fitted on that cell's own tables.
//!
//! The tables themselves are files elsewhere. Found by `tests/fit_cells.py`; no ride was used. Sources of the
//! parameter sets behind the tables: Chen 2020 (doi:10.1149/1945-7111/ab9050), O'Regan 2022
//! (doi:10.1016/j.electacta.2022.140700), O'Kane 2022 (doi:10.1039/D2CP00417H), Kim 2011
//! (doi:10.1149/1.3597614), Ai 2020 (doi:10.1149/2.0122001JES), Prada 2013 (doi:10.1149/2.053304jes).
//!
//! At a bound of the search, so no more than the best within it: `branch3_share` of Kim 2011 (0.6), `branch3_s` of
//! Chen 2020 (200 s), `branch2_s` of Chen 2020 and Ai 2020 (40 s), `slow_s` of Ai 2020 (30 s). The tables of iron
//! phosphate have no use for the third branch (share 0.01, the same misfit without).

use super::{Chemistry, Hysteresis, Tail};

/// The constants of the cell called `name` (as its table files are), where it is a published one.
#[must_use]
pub fn constants(name: &str) -> Option<(Tail, Hysteresis)> {
    let nickel = Tail::of(Chemistry::NickelRich);
    let tail = match name {
        "nmc811_21700_chen" => Tail {
            quick_s: 1247.0,
            slow_s: 65.4,
            diffusion_J_mol: 2514.0,
            branch2_s: 40.0,
            branch2_J_mol: 3924.0,
            branch3_s: 200.0,
            branch3_share: 0.244,
            knee_soc: 0.296,
            kinetic_share: 0.52,
            ..nickel
        },
        "nmc811_21700_oregan" => Tail {
            quick_s: 4033.0,
            slow_s: 36.5,
            diffusion_J_mol: 56_065.0,
            branch2_s: 20.70,
            branch2_J_mol: 16_382.0,
            branch3_s: 173.1,
            branch3_share: 0.458,
            knee_soc: 0.320,
            kinetic_share: 0.94,
            ..nickel
        },
        "nmc811_21700_okane" => Tail {
            quick_s: 1129.0,
            slow_s: 2532.0,
            diffusion_J_mol: 22_548.0,
            branch2_s: 39.93,
            branch2_J_mol: 45_518.0,
            branch3_s: 165.2,
            branch3_share: 0.218,
            knee_soc: 0.152,
            kinetic_share: 0.74,
            ..nickel
        },
        "nca_pouch_kim" => Tail {
            quick_s: 885.9,
            slow_s: 132.7,
            diffusion_J_mol: 20_525.0,
            branch2_s: 22.37,
            branch2_J_mol: 29_850.0,
            branch3_s: 52.05,
            branch3_share: 0.6,
            knee_soc: 0.198,
            kinetic_share: 0.58,
            ..nickel
        },
        "lco_pouch_ai" => Tail {
            quick_s: 998.5,
            diffusion_J_mol: 4884.0,
            branch2_J_mol: 40_771.0,
            branch3_s: 50.3,
            branch3_share: 0.303,
            ..Tail::of(Chemistry::Cobalt)
        },
        "lfp_26650_prada" | "lfp_26650_two_branch" => Tail::of(Chemistry::IronPhosphate),
        _ => return None,
    };
    let hysteresis = match name {
        // Its gap is stated with the tables (8 mV each way, over 1/25 of the electrode's range, of which
        // a full charge of the cell crosses 0.70).
        "lfp_26650_two_branch" => Hysteresis { magnitude_V: 0.008, gamma: 17.5 },
        // The published set has one curve; real iron phosphate has a gap.
        _ => Hysteresis::NONE,
    };
    Some((tail, hysteresis))
}
