use proptest::prelude::*;

use super::*;
use crate::ride::RideReader;
use crate::ride::writer::tests::rides;

const MAP: &str = "
delimiter = \";\"
decimal_comma = true
time_starts_at_zero = true

[columns.time_s]
from = \"clock\"
unit = \"ms\"

[columns.pack_voltage_V]
from = \"U\"
scale = 0.001

[columns.pack_current_A]
from = \"I\"
sign = -1

[columns.cell_temperature_degC]
from = \"heat\"
unit = \"degF\"

[columns.speed_m_s]
from = \"v\"
unit = \"km/h\"

[columns.thumb]
from = \"lever\"
raw = { full_brake = 0, neutral = 512, full_drive = 768 }
";

fn imported(log: &str, map: &str) -> Result<(String, Imported), RideError> {
    let mapping = Mapping::from_toml(map, "map.toml").unwrap();
    let mut target = RideWriter::new(Vec::new(), "out.csv", &mapping.columns(), &[])?;
    let done = import(log.as_bytes(), "log.csv", &mapping, &mut target)?;
    Ok((String::from_utf8(target.into_inner()?).unwrap(), done))
}

fn refusal(log: &str, map: &str) -> String {
    imported(log, map).unwrap_err().to_string()
}

#[test]
fn names_units_signs_and_decimal_commas_become_ours() {
    let log = "U;clock;I;heat;v;lever;other\n\
               36500;1700000000250;-2,5;77;36;640;x\n\
               36400;1700000000450;1,25;32;-3,6;0;y\n";
    let (text, done) = imported(log, MAP).unwrap();
    assert_eq!(
        text,
        "time_s,pack_voltage_V,pack_current_A,cell_temperature_degC,speed_m_s,thumb\n\
         0.000,36.5000,2.5000,25.00,10.000,0.5000\n\
         0.200,36.4000,-1.2500,0.00,-1.000,-1.0000\n"
    );
    assert_eq!(done, Imported { rows: 2, dropped: 0 });
}

const SIMPLE: &str = "[columns.time_s]\nfrom = \"t\"\n[columns.pack_voltage_V]\nfrom = \"U\"\n";

#[test]
fn all_headers_that_lack_are_named_with_those_there() {
    assert_eq!(refusal("T;U\n1;2\n", SIMPLE), "log.csv: no column `t`, `U`; its columns are `T;U`");
}

#[test]
fn a_log_without_header_says_so() {
    assert_eq!(
        refusal("1,36\n2,36\n", SIMPLE),
        "log.csv, line 1: no header; `1` is a number where a column's name should stand"
    );
}

#[test]
fn a_value_is_named_by_their_column() {
    assert_eq!(
        refusal("t,U\n1,36\n2,low\n", SIMPLE),
        "log.csv, line 3, column `U`: `low` is not a number"
    );
    assert_eq!(
        refusal("t,U\n,36\n", SIMPLE),
        "log.csv, line 2, column `t`: is empty; every row needs a time"
    );
}

#[test]
fn a_forgotten_scale_shows_before_and_after_the_conversion() {
    let map = format!("{SIMPLE}scale = 2\n");
    assert_eq!(
        refusal("t,U\n1,36500\n", &map),
        "log.csv, line 2, column `U`: `36500` becomes 73000 as `pack_voltage_V`, \
         outside -1000 to 1000"
    );
}

#[test]
fn a_repeated_time_is_an_error_unless_the_mapping_drops_it() {
    let log = "t,U\n1,36\n1,37\n2,38\n";
    assert_eq!(refusal(log, SIMPLE), "log.csv, line 3: time does not increase: 1 s after 1 s");
    let map = format!("drop_repeated_times = true\n{SIMPLE}");
    let (text, done) = imported(log, &map).unwrap();
    assert_eq!(text, "time_s,pack_voltage_V\n1.000,36.0000\n2.000,38.0000\n");
    assert_eq!(done, Imported { rows: 2, dropped: 1 });
}

#[test]
fn a_time_that_runs_backwards_is_never_dropped() {
    let map = format!("drop_repeated_times = true\n{SIMPLE}");
    assert_eq!(
        refusal("t,U\n1,36\n2,36\n0,36\n", &map),
        "log.csv, line 4: time does not increase: 0 s after 2 s"
    );
}

#[test]
fn decimal_commas_in_quotes_may_stand_between_commas() {
    let map = format!("decimal_comma = true\n{SIMPLE}");
    let (text, _) = imported("t,U\n\"1,5\",\"36,25\"\n", &map).unwrap();
    assert_eq!(text, "time_s,pack_voltage_V\n1.500,36.2500\n");
}

#[test]
fn a_row_without_link_takes_over_nothing_stale() {
    let map = format!("{SIMPLE}[columns.link_ok]\nfrom = \"ok\"\n");
    let (text, _) = imported("t,U,ok\n1,36,1\n2,--,0\n", &map).unwrap();
    assert_eq!(text, "time_s,pack_voltage_V,link_ok\n1.000,36.0000,1\n2.000,,0\n");
}

proptest! {
    #[test]
    fn law_the_exported_identity_changes_nothing(rows in rides()) {
        let mut log = RideWriter::new(Vec::new(), "ride.csv", &Column::ALL, &[]).unwrap();
        for row in &rows {
            log.write(row).unwrap();
        }
        let log = String::from_utf8(log.into_inner().unwrap()).unwrap();
        let map = Mapping::identity(&Column::ALL).to_toml().unwrap();
        prop_assert_eq!(imported(&log, &map).unwrap().0, log);
    }

    #[test]
    fn law_millivolts_and_milliseconds_come_back_as_they_left(rows in rides()) {
        let mut ours = RideWriter::new(Vec::new(), "ride.csv", &[Column::PackVoltage], &[]).unwrap();
        let mut theirs = "t,U\n".to_owned();
        for row in &rows {
            ours.write(row).unwrap();
            let voltage = row.measured.pack_voltage_V;
            let voltage_mV = voltage.map_or(String::new(), |volts| format!("{:.1}", volts * 1e3));
            theirs += &format!("{:.3},{voltage_mV}\n", row.measured.time_s * 1e3);
        }
        let map = "[columns.time_s]\nfrom = \"t\"\nunit = \"ms\"\n\
                   [columns.pack_voltage_V]\nfrom = \"U\"\nunit = \"mV\"\n";
        let ours = String::from_utf8(ours.into_inner().unwrap()).unwrap();
        prop_assert_eq!(imported(&theirs, map).unwrap().0, ours);
    }

    #[test]
    fn law_random_bytes_never_panic(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        let mapping = Mapping::from_toml(SIMPLE, "map.toml").unwrap();
        let text = [b"t,U\n".as_slice(), &bytes].concat();
        let _ = ImportedRows::new(text.as_slice(), "log.csv", &mapping).unwrap().count();
    }

    #[test]
    fn law_rows_of_an_import_can_be_read_again(times in prop::collection::vec(0..50_u32, 0..30)) {
        let log = times.iter().fold("t,U\n".to_owned(), |log, time| log + &format!("{time},36\n"));
        if let Ok((text, _)) = imported(&log, SIMPLE) {
            let rows: Result<Vec<_>, _> = RideReader::new(text.as_bytes(), "out.csv").unwrap().collect();
            prop_assert_eq!(rows.unwrap().len(), times.len());
        }
    }
}
