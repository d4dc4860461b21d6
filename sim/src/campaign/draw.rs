//! What differs from ride to ride: boards, riders, weather, packs, sensors and radio.
//!
//! Used by `campaign`: a seed and a number make a day. All spans are common practice, no source:
//! what a builder's figures are off by, what a year's weather brings, what a pack is worn to
//! (80 % is where makers call a cell's life over).

use rand_chacha::ChaCha8Rng;

use super::town::span;
use crate::board_file::BoardFile;
use crate::plant::radio::RadioSettings;
use crate::plant::rider::RiderSettings;
use crate::random::{Purpose, normal, stream};
use crate::scenario::{AirOfDay, PackOfDay, Scenario, VehicleOfDay, WeldOfDay, silent_sensors};
use crate::sensors::SensorSettings;

/// The rider that a board file's mass is taken to be with. Common practice, no source.
const USUAL_RIDER_KG: f64 = 75.0;

/// Resistance grows by this much for each share of capacity lost: a cell at 80 % has some 1.6
/// times its resistance.
const GROWS_PER_LOST: f64 = 3.0;

/// The day of a seed on a board.
#[must_use]
pub fn day(seed: u64, board: &BoardFile) -> Scenario {
    let numbers = &mut stream(seed, Purpose::Day);
    Scenario {
        name: format!("drawn, seed {seed}"),
        air: air(numbers),
        pack: pack(numbers),
        vehicle: vehicle(numbers, board),
        rider: RiderSettings {
            reaction_s: span(numbers, 0.25, 0.6),
            brakes_with_m_s2: span(numbers, 0.8, 1.5),
            haste: span(numbers, 0.85, 1.1),
            tremble: span(numbers, 0.005, 0.03),
        },
        sensors: sensors(numbers),
        cell_voltages: one_in(numbers, 4.0),
        radio: radio(numbers),
        weld: weld(numbers, board),
    }
}

/// An earlier day of the same board, pack and rider: other weather, another charge, nothing breaks.
#[must_use]
pub(super) fn day_before(seed: u64, of: &Scenario) -> Scenario {
    let numbers = &mut stream(seed, Purpose::Day);
    let air = air(numbers);
    let pack = PackOfDay { charge: span(numbers, 0.6, 1.0), ..of.pack };
    Scenario { name: format!("{}, before", of.name), air, pack, weld: None, ..of.clone() }
}

fn one_in(numbers: &mut ChaCha8Rng, of: f64) -> bool {
    span(numbers, 0.0, of) < 1.0
}

fn air(numbers: &mut ChaCha8Rng) -> AirOfDay {
    AirOfDay {
        temperature_degC: span(numbers, -5.0, 35.0),
        pressure_Pa: span(numbers, 95_000.0, 103_000.0),
        headwind_m_s: 0.0,
        wind_m_s: span(numbers, 0.0, 7.0),
        wind_from_deg: span(numbers, 0.0, 360.0),
    }
}

fn pack(numbers: &mut ChaCha8Rng) -> PackOfDay {
    let capacity_share = span(numbers, 0.8, 1.0);
    let wear = 1.0 + GROWS_PER_LOST * (1.0 - capacity_share);
    let in_a_house = one_in(numbers, 2.0);
    let indoors_degC = span(numbers, 14.0, 24.0);
    PackOfDay {
        charge: span(numbers, 0.6, 1.0),
        capacity_share,
        resistance_share: wear * span(numbers, 0.92, 1.12),
        capacity_spread: span(numbers, 0.003, 0.02),
        resistance_spread: span(numbers, 0.01, 0.06),
        charge_spread: span(numbers, 0.001, 0.008),
        curve_shift: (0.01 * normal(numbers)).clamp(-0.03, 0.03),
        temperature_degC: in_a_house.then_some(indoors_degC),
    }
}

fn vehicle(numbers: &mut ChaCha8Rng, board: &BoardFile) -> VehicleOfDay {
    let told = board.board.vehicle();
    // The file's mass is with a rider of 75 kg; today's has 50 to 110 kg. Of a board too light for
    // that, a load that differs in proportion.
    let told_kg = told.mass.to_f64();
    let rider_kg = span(numbers, 50.0, 110.0);
    let mass_kg = Some(if told_kg > 1.1 * USUAL_RIDER_KG {
        told_kg - USUAL_RIDER_KG + rider_kg
    } else {
        (told_kg * rider_kg / USUAL_RIDER_KG).clamp(1.0, 1000.0)
    });
    // What a board file may say bounds what can be true of it.
    let mut around = |told: f64, (least, most): (f64, f64), (lowest, highest): (f64, f64)| {
        Some((told * span(numbers, least, most)).clamp(lowest, highest))
    };
    VehicleOfDay {
        mass_kg,
        rolling_resistance: around(told.rolling_resistance.to_f64(), (0.8, 1.3), (0.0005, 0.3)),
        drag_area_m2: around(told.drag_area_m2.to_f64(), (0.85, 1.2), (0.01, 5.0)),
        drivetrain_efficiency: around(
            told.drivetrain_efficiency.to_f64(),
            (0.93, 1.05),
            (0.05, 1.0),
        ),
        wheel_share: around(1.0, (0.94, 1.0), (0.5, 1.2)),
    }
}

fn sensors(numbers: &mut ChaCha8Rng) -> SensorSettings {
    SensorSettings {
        charge_counter: one_in(numbers, 2.0),
        drop_temperature: one_in(numbers, 5.0),
        ..silent_sensors()
    }
}

fn radio(numbers: &mut ChaCha8Rng) -> RadioSettings {
    match span(numbers, 0.0, 1.0) {
        part if part < 0.1 => RadioSettings::Perfect {},
        part if part < 0.55 => RadioSettings::GilbertElliott {
            worsens: span(numbers, 0.002, 0.03),
            recovers: span(numbers, 0.1, 0.6),
            loss_in_good: span(numbers, 0.0, 0.02),
            loss_in_bad: 1.0,
        },
        _ => RadioSettings::HeavyTail {
            bursts_per_hour: span(numbers, 6.0, 120.0),
            shape: span(numbers, 1.1, 2.0),
            shortest_s: span(numbers, 0.04, 0.3),
            longest_s: 20.0,
            loss_in_good: span(numbers, 0.0, 0.03),
        },
    }
}

fn weld(numbers: &mut ChaCha8Rng, board: &BoardFile) -> Option<WeldOfDay> {
    let pack = board.board.pack();
    let lets_go = one_in(numbers, 30.0) && pack.parallel > 1;
    let at_s = span(numbers, 60.0, 900.0);
    let place = span(numbers, 0.0, f64::from(pack.series));
    // Rounded down to a group that there is.
    let group = (0..usize::from(pack.series)).rev().find(|&group| below(group) <= place)?;
    lets_go.then_some(WeldOfDay { at_s, group, cells: 1 })
}

fn below(group: usize) -> f64 {
    u32::try_from(group).map_or(0.0, f64::from)
}
