use std::io;

use proptest::prelude::*;

use super::*;

fn all(text: &str) -> Result<Vec<RideRow>, RideError> {
    RideReader::new(text.as_bytes(), "ride.csv")?.collect()
}

fn refusal(text: &str) -> String {
    all(text).unwrap_err().to_string()
}

#[test]
fn a_log_gives_its_rows() {
    let rows = all("time_s,pack_voltage_V,thumb,true_soc\n0,36.5,-0.5,0.9\n0.2,,1,\n").unwrap();
    let mut first = RideRow::at(0.0);
    first.measured.pack_voltage_V = Some(36.5);
    first.measured.thumb = Some(-0.5);
    first.true_soc = Some(0.9);
    let mut second = RideRow::at(0.2);
    second.measured.thumb = Some(1.0);
    assert_eq!(rows, [first, second]);
}

#[test]
fn columns_may_stand_in_any_order_with_spaces_and_a_byte_order_mark() {
    let rows = all("\u{feff}thumb , time_s\r\n 0.5, 1.0 \r\n").unwrap();
    assert_eq!(rows[0].measured.thumb, Some(0.5));
    assert_eq!(rows[0].measured.time_s.total_cmp(&1.0), std::cmp::Ordering::Equal);
}

#[test]
fn a_header_alone_is_a_ride_without_rows() {
    assert_eq!(all("time_s,thumb").unwrap(), []);
}

#[test]
fn a_row_without_link_keeps_only_what_the_hand_knows() {
    let text = "time_s,link_ok,pack_voltage_V,speed_m_s,thumb,true_soc\n\
                1,0,36.5,garbage,0.25,0.5\n2,1,36.4,3,0.5,0.5\n3,0,,,0.5,0.5\n";
    let rows = all(text).unwrap();
    let mut lost = RideRow::at(1.0);
    lost.measured.link_ok = false;
    lost.measured.thumb = Some(0.25);
    lost.true_soc = Some(0.5);
    assert_eq!(rows[0], lost);
    assert_eq!(rows[1].measured.speed_m_s, Some(3.0));
    assert_eq!(rows[2].measured.pack_voltage_V, None);
}

#[test]
fn other_columns_are_carried_and_the_raw_row_is_at_hand() {
    let text = "time_s,note,thumb,gear\n1,\"wet, cold\",0, 3\n";
    let mut rows = RideReader::new(text.as_bytes(), "ride.csv").unwrap();
    assert_eq!(rows.carried_names(), ["note", "gear"]);
    assert_eq!(rows.columns(), [Column::Time, Column::Thumb]);
    rows.next().unwrap().unwrap();
    assert_eq!(rows.carried().collect::<Vec<_>>(), ["wet, cold", " 3"]);
    assert_eq!(rows.raw().get(1), Some("wet, cold"));
    assert_eq!(rows.line(), 2);
}

#[test]
fn an_empty_file_says_what_it_lacks() {
    let expected = "ride.csv: is empty; a ride log begins with a line of column names";
    assert_eq!(refusal(""), expected);
    assert_eq!(refusal("\n\r\n"), expected);
}

#[test]
fn numbers_in_the_first_line_are_no_header() {
    assert_eq!(
        refusal("0.0,36.5,1.2\n0.2,36.4,1.3\n"),
        "ride.csv, line 1: no header; `0.0` is a number where a column's name should stand"
    );
}

#[test]
fn a_log_without_time_names_the_columns_that_it_has() {
    assert_eq!(
        refusal("time,pack_voltage_V\n0,36\n"),
        "ride.csv: no column `time_s`; its columns are `time`, `pack_voltage_V`"
    );
}

#[test]
fn all_missing_columns_are_named_at_once() {
    let rows = RideReader::new("time_s,thumb,note\n".as_bytes(), "ride.csv").unwrap();
    let needed = [Column::PackVoltage, Column::Thumb, Column::LinkOk];
    assert_eq!(
        rows.require(&needed).unwrap_err().to_string(),
        "ride.csv: no column `pack_voltage_V`, `link_ok`; its columns are `time_s`, `thumb`, `note`"
    );
    rows.require(&[Column::Time, Column::Thumb]).unwrap();
}

#[test]
fn a_column_that_stands_twice_is_named_with_both_places() {
    assert_eq!(
        refusal("time_s,thumb,note,thumb\n0,0,,0\n"),
        "ride.csv, line 1: column `thumb` stands there twice, as fields 2 and 4"
    );
}

#[test]
fn a_foreign_column_may_stand_twice() {
    assert_eq!(all("time_s,note,note\n0,a,b\n").unwrap().len(), 1);
}

#[test]
fn text_in_a_number_is_shown() {
    assert_eq!(
        refusal("time_s,pack_voltage_V\n0,36.5\n0.2,36.5V\n"),
        "ride.csv, line 3, column `pack_voltage_V`: `36.5V` is not a number"
    );
}

#[test]
fn nan_and_infinity_are_refused() {
    assert_eq!(
        refusal("time_s,speed_m_s\n0,NaN\n"),
        "ride.csv, line 2, column `speed_m_s`: `NaN` is not a finite number"
    );
    assert_eq!(
        refusal("time_s,speed_m_s\n0,1\n1,-inf\n"),
        "ride.csv, line 3, column `speed_m_s`: `-inf` is not a finite number"
    );
}

#[test]
fn time_running_backwards_is_named_with_both_times() {
    assert_eq!(
        refusal("time_s\n0.5\n1.25\n0.75\n"),
        "ride.csv, line 4: time does not increase: 0.75 s after 1.25 s"
    );
}

#[test]
fn time_standing_still_is_refused() {
    assert_eq!(
        refusal("time_s\n0.5\n0.5\n"),
        "ride.csv, line 3: time does not increase: 0.5 s after 0.5 s"
    );
}

#[test]
fn a_row_without_time_is_refused() {
    assert_eq!(
        refusal("time_s,thumb\n,0.5\n"),
        "ride.csv, line 2, column `time_s`: is empty; every row needs a time"
    );
}

#[test]
fn a_short_row_is_named_with_its_line() {
    assert_eq!(
        refusal("time_s,thumb\n0,0\n\n1\n"),
        "ride.csv, line 4: the row has a field count of 1, the header one of 2"
    );
}

#[test]
fn a_long_row_is_named_with_its_line() {
    assert_eq!(
        refusal("time_s,thumb\r\n0,0\r\n1,0,7\r\n"),
        "ride.csv, line 3: the row has a field count of 3, the header one of 2"
    );
}

#[test]
fn bytes_that_are_no_text_are_named_with_their_place() {
    let bytes = b"time_s,note\n0,a\n1,\xff\xfe\n".as_slice();
    let rows: Result<Vec<_>, _> = RideReader::new(bytes, "ride.csv").unwrap().collect();
    assert_eq!(
        rows.unwrap_err().to_string(),
        "ride.csv, line 3, field 2: the bytes are not UTF-8 text"
    );
    let header = RideReader::new(b"\xff,time_s\n".as_slice(), "ride.csv").unwrap_err();
    assert_eq!(header.to_string(), "ride.csv, line 1, field 1: the bytes are not UTF-8 text");
}

#[test]
fn a_stray_quotation_mark_does_not_swallow_the_ride() {
    assert_eq!(
        refusal("time_s,note\n0,\"wet\n1,dry\n"),
        "ride.csv, line 2: a quotation mark is not closed on its line"
    );
}

#[test]
fn values_that_cannot_be_meant_are_refused_with_their_bounds() {
    for (name, value, bounds) in [
        ("thumb", "1.01", "-1 to 1"),
        ("pack_voltage_V", "36500", "-1000 to 1000"),
        ("pack_current_A", "-5001", "-5000 to 5000"),
        ("cell_temperature_degC", "293", "-80 to 200"),
        ("speed_m_s", "101", "-100 to 100"),
        ("true_soc", "55", "-0.1 to 1.1"),
        ("cell_voltage_min_V", "3650", "-10 to 10"),
    ] {
        assert_eq!(
            refusal(&format!("time_s,{name}\n0,{value}\n")),
            format!("ride.csv, line 2, column `{name}`: `{value}` is outside {bounds}")
        );
    }
}

#[test]
fn a_link_flag_is_nothing_but_0_or_1() {
    assert_eq!(
        refusal("time_s,link_ok\n0,1\n1,yes\n"),
        "ride.csv, line 3, column `link_ok`: `yes` is neither 0 nor 1"
    );
}

#[test]
fn every_message_fits_two_lines_whatever_the_value() {
    let long = "x\u{7}".repeat(10_000);
    let header = vec!["a column of a name that goes on and on and on and on"; 500].join(",");
    for text in [format!("time_s,thumb\n0,{long}\n"), header] {
        let message = refusal(&text);
        assert!(!message.contains(char::is_control), "{message}");
        assert!(message.chars().count() < 1000, "{message}");
    }
}

#[test]
fn after_an_error_there_are_no_more_rows() {
    let mut rows = RideReader::new("time_s\n1\nx\n2\n".as_bytes(), "ride.csv").unwrap();
    assert!(rows.next().unwrap().is_ok());
    assert!(rows.next().unwrap().is_err());
    assert!(rows.next().is_none());
}

#[test]
fn a_file_that_is_not_there_is_named() {
    let error = RideReader::open("no/such/ride.csv").unwrap_err();
    assert!(error.to_string().starts_with("no/such/ride.csv: can't be opened: "));
}

/// A log that is made while it is read, so that only the reader could hold it all.
struct Endless {
    row: u32,
    rows: u32,
    rest: Vec<u8>,
}

impl Read for Endless {
    fn read(&mut self, out: &mut [u8]) -> io::Result<usize> {
        if self.rest.is_empty() && self.row < self.rows {
            self.row += 1;
            self.rest = format!("{},36.5,note\n", self.row).into_bytes();
        }
        let taken = self.rest.len().min(out.len());
        out[..taken].copy_from_slice(&self.rest[..taken]);
        self.rest.drain(..taken);
        Ok(taken)
    }
}

#[test]
fn a_row_is_read_before_the_file_ends() {
    let rest = b"time_s,pack_voltage_V,note\n".to_vec();
    let source = Endless { row: 0, rows: u32::MAX, rest };
    let rows = RideReader::new(source, "ride.csv").unwrap();
    assert_eq!(rows.take(20_000).filter(Result::is_ok).count(), 20_000);
}

fn nearly_a_log() -> impl Strategy<Value = String> {
    let field = prop_oneof![
        Just("time_s".to_owned()),
        Just("link_ok".to_owned()),
        Just("thumb".to_owned()),
        "[0-9.eE\"+,-]{0,6}",
        any::<f64>().prop_map(|value| value.to_string()),
        "\\PC{0,4}",
    ];
    let line = prop::collection::vec(field, 0..5).prop_map(|fields| fields.join(","));
    prop::collection::vec(line, 0..6)
        .prop_map(|lines| format!("time_s,thumb\n{}", lines.join("\n")))
}

proptest! {
    #[test]
    fn law_random_bytes_are_an_error_and_never_a_panic(
        bytes in prop::collection::vec(any::<u8>(), 0..400)
    ) {
        let rows = RideReader::new(bytes.as_slice(), "ride.csv");
        // Chance does not spell `time_s`.
        prop_assert!(rows.is_err());
    }

    #[test]
    fn law_bytes_after_a_header_never_panic(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        let text = [b"time_s,thumb,note\n".as_slice(), &bytes].concat();
        let _ = RideReader::new(text.as_slice(), "ride.csv").unwrap().count();
    }

    #[test]
    fn law_what_is_nearly_a_log_gives_rows_that_can_be_meant(text in nearly_a_log()) {
        for row in RideReader::new(text.as_bytes(), "ride.csv").into_iter().flatten().flatten() {
            for column in Column::ALL {
                if let Some(value) = row.value(column) {
                    prop_assert!(within(column, value));
                }
            }
        }
    }
}
