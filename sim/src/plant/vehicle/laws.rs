//! What holds for every ride, whatever is commanded.

use proptest::prelude::*;

use super::tests::{board, vehicle};
use super::{Parts, Vehicle};
use crate::plant::road::Road;
use crate::plant::source::Source;
use crate::plant::{MotorSheet, STEP_S, complete};

/// A stretch of a ride in which nothing changes.
#[derive(Clone, Copy, Debug)]
struct Leg {
    command: Option<f64>,
    foot_N: f64,
    road: Road,
    source: Source,
    steps: u32,
}

fn road() -> impl Strategy<Value = Road> {
    (-0.3..0.3, 0.03..1.0, 0.5..2.0, -12.0..12.0, 0.9..1.4).prop_map(
        |(grade, friction, rolling_factor, headwind_m_s, air_density_kg_m3)| Road {
            grade,
            friction,
            rolling_factor,
            headwind_m_s,
            air_density_kg_m3,
        },
    )
}

fn source() -> impl Strategy<Value = Source> {
    prop_oneof![
        8 => (28.0..42.5, 0.02..0.3),
        // A dead pack, a weak one, and one whose switch is open.
        1 => (0.0..10.0, 0.0..2.0),
        1 => (30.0..42.0, 100.0..100_000.0),
    ]
    .prop_map(|(emf_V, resistance_ohm)| Source { emf_V, resistance_ohm })
}

fn leg() -> impl Strategy<Value = Leg> {
    let command = prop_oneof![
        6 => (-1.0..1.0).prop_map(Some),
        2 => Just(Some(-1.0)),
        2 => Just(Some(1.0)),
        1 => Just(Some(0.0)),
        2 => Just(None),
    ];
    let foot = prop_oneof![4 => Just(0.0), 1 => 0.0..300.0];
    (command, foot, road(), source(), 1_u32..600).prop_map(
        |(command, foot_N, road, source, steps)| Leg { command, foot_N, road, source, steps },
    )
}

fn boards() -> impl Strategy<Value = Parts> {
    (30.0..150.0, 0.5..5.0, 0.06..0.3, 4.0..12.0, 1_u8..3).prop_map(
        |(mass_kg, full_current_m_s2, wheel_diameter_m, top_speed_m_s, count)| {
            let sheet = MotorSheet { count: Some(count), ..MotorSheet::default() };
            let board = crate::plant::BoardSheet {
                mass_kg,
                full_current_m_s2,
                wheel_diameter_m,
                top_speed_m_s,
                ..board()
            };
            complete(&board, &sheet).unwrap().parts
        },
    )
}

/// Sum of all sizes that were booked: what rounding and a relative tolerance refer to.
fn turned_over_J(vehicle: &Vehicle) -> f64 {
    let l = vehicle.ledger();
    [l.battery_J, l.kinetic_J, l.potential_J, l.air_J, l.rolling_J, l.gear_J, l.copper_J]
        .iter()
        .chain(&[l.iron_J, l.controller_J, l.slip_J, l.foot_brake_J])
        .map(|joules| joules.abs())
        .sum()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn law_the_battery_gives_what_all_kinds_took(
        parts in boards(), start_m_s in -5.0..12.0, legs in prop::collection::vec(leg(), 1..12),
    ) {
        let mut vehicle = Vehicle::new(parts).unwrap().at_speed(start_m_s);
        for leg in legs {
            for _ in 0..leg.steps {
                let before = *vehicle.ledger();
                vehicle.step(leg.command, leg.foot_N, leg.source, &leg.road);
                let after = vehicle.ledger();
                // Second law: heat is never taken back. A joule's billionth is rounding.
                for (less, more) in [
                    (before.rolling_J, after.rolling_J), (before.gear_J, after.gear_J),
                    (before.copper_J, after.copper_J), (before.iron_J, after.iron_J),
                    (before.controller_J, after.controller_J), (before.slip_J, after.slip_J),
                    (before.foot_brake_J, after.foot_brake_J),
                ] {
                    prop_assert!(more >= less - 1e-9, "{before:?} {after:?}");
                }
            }
            // A billionth: only rounding of some thousand sums may be left.
            let unexplained_J = vehicle.ledger().unexplained_J();
            prop_assert!(
                unexplained_J.abs() <= 1e-9 * turned_over_J(&vehicle) + 1e-9,
                "{unexplained_J} J of {:?}", vehicle.ledger()
            );
        }
    }

    #[test]
    fn law_no_state_leaves_its_physical_range(
        parts in boards(), legs in prop::collection::vec(leg(), 1..20),
    ) {
        let mut vehicle = Vehicle::new(parts).unwrap();
        let mass_kg = parts.body.mass_kg();
        for leg in legs {
            for _ in 0..leg.steps {
                let speed_before = vehicle.speed_m_s();
                let drawn = vehicle.step(leg.command, leg.foot_N, leg.source, &leg.road);
                // Foot, weight, grip, rolling, and the air at the speed before and some more.
                let through_m_s = speed_before.abs() + 12.0 + 1.0;
                let greatest_N = leg.foot_N
                    + mass_kg * crate::plant::GRAVITY_M_S2 * (1.0 + leg.road.friction + 0.1)
                    + 0.5 * 1.4 * parts.body.drag_area_m2 * through_m_s * through_m_s;
                let change_m_s = (vehicle.speed_m_s() - speed_before).abs();
                prop_assert!(change_m_s <= greatest_N / mass_kg * STEP_S, "jumped {change_m_s}");
                // 150 kg down a grade of 0.3 through thin air, with 12 m/s from behind: 51 m/s.
                prop_assert!(vehicle.speed_m_s().abs() < 55.0);
                prop_assert!(vehicle.wheel_speed_m_s().abs() < 55.0);
                prop_assert!((15.0..400.0).contains(&vehicle.winding_degC()));
                prop_assert!((15.0..400.0).contains(&vehicle.case_degC()));
                prop_assert!(drawn.battery_current_A.is_finite());
                prop_assert!(drawn.battery_voltage_V.is_finite());
                prop_assert!(drawn.motor_current_A.is_finite());
                let most_A = leg.source.emf_V / (2.0 * leg.source.resistance_ohm.max(1e-9));
                prop_assert!(drawn.battery_current_A <= most_A * (1.0 + 1e-9));
            }
        }
    }

    #[test]
    fn law_the_battery_is_never_asked_for_more_than_the_limit(
        parts in boards(), legs in prop::collection::vec(leg(), 1..10),
    ) {
        let mut vehicle = Vehicle::new(parts).unwrap();
        for leg in legs {
            for _ in 0..leg.steps {
                let drawn = vehicle.step(leg.command, leg.foot_N, leg.source, &leg.road);
                // Standby alone may pass it, but not 30 A of it.
                prop_assert!(drawn.battery_current_A <= 30.0 * (1.0 + 1e-9));
                let limit_V = parts.controller.undervoltage.none;
                if leg.source.emf_V > limit_V {
                    prop_assert!(drawn.battery_voltage_V > limit_V * (1.0 - 1e-9)
                        || drawn.battery_current_A * drawn.battery_voltage_V
                            <= parts.controller.idle_W * (1.0 + 1e-9));
                }
            }
        }
    }

    #[test]
    fn law_a_brake_never_moves_the_board_backwards_on_the_level(
        parts in boards(), start_m_s in 0.0..9.0, brake in 0.0..1.0_f64, foot_N in 0.0..100.0,
        friction in 0.03..1.0, source in source(),
    ) {
        let mut vehicle = Vehicle::new(parts).unwrap().at_speed(start_m_s);
        let road = Road { friction, ..Road::default() };
        for _ in 0..2000 {
            vehicle.step(Some(0.0 - brake), foot_N, source, &road);
            prop_assert!(vehicle.speed_m_s() >= 0.0);
            prop_assert!(vehicle.wheel_speed_m_s() >= 0.0);
        }
    }

    #[test]
    fn law_silence_never_starts_or_strengthens_anything(
        command in -1.0..1.0, steps in 1_u32..400,
    ) {
        let mut vehicle = vehicle();
        let source = Source { emf_V: 37.0, resistance_ohm: 0.1 };
        vehicle.step(Some(command), 0.0, source, &Road::default());
        let mut last = vehicle.applied_share();
        for _ in 0..steps {
            vehicle.step(None, 0.0, source, &Road::default());
            let share = vehicle.applied_share();
            prop_assert!(share.abs() <= last.abs() && share * command >= 0.0);
            last = share;
        }
    }
}
