//! Slow constants of published cells, each fitted on that cell's own tables.
//!
//! The tables themselves are files elsewhere. Found by `study/fit_cells.py`; no ride was used. Sources of the
//! parameter sets behind the tables: Chen 2020 (doi:10.1149/1945-7111/ab9050), O'Regan 2022
//! (doi:10.1016/j.electacta.2022.140700), O'Kane 2022 (doi:10.1039/D2CP00417H), Kim 2011
//! (doi:10.1149/1.3597614), Ai 2020 (doi:10.1149/2.0122001JES), Prada 2013 (doi:10.1149/2.053304jes).

use super::{Chemistry, Hysteresis, Tail};

/// The constants of the cell called `name` (as its table files are), where it is a published one.
#[must_use]
pub fn constants(name: &str) -> Option<(Tail, Hysteresis)> {
    let nickel = Tail::of(Chemistry::NickelRich);
    let tail = match name {
        "nmc811_21700_chen" => Tail {
            quick_s: 397.4,
            slow_s: 5904.0,
            diffusion_J_mol: 5865.0,
            branch2_s: 40.0,
            branch2_J_mol: 9421.0,
            knee_soc: 0.141,
            kinetic_share: 0.52,
            ..nickel
        },
        "nmc811_21700_oregan" => Tail {
            quick_s: 5072.0,
            slow_s: 4529.0,
            diffusion_J_mol: 44_441.0,
            branch2_s: 29.36,
            branch2_J_mol: 8708.0,
            knee_soc: 0.321,
            kinetic_share: 0.94,
            ..nickel
        },
        "nmc811_21700_okane" => Tail {
            quick_s: 263.7,
            slow_s: 7233.0,
            diffusion_J_mol: 27_765.0,
            branch2_s: 14.11,
            branch2_J_mol: 14_900.0,
            knee_soc: 0.157,
            kinetic_share: 0.74,
            ..nickel
        },
        "nca_pouch_kim" => Tail {
            quick_s: 890.0,
            slow_s: 131.8,
            diffusion_J_mol: 20_310.0,
            branch2_s: 40.0,
            branch2_J_mol: 19_441.0,
            knee_soc: 0.10,
            kinetic_share: 0.58,
            ..nickel
        },
        "lco_pouch_ai" => {
            Tail { branch2_J_mol: 44_036.0, diffusion_J_mol: 2117.0, ..Tail::of(Chemistry::Cobalt) }
        }
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
