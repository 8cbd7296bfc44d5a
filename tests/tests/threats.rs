//! Every guard and every test that DEVELOPERS.md names against a threat to the bench page is there.
#![allow(clippy::unwrap_used)] // Unwrapping is how a test fails.

use std::fs;
use std::path::{Path, PathBuf};

/// Heading of the table.
const HEADING: &str = "## The bench page: what it is guarded against";

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

/// Source files below a folder, with their text.
fn sources(folder: &Path, found: &mut Vec<(PathBuf, String)>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        if path.is_dir() && name != "target" && name != "node_modules" {
            sources(&path, found);
        } else if name.ends_with(".rs") || name.ends_with(".js") {
            found.push((path.clone(), fs::read_to_string(&path).unwrap()));
        }
    }
}

/// What stands between backticks.
fn quoted(cell: &str) -> impl Iterator<Item = &str> {
    cell.split('`').skip(1).step_by(2)
}

/// Rows of the table: threat, guard, test.
fn rows(text: &str) -> Vec<[&str; 3]> {
    let (_, behind) = text.split_once(HEADING).unwrap();
    let lines = behind.lines().map(str::trim);
    let table = lines
        .skip_while(|line| !line.starts_with('|'))
        .take_while(|line| line.starts_with('|'));
    table
        .skip(2)
        .map(|line| {
            let cells: Vec<&str> = line.trim_matches('|').split(" | ").map(str::trim).collect();
            <[&str; 3]>::try_from(cells).unwrap()
        })
        .collect()
}

#[test]
fn every_guard_and_test_of_the_table_is_there() {
    let text = fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    let rows = rows(&text);
    assert!(rows.len() >= 6, "{rows:?}");
    let mut files = Vec::new();
    sources(&root().join("host"), &mut files);
    sources(&root().join("tests"), &mut files);
    let live = root().join("host/src/live");
    let is_tested = |name: &str| {
        files.iter().any(|(path, source)| {
            let is_file = path.file_name().is_some_and(|file| *file == *name);
            if name.ends_with(".js") {
                is_file
            } else if name.ends_with(".rs") {
                // The module itself, or the file of its tests.
                is_file && path.starts_with(&live) && source.contains("#[test]")
            } else {
                source.contains(&format!("fn {name}("))
            }
        })
    };
    assert!(!is_tested("a_test_of_nothing") && !is_tested("nothing.rs"));
    for [threat, guard, test] in rows {
        for file in quoted(guard).filter(|name| name.ends_with(".rs")) {
            assert!(live.join(file).is_file(), "{threat}: no guard {file}");
        }
        let names: Vec<&str> = quoted(test).collect();
        assert!(test == "the same" || !names.is_empty(), "{threat}: no test");
        for name in names {
            assert!(is_tested(name), "{threat}: no test {name}");
        }
    }
}
