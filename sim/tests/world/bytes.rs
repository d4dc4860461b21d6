//! The same bytes on every machine: what could round otherwise elsewhere is not called.

use std::fs;
use std::path::{Path, PathBuf};

/// Functions that a machine's own library computes, and collections without an order.
const ELSEWHERE: &[&str] = &[
    ".exp()",
    ".exp2()",
    ".exp_m1()",
    ".ln()",
    ".ln_1p()",
    ".log(",
    ".log2()",
    ".log10()",
    ".sin()",
    ".cos()",
    ".sin_cos()",
    ".tan()",
    ".asin()",
    ".acos()",
    ".atan",
    ".sinh()",
    ".cosh()",
    ".tanh()",
    ".powf(",
    ".powi(",
    ".cbrt()",
    ".hypot(",
    "HashMap",
];

fn files(folder: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    entries
        .flat_map(|path| if path.is_dir() { files(&path) } else { vec![path] })
        .filter(|path| path.extension().is_some_and(|ending| ending == "rs"))
        .filter(|path| !path.ends_with("tests.rs") && !path.ends_with("laws.rs"))
        .collect()
}

#[test]
fn the_world_asks_only_libm_for_what_machines_round_differently() {
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let rooms = ["plant", "route", "world", "campaign", "scenario", "sensors"];
    let rooms = rooms.iter().flat_map(|room| files(&source.join(room)));
    let mut looked_at = 0;
    for file in rooms.chain([source.join("random.rs")]) {
        let text = fs::read_to_string(&file).unwrap();
        // Tests may: their tolerances are wider than a last bit.
        let code = text.split("#[cfg(test)]").next().unwrap_or_default();
        for line in code.lines().filter(|line| !line.trim_start().starts_with("//")) {
            let found = ELSEWHERE.iter().find(|name| line.contains(**name));
            assert!(found.is_none(), "{}: {line}", file.display());
        }
        looked_at += 1;
    }
    assert!(looked_at > 60, "{looked_at}");
}
