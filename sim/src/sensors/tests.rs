use proptest::prelude::*;

use super::*;
use crate::ride::Column;

/// A ride of `rows` rows in which every column has a value that changes.
fn exact_ride(rows: u32, step_s: f64) -> impl Iterator<Item = RideRow> {
    (0..rows).map(move |step| {
        let time_s = f64::from(step) * step_s;
        let mut row = RideRow::at(time_s);
        let wave = (time_s / 20.0).sin();
        row.measured.pack_voltage_V = Some(36.0 - wave);
        row.measured.pack_current_A = Some(5.0 + 4.0 * wave);
        row.measured.cell_voltage_min_V = Some(3.6 - 0.1 * wave);
        row.measured.cell_temperature_degC = Some(20.0 + time_s / 1000.0);
        row.measured.speed_m_s = Some(5.0 + wave);
        row.measured.distance_m = Some(5.0 * time_s);
        row.measured.elevation_m = Some(wave);
        row.measured.thumb = Some(0.5 * wave);
        row.true_soc = Some(0.9 - time_s / 1e5);
        row
    })
}

fn sensed(settings: &SensorSettings, seed: u64, rows: u32, step_s: f64) -> Vec<RideRow> {
    let sensors = Sensors::new(settings, seed).unwrap();
    sensors.apply(exact_ride(rows, step_s)).collect()
}

fn bits(rows: &[RideRow]) -> Vec<Option<u64>> {
    rows.iter()
        .flat_map(|row| Column::ALL.map(|column| row.value(column).map(f64::to_bits)))
        .collect()
}

#[test]
fn the_same_seed_gives_the_same_bits_and_another_others() {
    let settings = SensorSettings { charge_counter: true, ..SensorSettings::default() };
    let first = bits(&sensed(&settings, 11, 20_000, 0.05));
    assert_eq!(first, bits(&sensed(&settings, 11, 20_000, 0.05)));
    assert_ne!(first, bits(&sensed(&settings, 12, 20_000, 0.05)));
}

#[test]
fn turning_one_fault_off_changes_no_other() {
    let base = SensorSettings::default();
    let quiet = SensorSettings { current_noise_sd_A: 0.0, drop_temperature: true, ..base.clone() };
    let with = sensed(&base, 5, 20_000, 0.05);
    let without = sensed(&quiet, 5, 20_000, 0.05);
    assert_eq!(with.len(), without.len());
    for (a, b) in with.iter().zip(&without) {
        for column in [Column::Time, Column::PackVoltage, Column::Speed, Column::LinkOk] {
            assert_eq!(a.value(column), b.value(column));
        }
        assert_eq!(b.measured.cell_temperature_degC, None);
    }
}

#[test]
fn exact_sensors_hand_on_exact_rows() {
    let settings =
        SensorSettings { telemetry_rate_Hz: Span::exactly(1000.0), ..SensorSettings::exact() };
    let exact: Vec<_> = exact_ride(1000, 0.01).collect();
    assert_eq!(sensed(&settings, 3, 1000, 0.01), exact);
}

/// What a setting is called, how it is set, and the columns that it alone may change.
type Spoils = (&'static str, fn(&mut SensorSettings), &'static [Column]);

#[test]
fn each_setting_spoils_its_own_columns_and_no_other() {
    let every_row =
        SensorSettings { telemetry_rate_Hz: Span::exactly(1000.0), ..SensorSettings::exact() };
    let voltages = &[Column::PackVoltage, Column::CellVoltageMin];
    let current = &[Column::PackCurrent];
    let cases: [Spoils; 14] = [
        ("current_gain_sd", |s| s.current_gain_sd = 0.01, current),
        ("current_offset_sd_A", |s| s.current_offset_sd_A = 0.05, current),
        ("current_noise_sd_A", |s| s.current_noise_sd_A = 0.1, current),
        ("current_step_A", |s| s.current_step_A = 0.1, current),
        ("voltage_gain_sd", |s| s.voltage_gain_sd = 0.002, voltages),
        ("voltage_noise_sd_V", |s| s.voltage_noise_sd_V = 0.02, &voltages[..1]),
        ("voltage_step_V", |s| s.voltage_step_V = 0.1, &voltages[..1]),
        ("cell_voltage_noise_sd_V", |s| s.cell_voltage_noise_sd_V = 0.01, &voltages[1..]),
        ("cell_voltage_step_V", |s| s.cell_voltage_step_V = 0.001, &voltages[1..]),
        (
            "temperature_offset_sd_K",
            |s| s.temperature_offset_sd_K = 1.5,
            &[Column::CellTemperature],
        ),
        ("temperature_step_K", |s| s.temperature_step_K = 1.0, &[Column::CellTemperature]),
        ("drop_temperature", |s| s.drop_temperature = true, &[Column::CellTemperature]),
        ("speed_gain_sd", |s| s.speed_gain_sd = 0.02, &[Column::Speed, Column::Distance]),
        ("charge_counter", |s| s.charge_counter = true, &[Column::ChargeDrawn]),
    ];
    let exact: Vec<_> = exact_ride(500, 0.1).collect();
    for (name, set, spoiled) in cases {
        let mut settings = every_row.clone();
        set(&mut settings);
        let rows = sensed(&settings, 17, 500, 0.1);
        for column in Column::ALL {
            let same = rows.iter().zip(&exact).all(|(a, b)| a.value(column) == b.value(column));
            assert_eq!(same, !spoiled.contains(&column), "{name}: {column}");
        }
    }
}

#[test]
fn rows_are_those_of_the_ride_with_thumb_and_truth_untouched() {
    let mut exact = exact_ride(50_000, 0.02);
    for row in sensed(&SensorSettings::default(), 8, 50_000, 0.02) {
        let time_s = row.measured.time_s;
        let original = exact.find(|exact| exact.measured.time_s >= time_s).unwrap();
        assert_eq!(row.measured.thumb, original.measured.thumb);
        assert_eq!(row.true_soc, original.true_soc);
    }
}

#[test]
fn a_lost_row_holds_nothing_that_comes_by_radio() {
    let rows = sensed(&SensorSettings::default(), 8, 50_000, 0.02);
    let lost: Vec<_> = rows.iter().filter(|row| !row.measured.link_ok).collect();
    assert!(!lost.is_empty());
    for row in lost {
        for column in Column::ALL {
            assert_eq!(row.value(column).is_none(), column.comes_by_link(), "{column}");
        }
    }
}

#[test]
fn a_row_that_was_lost_before_stays_lost() {
    let mut row = RideRow::at(0.0);
    row.measured.pack_voltage_V = Some(36.0);
    row.measured.link_ok = false;
    let mut sensors = Sensors::new(&SensorSettings::exact(), 1).unwrap();
    assert_eq!(sensors.sense(row.clone()).unwrap().measured, row.measured.lost());
}

#[test]
fn every_row_of_a_slow_log_arrives_or_is_lost() {
    assert_eq!(sensed(&SensorSettings::default(), 2, 3000, 10.0).len(), 3000);
}

#[test]
fn the_rate_of_rows_is_within_the_span_for_every_seed() {
    for seed in 0..30 {
        let rows = sensed(&SensorSettings::default(), seed, 10_000, 0.01).len();
        // 100 s at 5 to 10 Hz.
        assert!((499..=1001).contains(&rows), "seed {seed}: {rows}");
    }
}

#[test]
fn readings_stand_on_their_steps() {
    for row in sensed(&SensorSettings::default(), 6, 20_000, 0.02) {
        let readings = [
            (row.measured.pack_current_A, 10.0),
            (row.measured.pack_voltage_V, 10.0),
            (row.measured.cell_voltage_min_V, 1000.0),
            (row.measured.cell_temperature_degC, 1.0),
        ];
        for (reading, per_unit) in readings {
            if let Some(value) = reading {
                let on_step = (value * per_unit).round() / per_unit;
                assert!(value.total_cmp(&on_step).is_eq(), "{value}");
            }
        }
    }
}

#[test]
fn speed_and_distance_are_wrong_by_one_and_the_same_gain() {
    let settings = SensorSettings { speed_gain_sd: 0.02, ..SensorSettings::exact() };
    let mut gains = Vec::new();
    for row in sensed(&settings, 4, 5000, 0.02).iter().skip(1) {
        let time_s = row.measured.time_s;
        gains.push(row.measured.speed_m_s.unwrap() / (5.0 + (time_s / 20.0).sin()));
        gains.push(row.measured.distance_m.unwrap() / (5.0 * time_s));
    }
    let (low, high) = gains
        .iter()
        .fold((f64::MAX, f64::MIN), |(low, high), &gain| (low.min(gain), high.max(gain)));
    assert!(high - low < 1e-12 && (high - 1.0).abs() > 1e-4, "{low} {high}");
}

#[test]
fn without_the_setting_there_is_no_counter_even_if_the_ride_has_one() {
    let ride = exact_ride(100, 0.1).map(|mut row| {
        row.measured.charge_drawn_Ah = Some(1.0);
        row
    });
    let sensors = Sensors::new(&SensorSettings::exact(), 1).unwrap();
    for row in sensors.apply(ride) {
        assert_eq!(row.measured.charge_drawn_Ah, None);
    }
}

#[test]
fn the_counter_counts_the_wrong_current_through_every_loss() {
    let settings = SensorSettings {
        charge_counter: true,
        charge_counter_restarts_per_hour: 0.0,
        charge_counter_step_Ah: 0.0,
        current_offset_sd_A: 1.0,
        current_step_A: 0.5,
        single_loss: Span::exactly(0.3),
        bursts_per_hour: 60.0,
        ..SensorSettings::exact()
    };
    // The same sensors with nothing lost show what the far end saw.
    let all = SensorSettings {
        single_loss: Span::exactly(0.0),
        bursts_per_hour: 0.0,
        telemetry_rate_Hz: Span::exactly(1000.0),
        ..settings.clone()
    };
    let mut expected_Ah = 0.0;
    let mut seen = sensed(&all, 21, 36_000, 0.1).into_iter().peekable();
    let mut before: Option<RideRow> = None;
    let mut compared = 0;
    for row in sensed(&settings, 21, 36_000, 0.1) {
        while let Some(next) = seen.next_if(|next| next.measured.time_s <= row.measured.time_s) {
            if let Some(before) = before {
                let sum_A =
                    before.measured.pack_current_A.unwrap() + next.measured.pack_current_A.unwrap();
                expected_Ah +=
                    sum_A / 2.0 * (next.measured.time_s - before.measured.time_s) / 3600.0;
            }
            before = Some(next);
        }
        if let Some(shown_Ah) = row.measured.charge_drawn_Ah {
            assert!((shown_Ah - expected_Ah).abs() < 1e-9);
            compared += 1;
        }
    }
    assert!(compared > 1000);
    // 5 Ah went out; a counter without the sensor's offset would say so.
    assert!((expected_Ah - 5.0).abs() > 0.05, "{expected_Ah}");
}

#[test]
fn settings_that_make_no_sense_make_no_sensors() {
    let settings = SensorSettings { voltage_step_V: f64::INFINITY, ..SensorSettings::default() };
    assert!(Sensors::new(&settings, 1).is_err());
}

proptest! {
    #[test]
    fn law_time_increases_whatever_the_log_and_the_seed(
        seed: u64, steps in prop::collection::vec(0.001..20.0f64, 1..200)
    ) {
        let mut time_s = 0.0;
        let rows: Vec<_> = steps.iter().map(|step| { time_s += step; RideRow::at(time_s) }).collect();
        let sensors = Sensors::new(&SensorSettings::default(), seed).unwrap();
        let sensed: Vec<_> = sensors.apply(rows.into_iter()).collect();
        prop_assert!(!sensed.is_empty());
        prop_assert!(sensed.windows(2).all(|pair| pair[0].measured.time_s < pair[1].measured.time_s));
    }
}
