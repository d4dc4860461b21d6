use std::string::ToString;
use std::vec::Vec;

use super::*;
use crate::cell::published::CHEN_2020;
use crate::units::{Kilograms, Metres};

/// A board of published cells: 10 in series, 3 in parallel.
pub(crate) fn described() -> Description {
    Description {
        cell: Cell {
            capacity: CHEN_2020.capacity(),
            lowest: Volts::from_milli(2500),
            highest: Volts::from_milli(4200),
            resting: CHEN_2020.resting_curve().unwrap(),
            resistance: CHEN_2020.resistance_map().unwrap(),
            max_discharge: Amperes::from_whole(15),
            max_charge: Amperes::from_whole(5),
            curve_doubt: Cell::CURVE_DOUBT,
        },
        pack: Pack {
            series: 10,
            parallel: 3,
            soften_below: Volts::from_whole(32),
            stop_below: Volts::from_whole(30),
            discharge_through_protection: false,
            spread: Pack::SPREAD,
        },
        vehicle: Vehicle {
            mass: Kilograms::from_whole(90),
            wheel_diameter: Metres::from_milli(110),
            rolling_resistance: Ratio::from_fraction(2, 100),
            drag_area_m2: Ratio::from_percent(60),
            drivetrain_efficiency: Ratio::from_percent(75),
            consumption_per_metre: None,
        },
        sensors: Sensors::TYPICAL,
        assumed_temperature: Celsius::from_whole(20),
    }
}

fn lines(described: Description) -> Vec<std::string::String> {
    Board::new(described).unwrap_err().to_string().lines().map(ToString::to_string).collect()
}

#[test]
fn all_faults_are_told_at_once_with_value_and_range() {
    let mut bad = described();
    bad.cell.capacity = Coulombs::from_whole(-3600);
    bad.pack.series = 0;
    bad.pack.soften_below = Volts::from_whole(29);
    assert_eq!(
        lines(bad),
        [
            "cell.capacity_Ah is -1; 0.01 to 1000 is allowed",
            "pack.series is 0; 1 to 60 is allowed",
            "pack.soften_below_V is 29; it has to be above pack.stop_below_V, which is 30",
        ]
    );
}

#[test]
fn a_stop_voltage_of_another_pack_is_refused() {
    let mut bad = described();
    bad.pack.soften_below = Volts::from_whole(48);
    bad.pack.stop_below = Volts::from_whole(20);
    assert_eq!(
        lines(bad),
        [
            "pack.soften_below_V is 48; 22.5 to 42 is allowed for this many of these cells in series",
            "pack.stop_below_V is 20; 22.5 to 42 is allowed for this many of these cells in series",
        ]
    );
}

#[test]
fn a_voltage_beyond_the_curve_is_refused() {
    let mut bad = described();
    bad.cell.highest = Volts::from_milli(4350);
    assert_eq!(lines(bad), ["cell.highest_V is 4.35; the resting-voltage curve ends at 4.2"]);
}

#[test]
fn narrower_voltages_cut_the_curve() {
    let mut narrow = described();
    narrow.cell.lowest = Volts::from_milli(3000);
    let board = Board::new(narrow).unwrap();
    let empty = board.cell().resting.at(Celsius::from_whole(25)).voltage(Ratio::ZERO);
    assert!((empty.to_f64() - 3.0).abs() < 0.002, "{empty}");
}

#[test]
fn source_the_prior_consumption_is_that_of_the_road_load_equation() {
    // Source: road load at 20 km/h, 90 kg, rolling resistance 0.02, drag area 0.60 m², in air of
    // 1.225 kg/m³: 28.99 N (standard equation, computed); here with air of 1.2.
    // Starts, stops, hills and wind ask for a tenth more; the road load itself is the source's.
    let wanted = 1.1 * (0.02 * 90.0 * 9.80665 + 0.5 * 1.2 * 0.60 * (20.0_f64 / 3.6).powi(2)) / 0.75;
    let got = Board::new(described()).unwrap().prior_consumption().to_f64();
    assert!(
        (got - wanted).abs() < 0.01 && (wanted / 1.1 * 0.75 - 28.76).abs() < 0.01,
        "{got} {wanted}"
    );
}

#[test]
fn every_key_that_has_a_unit_ends_with_it_and_no_two_are_alike() {
    let mut names: Vec<_> = Quantity::ALL.iter().map(ToString::to_string).collect();
    names.sort();
    names.dedup();
    assert_eq!(names.len(), Quantity::ALL.len());
    for quantity in Quantity::ALL {
        assert!(quantity.bounds().lowest < quantity.bounds().highest, "{quantity}");
    }
}
