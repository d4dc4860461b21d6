//! The table of checks in this package's README: does it tell of all checks, and of no other?
//!
//! A check is a test in `tests/*.rs`. Source: the README itself and the files beside this one.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

/// A test by file and name.
type Check = (String, String);

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).to_owned()
}

/// The first four columns of each row under the header `check | source | tolerance | why`.
fn rows() -> Vec<Vec<String>> {
    let text = fs::read_to_string(root().join("README.md")).unwrap();
    let mut rows = text
        .lines()
        .skip_while(|line| !line.starts_with("| check |"))
        .take_while(|line| line.starts_with('|'))
        .map(|line| {
            let fields = line.trim_matches('|').split('|');
            fields.map(|field| field.trim().to_owned()).collect()
        });
    let header: Vec<String> = rows.next().expect("the README has a table of checks");
    assert_eq!(header, ["check", "source", "tolerance", "why that tolerance"]);
    rows.skip(1).collect()
}

/// A row's check, written as `file.rs`: `name`.
fn named(row: &[String]) -> Check {
    let mut quoted = row[0].split('`').skip(1).step_by(2).map(str::to_owned);
    let check = quoted.next().zip(quoted.next());
    check.unwrap_or_else(|| panic!("no file and name in `{}`", row[0]))
}

fn test_files() -> BTreeSet<String> {
    let entries = fs::read_dir(root().join("tests")).unwrap();
    let names = entries.map(|entry| entry.unwrap().file_name().into_string().unwrap());
    names.filter(|name| Path::new(name).extension().is_some_and(|end| end == "rs")).collect()
}

/// The names of all tests of a file: whatever function follows a test attribute.
fn tests_of(file: &str) -> Vec<String> {
    let text = fs::read_to_string(root().join("tests").join(file)).unwrap();
    let mut names = Vec::new();
    let mut marked = false;
    for line in text.lines().map(str::trim) {
        marked |= line == "#[test]";
        if let (true, Some(rest)) = (marked, line.strip_prefix("fn ")) {
            names.extend(rest.split('(').next().map(str::to_owned));
            marked = false;
        }
    }
    names
}

#[test]
fn the_table_names_every_check_and_every_name_in_it_is_a_check() {
    let told: Vec<Check> = rows().iter().map(|row| named(row)).collect();
    let unique: BTreeSet<Check> = told.iter().cloned().collect();
    assert_eq!(told.len(), unique.len(), "a check stands twice");
    let there: BTreeSet<Check> = test_files()
        .into_iter()
        .flat_map(|file| tests_of(&file).into_iter().map(move |name| (file.clone(), name)))
        .collect();
    let missing: Vec<_> = there.difference(&unique).collect();
    assert!(missing.is_empty(), "not in the table: {missing:?}");
    let invented: Vec<_> = unique.difference(&there).collect();
    assert!(invented.is_empty(), "in the table only: {invented:?}");
}

#[test]
fn every_row_names_its_source_its_tolerance_and_the_reason() {
    for row in rows() {
        assert_eq!(row.len(), 4, "{row:?}");
        assert!(row.iter().all(|field| !field.is_empty()), "{row:?}");
    }
}

#[test]
fn every_file_of_checks_names_a_source_in_its_header() {
    for file in test_files() {
        let text = fs::read_to_string(root().join("tests").join(&file)).unwrap();
        let header = text.lines().take_while(|line| line.starts_with("//!"));
        assert!(header.into_iter().any(|line| line.contains("Source:")), "{file}");
    }
}
