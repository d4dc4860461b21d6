//! NMC811 / graphite-SiOx, 21700, 5 Ah; diffusion moves with temperature.
//!
//! Source of the parameters: S. E. J. O'Kane, W. Ai, G. Madabattula, D. Alonso-Alvarez, R. Timms, V. Sulzer, J. S. Edge,
//! B. Wu, G. J. Offer, M. Marinescu, "Lithium-ion battery degradation: how to model it",
//! Phys. Chem. Chem. Phys. 24 (2022) 7909-7922, doi:10.1039/D2CP00417H.
//! Tables computed from that set with the library PyBaMM (equilibrium of both electrodes, and a
//! 1C pulse of a rested cell); they are a fit of the paper, not a measurement of a cell of yours.

use super::{PublishedCell, Pulses, STEPS_OF_CHARGE, charges, ohms, volts};
use crate::units::Celsius;

/// NMC811 / graphite-SiOx, 21700, 5 Ah; diffusion moves with temperature.
pub const O_KANE_2022: PublishedCell = PublishedCell {
    key: "okane-2022-nmc811-21700",
    capacity_mah: 5110,
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
    250000, 260445, 272033, 283714, 291541, 296976, 301519, 305695, 308213, 310428, 312916, 314979,
    317454, 317962, 320780, 322454, 324142, 325637, 327284, 329400, 331286, 334468, 337341, 339906,
    342055, 343909, 345739, 346713, 347449, 348026, 348555, 349235, 349827, 350630, 351818, 353154,
    354334, 355357, 356546, 357701, 358586, 359340, 360173, 360967, 361984, 362847, 363577, 364354,
    365352, 365914, 366565, 367659, 368248, 368959, 369735, 370721, 371327, 372230, 373296, 374164,
    374992, 376102, 377118, 378048, 378959, 379905, 380771, 381662, 382471, 383207, 384053, 384886,
    385618, 386437, 387282, 388719, 390085, 391533, 392638, 393689, 394602, 395517, 396352, 397239,
    398052, 399063, 400074, 401008, 402013, 402973, 403951, 404907, 405645, 406535, 407294, 407973,
    408452, 408832, 409047, 409347, 409647, 409862, 410143, 410616, 411248, 412147, 412663, 413213,
    413790, 414587, 415299, 416136, 417036, 418002, 419062, 420000,
];

/// Resistance after ten seconds in µΩ: 10, 30, 50, 70, 90 % at 0, then 10, 25 and 40 °C.
const TEN_SECONDS: [i32; 20] = [
    62369, 48366, 47597, 47648, 46263, 53239, 40511, 40173, 40160, 38925, 41479, 30618, 30524,
    30418, 29785, 31864, 22737, 22647, 22853, 22436,
];

/// Resistance after one second in µΩ, in the same order.
const ONE_SECOND: [i32; 20] = [
    48076, 42638, 41303, 41613, 43624, 40801, 35650, 34387, 34625, 36691, 31272, 26655, 25542,
    25652, 27731, 23231, 19354, 18474, 18450, 20317,
];
