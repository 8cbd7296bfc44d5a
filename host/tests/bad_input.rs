//! The program with bad input and none: a message that says what, where and what to do, exit code 2, and nothing
//! overwritten or lost.
#![allow(clippy::unwrap_used)] // Unwrapping is how a test fails.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// A folder of this test's own, removed at the end.
struct Place(PathBuf);

impl Place {
    fn new(name: &str) -> Self {
        let path = std::env::temp_dir().join(format!("tipcurve-bad-{}-{name}", std::process::id()));
        let _ = fs::remove_dir_all(&path);
        fs::create_dir_all(&path).unwrap();
        Self(path)
    }

    /// A copy of a stored recording.
    fn recording(&self, name: &str) -> PathBuf {
        let from = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("../tests/fixtures")
            .join(name);
        let to = self.0.join(name);
        fs::create_dir_all(&to).unwrap();
        for entry in fs::read_dir(from).unwrap().flatten() {
            fs::copy(entry.path(), to.join(entry.file_name())).unwrap();
        }
        to
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

/// Every file below a folder with its bytes.
fn contents(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut all = BTreeMap::new();
    for entry in fs::read_dir(folder).unwrap().flatten() {
        let path = entry.path();
        if path.is_dir() {
            all.extend(contents(&path));
        } else {
            let bytes = fs::read(&path).unwrap();
            all.insert(path, bytes);
        }
    }
    all
}

fn run(words: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_tipcurve"))
        .args(words)
        .env("NO_COLOR", "1")
        .output()
        .unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// The program refuses with exit code 2, says all of `says`, and leaves the folder as it was.
#[track_caller]
fn refuses(words: &[&str], folder: &Path, says: &[&str]) {
    let before = contents(folder);
    let output = run(words);
    let stderr = text(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{words:?}: {stderr}");
    for part in says {
        assert!(stderr.contains(part), "{words:?}: no {part:?} in {stderr}");
    }
    assert!(!stderr.contains("panicked"), "{stderr}");
    assert_eq!(before, contents(folder), "{words:?} changed the folder");
}

/// Reports on a recording; gives the first verdict of `result.json` and the whole of it.
#[track_caller]
fn report(recording: &Path) -> (String, serde_json::Value) {
    let output = run(&["report", recording.to_str().unwrap(), "--json"]);
    let stderr = text(&output.stderr);
    assert_eq!(output.status.code(), Some(0), "{stderr}");
    let all: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let result = all[0].clone();
    let kind = result["verdicts"][0]["kind"].as_str().unwrap_or("none");
    (kind.to_owned(), result)
}

fn edit(recording: &Path, file: &str, change: impl Fn(&str) -> String) {
    let path = recording.join(file);
    let before = fs::read_to_string(&path).unwrap();
    fs::write(&path, change(&before)).unwrap();
}

#[test]
fn no_words_and_misspelt_words_are_answered() {
    let output = run(&[]);
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("report"));
    let output = run(&["reprot", "x"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(
        text(&output.stderr).contains("report"),
        "{}",
        text(&output.stderr)
    );
}

#[test]
fn folders_that_are_no_recordings_are_refused() {
    let place = Place::new("folders");
    let missing = place.0.join("nowhere");
    let missing = missing.to_str().unwrap();
    refuses(&["report", missing], &place.0, &[missing, "no such folder"]);
    let empty = place.0.join("empty");
    fs::create_dir(&empty).unwrap();
    let names = ["frames.log", "samples.csv"];
    refuses(&["report", empty.to_str().unwrap()], &place.0, &names);
    let file = place.0.join("file");
    fs::write(&file, "x").unwrap();
    refuses(
        &["report", file.to_str().unwrap()],
        &place.0,
        &["not a folder"],
    );
    let output = place.0.join("out");
    let to = ["--output", output.to_str().unwrap()];
    refuses(
        &["import", missing, to[0], to[1]],
        &place.0,
        &["samples.csv"],
    );
}

#[test]
fn foreign_files_are_refused_by_name() {
    let place = Place::new("foreign");
    for (file, bytes) in [
        ("samples.csv", &b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR"[..]),
        ("samples.csv", b""),
        ("samples.csv", b"time;value\n1;2\n"),
        ("notes.csv", b"\xff\xfe\0\0"),
        ("session.toml", b"date = [unfinished"),
    ] {
        let recording = place.recording("rec-01");
        fs::write(recording.join(file), bytes).unwrap();
        refuses(&["report", recording.to_str().unwrap()], &place.0, &[file]);
    }
    // A log of another kind: nothing in it is a frame.
    let recording = place.0.join("log");
    fs::create_dir(&recording).unwrap();
    fs::write(
        recording.join("frames.log"),
        b"GIF89a not a log at all\n".repeat(50),
    )
    .unwrap();
    let (kind, result) = report(&recording);
    assert_eq!(
        (kind.as_str(), result["bursts"].as_array().unwrap().len()),
        ("none", 0)
    );
    assert!(!result["load_defects"].as_array().unwrap().is_empty());
}

#[test]
fn rows_at_fault_are_named_with_their_line() {
    let place = Place::new("rows");
    let recording = place.recording("rec-01");
    edit(&recording, "samples.csv", |t| {
        t.replacen("\n0.0195,", "\nsoon,", 1)
    });
    refuses(
        &["report", recording.to_str().unwrap()],
        &place.0,
        &["samples.csv", "line 3", "t_s"],
    );
    let recording = place.recording("rec-01");
    edit(&recording, "notes.csv", |t| {
        t.replacen("11:45:33", "quarter to", 1)
    });
    refuses(
        &["report", recording.to_str().unwrap()],
        &place.0,
        &["notes.csv", "line 2", "quarter to"],
    );
}

#[test]
fn an_earlier_report_is_kept_unless_told_otherwise() {
    let place = Place::new("earlier");
    let recording = place.recording("rec-01");
    let (kind, _) = report(&recording);
    assert_eq!(kind, "application_limit");
    let path = recording.to_str().unwrap();
    refuses(&["report", path], &place.0, &["report", "--force"]);
    assert_eq!(run(&["report", path, "--force"]).status.code(), Some(0));
}

#[test]
fn one_bad_folder_among_many_costs_only_its_own_report() {
    let place = Place::new("many");
    let good = place.recording("rec-01");
    let missing = place.0.join("nowhere");
    let output = run(&["report", missing.to_str().unwrap(), good.to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("nowhere"));
    assert!(text(&output.stdout).contains("rec-01"));
    assert!(good.join("report/report.html").exists());
}

#[test]
fn strange_notes_change_no_number_silently() {
    let place = Place::new("notes");
    let recording = place.recording("rec-01");
    // An unknown column, the first note twice, a contradiction of it, and one far outside the recording.
    edit(&recording, "notes.csv", |t| {
        let mut lines: Vec<String> = t.lines().map(|l| format!("{l},")).collect();
        lines[0].push_str("weather");
        lines.insert(2, lines[1].clone());
        lines.push("23:59:00,725,standard,satin enamel,3,8,3,0,,,,,,late,rain".into());
        lines.join("\n") + "\n"
    });
    let (_, result) = report(&recording);
    let text = result.to_string();
    assert!(
        text.contains("weather"),
        "the unknown column is not mentioned"
    );
    let notes = result["notes"].as_array().unwrap();
    let late = notes.last().unwrap();
    assert!(
        late["burst_index"].is_null() || late["is_ambiguous"] == true,
        "{late}"
    );
}

#[test]
fn too_little_is_refused_with_the_missing_measurement() {
    let place = Place::new("little");
    // No burst at all: the first second.
    let recording = place.recording("rec-01");
    edit(&recording, "samples.csv", |t| {
        t.lines().take(40).collect::<Vec<_>>().join("\n") + "\n"
    });
    let (kind, result) = report(&recording);
    assert_eq!(result["bursts"].as_array().unwrap().len(), 0);
    assert!(
        ["none", "insufficient_data"].contains(&kind.as_str()),
        "{kind}"
    );
    // One pressure only.
    let recording = place.recording("rec-13");
    let (kind, result) = report(&recording);
    assert_eq!(kind, "insufficient_data");
    assert!(
        !result["verdicts"][0]["because"]
            .as_array()
            .unwrap()
            .is_empty()
    );
    assert!(!result["verdicts"][0]["next_trial"].is_null());
    // Units mixed half-way.
    let (kind, _) = report(&place.recording("rec-15"));
    assert_eq!(kind, "insufficient_data");
    for entry in fs::read_dir(place.0.join("rec-15/report"))
        .unwrap()
        .flatten()
    {
        if let Ok(page) = fs::read_to_string(entry.path()) {
            assert!(!page.contains("NaN"), "{:?}", entry.path());
        }
    }
}

#[test]
fn notes_and_new_folders_never_overwrite() {
    let place = Place::new("keep");
    let recording = place.recording("rec-01");
    let path = recording.to_str().unwrap();
    refuses(&["new", path], &place.0, &[path, "is there already"]);
    let source = place.recording("rec-04");
    let words = ["import", source.to_str().unwrap(), "--output", path];
    refuses(&words, &place.0, &["already exists"]);
    let missing = place.0.join("nowhere");
    refuses(
        &["note", missing.to_str().unwrap(), "--tails", "2"],
        &place.0,
        &["nowhere"],
    );
}
