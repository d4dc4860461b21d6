use proptest::prelude::*;

use super::*;

fn read(text: &str) -> Result<Mapping, String> {
    Mapping::from_toml(text, "map.toml").map_err(|error| error.to_string())
}

fn refusal(text: &str) -> String {
    read(text).unwrap_err()
}

const TIME: &str = "[columns.time_s]\nfrom = \"t\"\n";

#[test]
fn a_mapping_gives_our_columns_with_time_first() {
    let text = format!("[columns.thumb]\nfrom = \"lever\"\nunit = \"%\"\n{TIME}");
    let mapping = read(&text).unwrap();
    assert_eq!(mapping.columns(), [Column::Time, Column::Thumb]);
}

#[test]
fn an_unknown_key_is_refused_with_the_allowed_ones() {
    assert_eq!(
        refusal("delimeter = \";\"\n"),
        "map.toml, line 1, `delimeter = \";\"`: unknown field `delimeter`, expected one of \
         `delimiter`, `decimal_comma`, `time_starts_at_zero`, `drop_repeated_times`, `columns`"
    );
    assert_eq!(
        refusal("[columns.time_s]\nform = \"t\"\n"),
        "map.toml, line 2, `form = \"t\"`: unknown field `form`, expected one of \
         `from`, `unit`, `scale`, `offset`, `sign`, `raw`"
    );
}

#[test]
fn an_unknown_column_is_refused_with_ours() {
    let message = refusal("[columns.voltage]\nfrom = \"U\"\n");
    assert!(
        message.starts_with("map.toml, line 1, `[columns.voltage]`: unknown variant `voltage`"),
        "{message}"
    );
    assert!(message.contains("`pack_voltage_V`, `pack_current_A`"), "{message}");
}

#[test]
fn a_value_of_the_wrong_kind_is_shown_with_its_line() {
    assert_eq!(
        refusal(&format!("{TIME}scale = \"x\"\n")),
        "map.toml, line 3, `scale = \"x\"`: invalid type: string \"x\", expected f64"
    );
    assert!(refusal("[columns\n").starts_with("map.toml, line 1, `[columns`: "));
}

#[test]
fn a_mapping_without_time_is_refused() {
    assert_eq!(
        refusal("[columns.thumb]\nfrom = \"lever\"\n"),
        "map.toml: no `columns.time_s`; a ride needs a time"
    );
}

#[test]
fn a_unit_of_another_quantity_is_refused_with_those_that_fit() {
    assert_eq!(
        refusal(&format!("{TIME}[columns.speed_m_s]\nfrom = \"v\"\nunit = \"mV\"\n")),
        "map.toml: `columns.speed_m_s.unit` is `mV`; allowed is one of `m/s`, `km/h`, `mi/h`"
    );
    let message = refusal(&format!("{TIME}unit = \"fortnight\"\n"));
    assert!(
        message.contains("unknown variant `fortnight`, expected one of `s`, `ms`"),
        "{message}"
    );
}

#[test]
fn values_that_make_no_sense_are_named_with_what_is_allowed() {
    let either = "either `unit`, or `scale` and `offset`, or `raw`";
    for (keys, expected) in [
        (
            "scale = 0",
            "`columns.thumb.scale` is 0; allowed is a finite number that is not 0".to_owned(),
        ),
        ("offset = inf", "`columns.thumb.offset` is inf; allowed is a finite number".to_owned()),
        (
            "sign = 2",
            "`columns.thumb.sign` is 2; allowed is 1 or -1, and not together with `raw`".to_owned(),
        ),
        ("unit = \"%\"\nscale = 2", format!("`columns.thumb.unit` is `%`; allowed is {either}")),
        (
            "raw = { full_brake = 5, neutral = 3, full_drive = 9 }",
            "`columns.thumb.raw` is full_brake = 5, neutral = 3, full_drive = 9; \
             allowed is `neutral` between `full_brake` and `full_drive`"
                .to_owned(),
        ),
    ] {
        let text = format!("{TIME}[columns.thumb]\nfrom = \"lever\"\n{keys}\n");
        assert_eq!(refusal(&text), format!("map.toml: {expected}"));
    }
}

#[test]
fn a_delimiter_is_one_character_that_no_number_has() {
    for bad in ["", ";;", "5", ".", "-", "\\\"", "a"] {
        let message = refusal(&format!("delimiter = \"{bad}\"\n{TIME}"));
        assert!(message.starts_with("map.toml: `delimiter` is \""), "{message}");
    }
    assert!(read(&format!("delimiter = \"\\t\"\n{TIME}")).is_ok());
}

#[test]
fn a_file_that_is_not_there_is_named() {
    let error = Mapping::open("no/map.toml").unwrap_err().to_string();
    assert!(error.starts_with("no/map.toml: can't be read: "), "{error}");
}

#[test]
fn a_sign_is_taken_last() {
    let source = ColumnSource {
        scale: Some(0.5),
        offset: Some(-20.0),
        sign: Some(-1),
        ..ColumnSource::renamed("I")
    };
    assert!((source.convert(60.0) + 10.0).abs() < f64::EPSILON);
}

fn sources() -> impl Strategy<Value = ColumnSource> {
    let number = prop::option::of(prop_oneof![-1e6..-1e-6, 1e-6..1e6]);
    let sign = prop::option::of(prop_oneof![Just(-1_i8), Just(1_i8)]);
    ("[a-zA-Z \"\\\\é,.]{1,12}", number.clone(), number, sign)
        .prop_filter("a name", |(from, ..)| !from.trim().is_empty())
        .prop_map(|(from, scale, offset, sign)| ColumnSource {
            scale,
            offset,
            sign,
            ..ColumnSource::renamed(&from)
        })
}

proptest! {
    #[test]
    fn law_an_exported_mapping_is_read_back_the_same(
        time in sources(), voltage in sources(), drop_repeated_times: bool
    ) {
        let mapping = Mapping(Content {
            columns: [(Column::Time, time), (Column::PackVoltage, voltage)].into(),
            drop_repeated_times,
            ..Mapping::identity(&[]).0
        });
        let text = mapping.to_toml().unwrap();
        prop_assert_eq!(Mapping::from_toml(&text, "map.toml").unwrap(), mapping);
    }

    #[test]
    fn law_random_text_never_panics(text in "\\PC{0,200}") {
        let _ = Mapping::from_toml(&text, "map.toml");
    }
}
