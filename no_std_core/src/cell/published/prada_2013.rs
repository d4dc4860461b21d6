//! LFP / graphite, 26650, 2.3 Ah. The set has no hysteresis, which real iron phosphate has.
//!
//! Source of the parameters: E. Prada, D. Di Domenico, Y. Creff, J. Bernard, V. Sauvant-Moynot, F. Huet, "A simplified
//! electrochemical and thermal aging model of LiFePO4-graphite Li-ion batteries: power and
//! capacity fade simulations", J. Electrochem. Soc. 160 (2013) A616, doi:10.1149/2.053304jes.
//! Tables computed from that set with the library PyBaMM (equilibrium of both electrodes, and a
//! 1C pulse of a rested cell); they are a fit of the paper, not a measurement of a cell of yours.

use super::{PublishedCell, Pulses, STEPS_OF_CHARGE, charges, ohms, volts};
use crate::units::Celsius;

/// LFP / graphite, 26650, 2.3 Ah. The set has no hysteresis, which real iron phosphate has.
pub const PRADA_2013: PublishedCell = PublishedCell {
    key: "prada-2013-lfp-26650",
    capacity_mah: 2303,
    lowest_mv: 2000,
    highest_mv: 3600,
    soc: &STEPS_OF_CHARGE,
    resting: &[(Celsius::from_whole(25), &volts(RESTING_25))],
    pulses: Pulses {
        soc: &charges([1000, 3000, 5000, 7000, 9000]),
        temperatures: &[0, 10, 25, 40],
        one_second: &ohms(ONE_SECOND),
        ten_seconds: &ohms(TEN_SECONDS),
    },
};

/// Resting voltage at 25 °C in steps of 10 µV.
const RESTING_25: [i32; 116] = [
    200000, 214304, 226547, 237028, 246002, 253689, 260276, 265925, 270773, 274942, 278532, 281634,
    284325, 286672, 288737, 290572, 292225, 293739, 295152, 296499, 297809, 300414, 303082, 305799,
    308433, 310803, 312773, 314303, 315436, 316254, 316849, 317296, 317654, 317967, 318265, 318570,
    318898, 319259, 319660, 320101, 320582, 321095, 321630, 322175, 322715, 323236, 323727, 324178,
    324583, 324940, 325250, 325515, 325739, 325927, 326084, 326214, 326323, 326413, 326487, 326550,
    326603, 326648, 326687, 326720, 326750, 326776, 326800, 326823, 326843, 326863, 326882, 326901,
    326921, 326942, 326967, 326996, 327033, 327083, 327153, 327255, 327403, 327615, 327908, 328291,
    328753, 329257, 329750, 330183, 330529, 330786, 330969, 331095, 331182, 331242, 331286, 331318,
    331343, 331365, 331383, 331400, 331417, 331433, 331452, 331479, 331527, 331639, 331749, 331931,
    332233, 332738, 333587, 335017, 337430, 341502, 348380, 360000,
];

/// Resistance after ten seconds in µΩ: 10, 30, 50, 70, 90 % at 0, then 10, 25 and 40 °C.
const TEN_SECONDS: [i32; 20] = [
    100102, 61787, 54501, 54942, 56540, 90351, 51847, 44503, 44844, 46086, 76562, 38218, 31024,
    31324, 32182, 64191, 27091, 20444, 20792, 21167,
];

/// Resistance after one second in µΩ, in the same order.
const ONE_SECOND: [i32; 20] = [
    68696, 56828, 53595, 53889, 56676, 58886, 46870, 43582, 43775, 46193, 45062, 33229, 30071,
    30204, 32214, 32818, 22120, 19443, 19573, 21044,
];
