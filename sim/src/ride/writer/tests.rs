use proptest::prelude::*;

use super::*;
use crate::ride::RideReader;

fn written(rows: &[RideRow], columns: &[Column]) -> Result<String, RideError> {
    let mut writer = RideWriter::new(Vec::new(), "out.csv", columns, &[])?;
    for row in rows {
        writer.write(row)?;
    }
    Ok(String::from_utf8(writer.into_inner()?).unwrap())
}

fn full_row() -> RideRow {
    let mut row = RideRow::at(0.2);
    row.measured.pack_voltage_V = Some(36.5);
    row.measured.pack_current_A = Some(-0.000_01);
    row.measured.thumb = Some(-0.5);
    row.true_soc = Some(0.9);
    row
}

#[test]
fn a_row_is_written_with_fixed_decimals_in_the_order_of_the_columns() {
    let columns = [
        Column::TrueSoc,
        Column::LinkOk,
        Column::Thumb,
        Column::PackCurrent,
        Column::PackVoltage,
        Column::Speed,
    ];
    assert_eq!(
        written(&[full_row()], &columns).unwrap(),
        "time_s,pack_voltage_V,pack_current_A,speed_m_s,thumb,link_ok,true_soc\n\
         0.200,36.5000,0.0000,,-0.5000,1,0.900000\n"
    );
}

#[test]
fn a_time_keeps_the_digits_that_it_needs() {
    let rows = [0.0, 0.01, 0.0123, 100.000_25].map(RideRow::at);
    assert_eq!(written(&rows, &[]).unwrap(), "time_s\n0.000\n0.010\n0.0123\n100.00025\n");
}

#[test]
fn a_row_without_link_has_empty_fields_even_if_it_holds_stale_values() {
    let mut row = full_row();
    row.measured.link_ok = false;
    assert_eq!(
        written(&[row], &[Column::PackVoltage, Column::Thumb, Column::LinkOk]).unwrap(),
        "time_s,pack_voltage_V,thumb,link_ok\n0.200,,-0.5000,0\n"
    );
}

#[test]
fn a_value_that_the_reader_would_refuse_is_not_written() {
    let mut row = full_row();
    row.measured.time_s = 0.4;
    row.measured.thumb = Some(1.5);
    let columns = [Column::Thumb];
    let error = written(&[full_row(), row.clone()], &columns).unwrap_err();
    let expected = "out.csv, line 3, column `thumb`: `1.5` is outside -1 to 1";
    assert_eq!(error.to_string(), expected);
    row.measured.thumb = Some(f64::NAN);
    let error = written(&[row], &columns).unwrap_err();
    let expected = "out.csv, line 2, column `thumb`: `NaN` is not a finite number";
    assert_eq!(error.to_string(), expected);
}

#[test]
fn a_refused_row_leaves_no_half_line() {
    let mut writer = RideWriter::new(Vec::new(), "out.csv", &[Column::Thumb], &[]).unwrap();
    let mut row = RideRow::at(1.0);
    row.measured.thumb = Some(7.0);
    writer.write(&row).unwrap_err();
    row.measured.thumb = None;
    writer.write(&row).unwrap();
    assert_eq!(writer.into_inner().unwrap(), b"time_s,thumb\n1.000,\n");
}

#[test]
fn two_times_that_look_the_same_once_written_are_refused() {
    let rows = [RideRow::at(0.5), RideRow::at(0.500_000_1)];
    assert_eq!(
        written(&rows, &[]).unwrap_err().to_string(),
        "out.csv, line 3: time does not increase: 0.5 s after 0.5 s"
    );
}

#[test]
fn carried_columns_come_out_as_they_went_in() {
    let text = "note,time_s,\"a,b\",thumb\n\"wet, \"\"cold\"\"\",0.000, 1,0.5000\n,1.000,,0.0000\n";
    let mut reader = RideReader::new(text.as_bytes(), "ride.csv").unwrap();
    let (columns, carried) = (reader.columns(), reader.carried_names());
    let mut writer = RideWriter::new(Vec::new(), "out.csv", &columns, &carried).unwrap();
    while let Some(row) = reader.next() {
        writer.write_carrying(&row.unwrap(), reader.carried()).unwrap();
    }
    assert_eq!(
        String::from_utf8(writer.into_inner().unwrap()).unwrap(),
        "time_s,thumb,note,\"a,b\"\n0.000,0.5000,\"wet, \"\"cold\"\"\", 1\n1.000,0.0000,,\n"
    );
}

#[test]
fn a_carried_column_may_not_take_the_name_of_one_of_ours() {
    let carried = ["thumb".to_owned()];
    let error = RideWriter::new(Vec::new(), "out.csv", &[Column::Thumb], &carried).unwrap_err();
    assert_eq!(error.to_string(), "out.csv: column `thumb` would be written twice");
}

#[test]
fn a_log_appears_only_when_it_is_finished() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("out.csv");
    let mut writer = RideWriter::create(&path, &[Column::Thumb], &[]).unwrap();
    writer.write(&full_row()).unwrap();
    drop(writer);
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);

    let mut writer = RideWriter::create(&path, &[Column::Thumb], &[]).unwrap();
    writer.write(&full_row()).unwrap();
    writer.finish().unwrap();
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    let rows: Vec<_> = RideReader::open(&path).unwrap().map(Result::unwrap).collect();
    assert_eq!(rows[0].measured.thumb, Some(-0.5));
}

#[test]
fn a_place_where_nothing_can_be_written_is_named() {
    let error = RideWriter::create("no/such/folder/out.csv", &[], &[]).unwrap_err();
    assert!(error.to_string().starts_with("no/such/folder/out.csv: can't be written: "));
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_is_told_and_not_swallowed() {
    let mut writer = RideWriter::create("/dev/full", &[Column::Thumb], &[]).unwrap();
    writer.write(&full_row()).unwrap();
    let error = writer.finish().unwrap_err().to_string();
    assert!(error.starts_with("/dev/full: can't be written: No space left"), "{error}");
}

/// Any value that a column can hold, at the fineness at which it is written.
fn value_of(column: Column) -> impl Strategy<Value = Option<f64>> {
    let (lowest, highest) = column.range();
    let digits = u32::try_from(column.decimals()).unwrap();
    let steps = f64::from(10_u32.pow(digits));
    prop::option::of((lowest..=highest).prop_map(move |value| {
        // Towards zero, so that rounding can't leave the range.
        (value * steps).trunc() / steps
    }))
}

/// Rides as a reader would hand them out, with every column.
pub(crate) fn rides() -> impl Strategy<Value = Vec<RideRow>> {
    let values: Vec<_> = Column::ALL.into_iter().map(value_of).collect();
    let row = (1..2_000_000_u32, values);
    prop::collection::vec(row, 0..12).prop_map(|rows| {
        let mut elapsed_us = 0;
        rows.into_iter()
            .map(|(step_us, values)| {
                elapsed_us += step_us;
                let mut row = RideRow::at(0.0);
                for (column, value) in Column::ALL.into_iter().zip(values) {
                    if let Some(value) = value {
                        row.put(column, value);
                    }
                }
                row.measured.time_s = f64::from(elapsed_us) / 1e6;
                if !row.measured.link_ok {
                    row.measured = row.measured.lost();
                }
                row
            })
            .collect()
    })
}

proptest! {
    #[test]
    fn law_what_is_written_is_read_back_the_same(rows in rides()) {
        let text = written(&rows, &Column::ALL).unwrap();
        let read: Result<Vec<_>, _> = RideReader::new(text.as_bytes(), "out.csv").unwrap().collect();
        prop_assert_eq!(read.unwrap(), rows);
    }

    #[test]
    fn law_writing_what_was_read_changes_no_byte(rows in rides()) {
        let text = written(&rows, &Column::ALL).unwrap();
        let read: Result<Vec<_>, _> = RideReader::new(text.as_bytes(), "out.csv").unwrap().collect();
        prop_assert_eq!(written(&read.unwrap(), &Column::ALL).unwrap(), text);
    }
}
