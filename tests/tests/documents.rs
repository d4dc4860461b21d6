//! What the documents say exists, exists; what a board file may say is documented.
//!
//! Source: the documents themselves and the library's table of quantities.

use std::fs;
use std::path::{Path, PathBuf};

use homestretch::board::Quantity;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

fn read(name: &str) -> String {
    fs::read_to_string(root().join(name)).unwrap_or_else(|error| panic!("{name}: {error}"))
}

/// Words that look like a path within the repository: in backquotes, in a link or in a command.
fn paths(text: &str) -> Vec<String> {
    const FOLDERS: [&str; 10] = [
        "no_std_core/",
        "sim/",
        "examples/",
        "tests/",
        "docs/",
        "boards/",
        "fuzz/",
        ".ci/",
        "./",
        "LICENSE",
    ];
    let separators = |c: char| c.is_whitespace() || "`()[]|,;\"'".contains(c);
    let names = ["DEVELOPERS.md", "README.md", "CHANGELOG.md", "Cargo.toml"];
    text.split(separators)
        .map(|word| word.trim_end_matches(['.', ':']))
        .filter(|word| {
            FOLDERS.iter().any(|folder| word.starts_with(folder)) || names.contains(word)
        })
        .map(ToOwned::to_owned)
        .collect()
}

#[test]
fn every_path_in_the_readme_and_for_developers_exists() {
    for document in [
        "README.md",
        "DEVELOPERS.md",
        "docs/files.md",
        "docs/charge.md",
        "docs/range.md",
        "docs/frames.md",
        "docs/link.md",
        "docs/threats.md",
        "docs/throttle.md",
        "docs/workbench.md",
        "docs/tuning.md",
        "docs/world.md",
        "boards/README.md",
        "examples/README.md",
        "tests/README.md",
    ] {
        let found = paths(&read(document));
        let missing: Vec<_> = found.iter().filter(|path| !root().join(path).exists()).collect();
        assert!(missing.is_empty(), "{document} names what is not there: {missing:?}");
    }
    assert!(paths(&read("README.md")).len() > 8, "the search for paths finds nothing");
}

#[test]
fn every_key_of_a_board_file_is_documented_with_its_range() {
    let text = read("docs/files.md");
    for quantity in Quantity::ALL {
        let row = text
            .lines()
            .find(|line| line.starts_with(&format!("| `{quantity}` |")))
            .unwrap_or_else(|| panic!("docs/files.md has no row for {quantity}"));
        let bounds = quantity.bounds();
        for bound in [bounds.lowest, bounds.highest] {
            let whole = bound / 1_000_000;
            let part = format!("{:06}", (bound % 1_000_000).abs());
            let part = part.trim_end_matches('0');
            let decimal =
                if part.is_empty() { whole.to_string() } else { format!("{whole}.{part}") };
            assert!(row.contains(&decimal), "{quantity}: {decimal} is not in {row}");
        }
    }
}

#[test]
fn every_key_of_thumb_and_brake_is_documented_with_its_range() {
    use homestretch_sim::board_file::{CONTROL_KEYS, RIDER_KEYS};
    let text = read("docs/files.md");
    let controls = CONTROL_KEYS.map(|key| (key.section, key.key, key.range));
    let riders = RIDER_KEYS.map(|key| ("riders", key.key, key.range));
    for (section, key, range) in controls.into_iter().chain(riders) {
        let name = format!("| `{section}.{key}` |");
        let row = text
            .lines()
            .find(|line| line.starts_with(&name))
            .unwrap_or_else(|| panic!("docs/files.md has no row {name}"));
        let (lowest, highest) = range;
        let range = format!("{lowest} to {highest}");
        assert!(row.contains(&range), "{range} is not in {row}");
    }
}

#[test]
fn the_program_in_the_readme_is_the_one_that_is_built() {
    let workspace: toml::Table = read("Cargo.toml").parse().unwrap();
    let default = &workspace["workspace"]["default-members"];
    assert_eq!(default.as_array().and_then(|members| members[0].as_str()), Some("sim"));
    let program: toml::Table = read("sim/Cargo.toml").parse().unwrap();
    assert_eq!(program["package"]["default-run"].as_str(), Some("homestretch"));
    assert!(read("README.md").contains("cargo run --release -- replay "));
}
