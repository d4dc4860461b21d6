//! Telemetry that says what cannot be: another pack's voltage, a flood of current, a speed of sound.

use rand::Rng as _;
use rand_chacha::ChaCha8Rng;

use crate::ride::Measured;

/// Puts one absurd value in the place of a true one, another each time.
pub(super) fn spoil(measured: &mut Measured, numbers: &mut ChaCha8Rng) {
    match numbers.next_u32() % 8 {
        0 => measured.pack_voltage_V = Some(0.0),
        1 => measured.pack_voltage_V = Some(900.0),
        2 => measured.pack_current_A = Some(4000.0),
        3 => measured.pack_current_A = Some(-4000.0),
        4 => measured.speed_m_s = Some(99.0),
        5 => measured.cell_temperature_degC = Some(-79.0),
        6 => measured.motor_temperature_degC = Some(399.0),
        _ => measured.charge_drawn_Ah = Some(-90_000.0),
    }
}
