use super::*;

fn data() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("data")
}

/// A copy of one trace, cut after a few rows, with its cell.
fn copy(rows: usize) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for name in [
        "udds-town.json",
        "cell_nmc811_21700_oregan.json",
        "ocv_nmc811_21700_oregan.csv",
        "resistance_nmc811_21700_oregan.csv",
    ] {
        std::fs::copy(data().join(name), folder.path().join(name)).unwrap();
    }
    let text = std::fs::read_to_string(data().join("udds-town.csv")).unwrap();
    let lines: Vec<&str> = text.lines().take(1 + rows).collect();
    std::fs::write(folder.path().join("udds-town.csv"), lines.join("\n")).unwrap();
    folder
}

#[test]
fn a_trace_is_read_with_its_facts_and_its_cell() {
    let folder = copy(10);
    let traces = Reference::all(folder.path()).unwrap();
    assert_eq!(traces.len(), 1);
    let trace = &traces[0];
    assert_eq!((trace.name.as_str(), trace.rows.len()), ("udds-town", 10));
    assert_eq!((trace.facts.series, trace.facts.parallel), (12, 2));
    assert!((trace.cell.upper_V - 4.2).abs() < 1e-12);
    assert!((trace.build.cell_capacity_Ah - 4.96717).abs() < 1e-12);
    assert_eq!(trace.rows[0].true_soc, Some(0.74));
}

#[test]
fn what_is_no_trace_is_passed_over() {
    let folder = copy(3);
    for name in ["README.md", "alone.csv", "alone-too.json", "notes"] {
        std::fs::write(folder.path().join(name), "nothing").unwrap();
    }
    std::fs::create_dir(folder.path().join("measured")).unwrap();
    assert_eq!(Reference::all(folder.path()).unwrap().len(), 1);
}

#[test]
fn a_worn_trace_shows_the_builder_the_new_capacity_only() {
    let folder = copy(3);
    let file = folder.path().join("udds-town.json");
    let text = std::fs::read_to_string(&file).unwrap();
    let text = text.replace("\"cell_capacity_Ah\": 4.96717", "\"cell_capacity_Ah\": 4.2");
    std::fs::write(&file, text).unwrap();
    let trace = &Reference::all(folder.path()).unwrap()[0];
    assert!((trace.facts.cell_capacity_Ah - 4.2).abs() < 1e-12);
    assert!((trace.build.cell_capacity_Ah - 4.96717).abs() < 1e-12);
}

#[test]
fn what_is_wrong_is_said_with_its_file() {
    let message = |folder: &Path| Reference::all(folder).unwrap_err().to_string();

    let folder = copy(3);
    let file = folder.path().join("udds-town.json");
    let text = std::fs::read_to_string(&file).unwrap();
    std::fs::write(&file, text.replace("\"series\": 12", "\"series\": 0")).unwrap();
    assert!(message(folder.path()).ends_with("`series` is 0; it has to be above 0"));
    std::fs::write(&file, text.replace("\"series\": 12,", "")).unwrap();
    assert!(message(folder.path()).contains("udds-town.json: missing field `series`"));

    let folder = copy(0);
    let file = folder.path().join("udds-town.csv");
    std::fs::write(&file, "time_s,pack_voltage_V,pack_current_A,true_soc\n0,40,1,\n").unwrap();
    assert!(message(folder.path()).ends_with("udds-town.csv, line 2: no `true_soc`"));

    let folder = copy(3);
    std::fs::remove_file(folder.path().join("cell_nmc811_21700_oregan.json")).unwrap();
    assert!(message(folder.path()).contains("cell_nmc811_21700_oregan.json: can't be read"));

    let empty = tempfile::tempdir().unwrap();
    assert!(message(empty.path()).contains("holds no reference trace"));
    assert!(message(&empty.path().join("nowhere")).contains("can't be read"));
}
