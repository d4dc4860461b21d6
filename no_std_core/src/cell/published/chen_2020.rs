//! NMC811 / graphite-SiOx, 21700, 5 Ah. Only the reaction rates of the set move with
//! temperature, so its resistance in the cold is on the low side.
//!
//! Source of the parameters: C.-H. Chen, F. Brosa Planella, K. O'Regan, D. Gastol, W. D. Widanage, E. Kendrick,
//! "Development of Experimental Techniques for Parameterization of Multi-scale Lithium-ion
//! Battery Models", J. Electrochem. Soc. 167 (2020) 080534, doi:10.1149/1945-7111/ab9050.
//! Tables computed from that set with the library PyBaMM (equilibrium of both electrodes, and a
//! 1C pulse of a rested cell); they are a fit of the paper, not a measurement of a cell of yours.

use super::{PublishedCell, Pulses, STEPS_OF_CHARGE, charges, ohms, volts};
use crate::units::Celsius;

/// NMC811 / graphite-SiOx, 21700, 5 Ah. Only the reaction rates of the set move with
/// temperature, so its resistance in the cold is on the low side.
pub const CHEN_2020: PublishedCell = PublishedCell {
    key: "chen-2020-nmc811-21700",
    capacity_mah: 5153,
    lowest_mv: 2500,
    highest_mv: 4200,
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
    250000, 261464, 271143, 279324, 286249, 292123, 297119, 301383, 305040, 308196, 310945, 313365,
    315529, 317498, 319328, 321069, 322763, 324443, 326135, 327851, 329591, 333074, 336368, 339241,
    341573, 343389, 344798, 345922, 346868, 347715, 348519, 349317, 350136, 350993, 351898, 352856,
    353864, 354913, 355988, 357072, 358145, 359190, 360193, 361148, 362051, 362905, 363715, 364490,
    365240, 365973, 366701, 367431, 368174, 368935, 369722, 370540, 371390, 372274, 373188, 374128,
    375087, 376056, 377024, 377981, 378920, 379835, 380722, 381581, 382417, 383238, 384058, 384895,
    385777, 386734, 387793, 388959, 390201, 391455, 392655, 393766, 394791, 395751, 396676, 397588,
    398503, 399430, 400373, 401330, 402296, 403259, 404208, 405125, 405991, 406786, 407491, 408091,
    408578, 408955, 409239, 409461, 409666, 409909, 410250, 410745, 411437, 412355, 412902, 413507,
    414168, 414881, 415643, 416449, 417293, 418170, 419075, 420000,
];

/// Resistance after ten seconds in µΩ: 10, 30, 50, 70, 90 % at 0, then 10, 25 and 40 °C.
const TEN_SECONDS: [i32; 20] = [
    51826, 42199, 41804, 41786, 40824, 46599, 37005, 36642, 36636, 35680, 39326, 29877, 29597,
    29588, 28564, 32870, 23871, 23771, 23719, 22418,
];

/// Resistance after one second in µΩ, in the same order.
const ONE_SECOND: [i32; 20] = [
    43340, 37931, 36824, 37175, 38925, 38125, 32741, 31659, 32019, 33777, 30851, 25583, 24569,
    24923, 26620, 24358, 19483, 18625, 18927, 20360,
];
