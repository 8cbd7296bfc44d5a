//! Every command in README and `host/docs/` that is marked to be run is run, and every link leads somewhere.
//!
//! The rule: a fenced block whose info string is `sh run` is run, line by line, in a new folder a document;
//! blocks marked `sh` alone need a rig, a network or a build and are only checked to name verbs and options
//! that exist. A line may end in `# exits N: why`; without, the exit code must be 0. There is no shell: a
//! line is a command and its words, quoted with `"` where they hold spaces.
#![allow(clippy::unwrap_used)]

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// The documents, from the workspace's folder.
const DOCUMENTS: [&str; 7] = [
    "README.md",
    "host/docs/tutorial.md",
    "host/docs/lesson.md",
    "host/docs/afterwards.md",
    "host/docs/figures.md",
    "host/docs/method.md",
    "host/docs/files.md",
];

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .parent()
        .unwrap()
        .to_owned()
}

fn text(document: &str) -> String {
    fs::read_to_string(root().join(document)).unwrap()
}

/// Lines of the fenced blocks with this info string, with their line numbers.
fn lines_of(text: &str, info: &str) -> Vec<(usize, String)> {
    let mut open: Option<bool> = None;
    let mut out = Vec::new();
    for (number, line) in text.lines().enumerate() {
        if let Some(after) = line.trim_start().strip_prefix("```") {
            open = match open {
                None => Some(after.trim() == info),
                Some(_) => None,
            };
        } else if open == Some(true) && !line.trim().is_empty() {
            out.push((number + 1, line.trim().to_owned()));
        }
    }
    out
}

/// Words of a line and the exit code that it announces.
fn words(line: &str) -> (Vec<String>, i32) {
    let (command, comment) = match line.split_once(" #") {
        Some((command, comment)) => (command, comment.trim()),
        None => (line, ""),
    };
    let code = comment
        .strip_prefix("exits ")
        .and_then(|c| c.split(':').next())
        .map_or(0, |c| c.trim().parse().unwrap());
    let mut out = Vec::new();
    for (i, part) in command.split('"').enumerate() {
        if i % 2 == 1 {
            out.push(part.to_owned());
        } else {
            out.extend(part.split_whitespace().map(str::to_owned));
        }
    }
    (out, code)
}

fn tipcurve(words: &[String], folder: &Path) -> Output {
    Command::new(env!("CARGO_BIN_EXE_tipcurve"))
        .args(words)
        .current_dir(folder)
        .env_remove("NO_COLOR")
        .output()
        .unwrap()
}

/// A folder of its own below the build's, empty.
fn scratch(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(&folder).unwrap();
    folder
}

fn run_document(document: &str, least: usize) {
    let folder = scratch(&document.replace(['/', '.'], "-"));
    let list = lines_of(&text(document), "sh run");
    assert!(
        list.len() >= least,
        "{document}: {} commands are marked",
        list.len()
    );
    for (number, line) in list {
        let (words, expected) = words(&line);
        // The small build for tests reads and writes no Parquet.
        let needs_parquet = words.iter().any(|w| w == "--season" || w == "parquet");
        if needs_parquet && !tipcurve::table::HAS_PARQUET {
            continue;
        }
        assert_eq!(words[0], "tipcurve", "{document}, line {number}: {line}");
        let output = tipcurve(&words[1..], &folder);
        let said = String::from_utf8_lossy(&output.stdout).into_owned();
        let errors = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(
            output.status.code(),
            Some(expected),
            "{document}, line {number}: {line}\n{said}\n{errors}"
        );
        if expected == 0 {
            assert!(!said.trim().is_empty(), "{line} says nothing");
            // Not a terminal: nothing but results, and no colour.
            assert!(errors.is_empty(), "{line}: {errors}");
            assert!(!said.contains('\u{1b}'), "{line}");
        } else {
            assert!(errors.starts_with("error: "), "{line}: {errors}");
        }
    }
}

#[test]
fn the_commands_of_the_readme_run() {
    run_document("README.md", 3);
}

#[test]
fn the_commands_of_the_tutorial_run() {
    run_document("host/docs/tutorial.md", 5);
}

#[test]
fn the_commands_for_afterwards_run() {
    run_document("host/docs/afterwards.md", 15);
}

#[test]
fn the_commands_of_the_lesson_run_and_show_what_it_says() {
    run_document("host/docs/lesson.md", 4);
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("host-docs-lesson-md/lesson/class");
    let class: serde_json::Value =
        serde_json::from_str(&fs::read_to_string(folder.join("class-report/class.json")).unwrap())
            .unwrap();
    let out: Vec<&str> = class["students"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|s| s["word"] != "satisfactory")
        .map(|s| s["label"].as_str().unwrap())
        .collect();
    assert_eq!(out, ["Hazel"]);
    let hazel = &class["students"][4];
    let deviation = hazel["deviation_ratio"].as_f64().unwrap();
    assert!((0.07..0.14).contains(&deviation), "{deviation}");
    let precision = &class["precision"];
    assert!(hazel["h"].as_f64() > precision["h_critical"].as_f64());
    assert!(hazel["k"].as_f64() < precision["k_critical"].as_f64());
}

/// A verb that a document names exists, and so does each option.
#[test]
fn commands_that_are_not_run_name_verbs_and_options_that_exist() {
    for document in DOCUMENTS {
        for (number, line) in lines_of(&text(document), "sh") {
            let (words, _) = words(&line);
            let at = words.iter().position(|w| w == "tipcurve");
            let from_cargo = words.iter().position(|w| w == "--");
            let Some(rest) = at.or(from_cargo).map(|i| &words[i + 1..]) else {
                continue;
            };
            let Some(verb) = rest.first() else { continue };
            let help = tipcurve(&[verb.clone(), "--help".to_owned()], &root());
            let help_text = String::from_utf8_lossy(&help.stdout).into_owned();
            assert!(help.status.success(), "{document}, line {number}: {line}");
            for option in rest.iter().filter(|w| w.starts_with("--")) {
                let name = option.split('=').next().unwrap();
                assert!(
                    help_text.contains(name),
                    "{document}, line {number}: {line}"
                );
            }
        }
    }
}

#[test]
fn every_link_of_a_document_leads_to_a_file() {
    for document in DOCUMENTS {
        let path = root().join(document);
        let text = text(document);
        for part in text.split("](").skip(1) {
            let link = part.split(')').next().unwrap();
            if link.contains("://") || link.starts_with('#') {
                continue;
            }
            let file = link.split('#').next().unwrap();
            assert!(
                path.parent().unwrap().join(file).exists(),
                "{document}: {link}"
            );
        }
    }
}

/// The method names the file of every formula.
#[test]
fn every_source_file_that_the_method_names_exists() {
    let source = root().join("host/src");
    let text = text("host/docs/method.md");
    let mut n = 0;
    for word in text.split(|c: char| !(c.is_ascii_alphanumeric() || "_/.".contains(c))) {
        let is_path = word.starts_with("analysis/")
            || word.starts_with("pipeline/")
            || word.starts_with("estimate");
        if is_path && word.ends_with(".rs") {
            n += 1;
            assert!(source.join(word).exists(), "{word}");
        }
    }
    assert!(n > 30, "{n} files are named");
}
