use proptest::prelude::*;

use super::*;

fn row(value: f64) -> [Option<f64>; COUNT] {
    let mut values = [None; COUNT];
    values[Series::Current.place()] = Some(value);
    values
}

fn bins_of(rows: &[(f64, f64)]) -> Bins {
    let mut bins = Bins::new();
    for (time_s, value) in rows {
        bins.push(*time_s, &row(*value), false);
    }
    bins
}

proptest! {
    #[test]
    fn law_first_last_and_every_extreme_survive(
        steps in prop::collection::vec((0.0..900.0_f64, -80.0..80.0_f64), 1..4000)
    ) {
        let mut time_s = 1000.0;
        let rows: Vec<(f64, f64)> = steps
            .iter()
            .map(|(step_s, value)| {
                time_s += step_s;
                (time_s, *value)
            })
            .collect();
        let bins = bins_of(&rows);
        prop_assert!(bins.bins.len() <= MOST_BINS);

        let values = rows.iter().map(|(_, value)| *value);
        let low = values.clone().fold(f64::INFINITY, f64::min);
        let high = values.fold(f64::NEG_INFINITY, f64::max);
        prop_assert_eq!(bins.reach(Series::Current), Some((low, high)));

        let first = bins.iter().next().unwrap().extent(Series::Current).unwrap().first;
        let last = bins.iter().last().unwrap().extent(Series::Current).unwrap().last;
        let (start_s, first_value) = rows[0];
        let (end_s, last_value) = rows[rows.len() - 1];
        prop_assert_eq!(first, Point { time_s: 0.0, value: first_value });
        prop_assert_eq!(last, Point { time_s: end_s - start_s, value: last_value });

        let counted: f64 = bins.iter().map(|bin| bin.rows).sum();
        prop_assert_eq!(format!("{counted}"), rows.len().to_string());
    }

    #[test]
    fn law_points_of_all_bins_are_in_order_of_time(
        rows in prop::collection::vec((0.0..20_000.0_f64, -1.0..1.0_f64), 1..3000)
    ) {
        let bins = bins_of(&rows);
        let mut before_s = 0.0;
        for point in bins.iter().filter_map(|bin| bin.extent(Series::Current)).flat_map(Extent::points) {
            prop_assert!(point.time_s >= before_s);
            before_s = point.time_s;
        }
    }
}

#[test]
fn a_million_rows_never_need_more_than_the_most_bins() {
    let mut bins = Bins::new();
    for step in 0..1_000_000_u32 {
        let value = if step == 654_321 { 99.0 } else { 1.0 };
        bins.push(f64::from(step) * 0.01, &row(value), step % 10 == 0);
        assert!(bins.bins.len() <= MOST_BINS);
    }
    assert!(bins.bins.capacity() <= 2 * MOST_BINS);
    assert!(bins.bins.len() > MOST_BINS / 2, "half of the bins at least are used");
    assert_eq!(bins.reach(Series::Current), Some((1.0, 99.0)));
}

#[test]
fn a_bin_is_small_enough_for_all_to_fit_a_few_megabytes() {
    assert!(size_of::<Bin>() * 2 * MOST_BINS < 4_000_000);
}

#[test]
fn a_leap_of_years_is_bridged_by_widening() {
    let bins = bins_of(&[(0.0, 1.0), (1.0, 2.0), (3.0e8, 3.0)]);
    assert_eq!(bins.bins.len(), 2);
    assert_eq!(bins.reach(Series::Current), Some((1.0, 3.0)));
}

#[test]
fn a_step_back_in_time_is_drawn_at_the_newest_time() {
    let bins = bins_of(&[(10.0, 1.0), (12.0, 2.0), (11.0, 3.0)]);
    let last = bins.iter().last().and_then(|bin| bin.extent(Series::Current));
    assert_eq!(last.map(|extent| extent.last), Some(Point { time_s: 2.0, value: 3.0 }));
}

#[test]
fn a_row_without_a_time_is_left_out() {
    let bins = bins_of(&[(f64::NAN, 1.0), (f64::INFINITY, 2.0)]);
    assert_eq!(bins.iter().count(), 0);
}

#[test]
fn the_share_of_lost_telemetry_is_that_of_the_rows() {
    let mut bins = Bins::new();
    for step in 0..4_u8 {
        bins.push(0.0, &row(f64::from(step)), step == 0);
    }
    let lost: Vec<f64> = bins.iter().map(Bin::lost).collect();
    assert_eq!(lost, [0.25]);
    let means: Vec<f64> =
        bins.iter().filter_map(|bin| bin.extent(Series::Current)).map(Extent::mean).collect();
    assert_eq!(means, [1.5]);
}
