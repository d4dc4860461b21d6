//! NCA / graphite, small pouch, 0.48 Ah.
//!
//! Source of the parameters: G.-H. Kim, K. Smith, K.-J. Lee, S. Santhanagopalan, A. Pesaran, "Multi-domain modeling of
//! lithium-ion batteries encompassing multi-physics in varied length scales", J. Electrochem.
//! Soc. 158 (2011) A955-A969, doi:10.1149/1.3597614.
//! Tables computed from that set with the library PyBaMM (equilibrium of both electrodes, and a
//! 1C pulse of a rested cell); they are a fit of the paper, not a measurement of a cell of yours.

use super::{PublishedCell, Pulses, STEPS_OF_CHARGE, charges, ohms, volts};
use crate::units::Celsius;

/// NCA / graphite, small pouch, 0.48 Ah.
pub const KIM_2011: PublishedCell = PublishedCell {
    key: "kim-2011-nca-pouch",
    capacity_mah: 483,
    lowest_mv: 2700,
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
    270000, 290170, 301269, 307790, 311810, 314386, 316100, 317290, 318158, 318832, 319390, 319887,
    320358, 320825, 321307, 321811, 322343, 322903, 323488, 324094, 324713, 325974, 327239, 328496,
    329746, 330992, 332237, 333482, 334726, 335968, 337207, 338441, 339669, 340890, 342103, 343307,
    344502, 345687, 346862, 348025, 349177, 350316, 351442, 352552, 353645, 354720, 355775, 356810,
    357823, 358813, 359780, 360725, 361649, 362552, 363435, 364302, 365154, 365993, 366821, 367642,
    368457, 369268, 370079, 370890, 371705, 372525, 373352, 374189, 375037, 375900, 376781, 377685,
    378615, 379579, 380582, 381628, 382721, 383858, 385030, 386222, 387415, 388593, 389743, 390860,
    391944, 392999, 394031, 395045, 396047, 397039, 398026, 399010, 399993, 400977, 401963, 402953,
    403949, 404952, 405965, 406989, 408027, 409081, 410156, 411255, 412381, 413539, 414131, 414734,
    415347, 415971, 416608, 417257, 417920, 418598, 419291, 420000,
];

/// Resistance after ten seconds in µΩ: 10, 30, 50, 70, 90 % at 0, then 10, 25 and 40 °C.
const TEN_SECONDS: [i32; 20] = [
    91917, 75832, 72157, 80636, 83191, 71050, 59503, 56748, 64440, 66439, 51534, 44038, 41968,
    48611, 49977, 39768, 34536, 32750, 38537, 39432,
];

/// Resistance after one second in µΩ, in the same order.
const ONE_SECOND: [i32; 20] = [
    66838, 55462, 52781, 53903, 54885, 49039, 41204, 39491, 40793, 41624, 32799, 28061, 27142,
    28498, 29159, 23384, 20314, 19784, 21073, 21605,
];
