//! `tipcurve class` and `tipcurve endurance` as a person meets them: folders in, words, exit codes and files out.
#![allow(clippy::unwrap_used)]

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;

use serde_json::Value;

struct Said {
    code: i32,
    out: String,
    err: String,
}

fn tipcurve(words: &[&str], folder: &Path) -> Said {
    let output = Command::new(env!("CARGO_BIN_EXE_tipcurve"))
        .args(words)
        .current_dir(folder)
        .output()
        .unwrap();
    Said {
        code: output.status.code().unwrap(),
        out: String::from_utf8_lossy(&output.stdout).into_owned(),
        err: String::from_utf8_lossy(&output.stderr).into_owned(),
    }
}

/// The lesson's recordings, made once for all tests.
fn lesson() -> &'static Path {
    static LESSON: OnceLock<PathBuf> = OnceLock::new();
    LESSON.get_or_init(|| {
        let folder = scratch("hand-out-lesson");
        let said = tipcurve(&["demo", "--lesson", "--output", "lesson"], &folder);
        assert_eq!((said.code, said.err.as_str()), (0, ""), "{}", said.out);
        folder.join("lesson")
    })
}

fn scratch(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(&folder).unwrap();
    folder
}

/// A class's folder with copies of some of the lesson's recordings.
fn class_of(name: &str, recordings: &[&str]) -> PathBuf {
    let folder = scratch(name);
    for recording in recordings {
        copy(
            &lesson().join("class").join(recording),
            &folder.join(recording),
        );
    }
    folder
}

fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let path = entry.unwrap().path();
        if path.is_file() {
            fs::copy(&path, to.join(path.file_name().unwrap())).unwrap();
        }
    }
}

fn roster(folder: &Path, text: &str) {
    fs::write(folder.join("class.toml"), text).unwrap();
}

fn student(name: &str, number: &str, recording: &str) -> String {
    let number = match number {
        "" => String::new(),
        n => format!("number = \"{n}\"\n"),
    };
    format!("[[student]]\nname = \"{name}\"\n{number}recording = \"{recording}\"\n")
}

fn json(text: &str) -> Value {
    serde_json::from_str(text).unwrap()
}

#[test]
fn a_class_without_a_roster_is_told_how_to_get_one_and_the_template_runs() {
    let folder = class_of("class-template", &["bench-1-alder", "bench-1-birch"]);
    let said = tipcurve(&["class", "."], &folder);
    assert_eq!(said.code, 2);
    assert!(said.err.contains("class.toml: not found") && said.err.contains("--template"));
    let said = tipcurve(&["class", ".", "--template"], &folder);
    assert_eq!((said.code, said.err.as_str()), (0, ""));
    assert!(said.out.contains("2 recordings"), "{}", said.out);
    let again = tipcurve(&["class", ".", "--template"], &folder);
    assert_eq!(again.code, 2);
    assert!(
        again.err.contains("there is a roster already"),
        "{}",
        again.err
    );
    let said = tipcurve(&["class", "."], &folder);
    assert_eq!((said.code, said.err.as_str()), (0, ""), "{}", said.out);
    // Two curves are no consensus, and no number says otherwise.
    assert!(
        said.out.contains("a reference from the class needs 3"),
        "{}",
        said.out
    );
    assert!(!said.out.contains("Repeatability 0"), "{}", said.out);
}

#[test]
fn a_folder_that_is_not_there_or_no_folder_is_bad_input() {
    let folder = scratch("class-nothing");
    fs::write(folder.join("file"), "x").unwrap();
    for (name, words) in [("nowhere", "no such folder"), ("file", "not a folder")] {
        let said = tipcurve(&["class", name], &folder);
        assert_eq!(said.code, 2);
        assert!(
            said.err.contains(words) && said.out.is_empty(),
            "{}",
            said.err
        );
    }
}

#[test]
fn one_student_is_told_that_a_class_needs_more_and_gets_a_sheet_without_scores() {
    let folder = class_of("class-one", &["bench-1-alder"]);
    roster(&folder, &student("Ada", "", "bench-1-alder"));
    let said = tipcurve(&["class", ".", "--json"], &folder);
    assert_eq!((said.code, said.err.as_str()), (0, ""));
    let found = json(&said.out);
    assert_eq!(found["reference_refusal"]["reason"], "too_few_curves");
    assert_eq!(found["precision_refusal"], "one_student");
    assert!(found["students"][0]["deviation_ratio"].is_null());
    assert_eq!(found["notices"][1]["code"], "one_student");
    assert!(folder.join("class-report/worksheets/01-ada.html").exists());
}

#[test]
fn two_of_one_name_and_a_recording_twice_are_refused_with_their_line() {
    let folder = class_of("class-same", &["bench-1-alder", "bench-1-birch"]);
    let pair = [
        student("Ada", "", "bench-1-alder"),
        student("Ada", "", "bench-1-birch"),
    ];
    roster(&folder, &pair.concat());
    let said = tipcurve(&["class", "."], &folder);
    assert_eq!(said.code, 2);
    assert!(
        said.err
            .contains("class.toml, line 6: two blocks are named Ada"),
        "{}",
        said.err
    );
    assert!(!folder.join("class-report").exists(), "nothing was made");
    let twice = [
        student("Ada", "1", "bench-1-alder"),
        student("Bo", "2", "bench-1-alder"),
    ];
    roster(&folder, &twice.concat());
    let said = tipcurve(&["class", "."], &folder);
    assert_eq!(said.code, 2);
    assert!(said.err.contains("stands twice"), "{}", said.err);
}

#[test]
fn a_student_without_a_recording_is_named_and_the_others_are_scored() {
    let folder = class_of(
        "class-gap",
        &["bench-1-alder", "bench-1-birch", "bench-1-cedar"],
    );
    let list = [
        student("Ada", "", "bench-1-alder"),
        student("Bo", "", "bench-1-birch"),
        student("Cy", "", "bench-1-cedar"),
        student("Dee", "", "bench-9"),
    ];
    roster(
        &folder,
        &format!("expected_sd_pct = 3.0\n{}", list.concat()),
    );
    let said = tipcurve(&["class", "."], &folder);
    assert_eq!((said.code, said.err.as_str()), (0, ""));
    assert!(said.out.contains("3 of 3 students agree"), "{}", said.out);
    assert!(said.out.contains("Dee: It cannot be read"), "{}", said.out);
    let dee = fs::read_to_string(folder.join("class-report/worksheets/04-dee.html")).unwrap();
    assert!(dee.contains("Work with the bursts of a neighbour"));
    roster(&folder, &student("Dee", "", "bench-9"));
    let said = tipcurve(&["class", ".", "--force"], &folder);
    assert_eq!(said.code, 2);
    assert!(said.err.contains("none of the recordings"), "{}", said.err);
}

#[test]
fn codes_stand_for_names_in_every_file_and_stay_the_same() {
    let folder = class_of(
        "class-blind",
        &["bench-1-alder", "bench-1-birch", "bench-2-hazel"],
    );
    let list = [
        student("Adalbert", "", "bench-1-alder"),
        student("Bogdan", "", "bench-1-birch"),
        student("Cyprian", "", "bench-2-hazel"),
    ];
    roster(&folder, &list.concat());
    let said = tipcurve(&["class", ".", "--blind"], &folder);
    assert_eq!((said.code, said.err.as_str()), (0, ""));
    let key = fs::read_to_string(folder.join("blind-key.csv")).unwrap();
    assert_eq!(key.lines().next(), Some("code,student"));
    assert!(key.contains("Bogdan"));
    let mut texts = vec![said.out.clone()];
    let pages = folder.join("class-blind");
    for place in [pages.clone(), pages.join("worksheets")] {
        for entry in fs::read_dir(place).unwrap() {
            let path = entry.unwrap().path();
            texts.push(path.display().to_string().replace("class-blind", ""));
            if path.is_file() {
                texts.push(fs::read_to_string(&path).unwrap());
            }
        }
    }
    assert!(texts.len() > 8);
    for text in &texts {
        for name in ["Adalbert", "Bogdan", "Cyprian", "hazel", "bench-1"] {
            assert!(!text.contains(name), "{name}");
        }
    }
    let again = tipcurve(&["class", ".", "--blind", "--force", "--json"], &folder);
    assert_eq!(again.code, 0);
    assert_eq!(
        fs::read_to_string(folder.join("blind-key.csv")).unwrap(),
        key
    );
    let code = key.lines().nth(1).unwrap().split(',').next().unwrap();
    assert!(again.out.contains(&format!("\"label\": \"{code}\"")));
}

#[test]
fn an_earlier_page_is_kept_unless_it_may_go() {
    let folder = class_of("class-twice", &["bench-1-alder"]);
    roster(&folder, &student("Ada", "", "bench-1-alder"));
    assert_eq!(tipcurve(&["class", "."], &folder).code, 0);
    let said = tipcurve(&["class", "."], &folder);
    assert_eq!(said.code, 2);
    assert!(said.err.contains("hint: add --force"), "{}", said.err);
    assert_eq!(tipcurve(&["class", ".", "--force"], &folder).code, 0);
}

/// Every key of the results stands in their description.
fn described(found: &Value, description: &str) {
    match found {
        Value::Object(map) => {
            for (key, value) in map {
                let is_member = description.contains(&format!("`{key}`"));
                let of_estimate = [
                    "value",
                    "u_independent",
                    "u_common",
                    "dof",
                    "expanded_95",
                    "low_95",
                    "high_95",
                    "program",
                    "version",
                    "made_at",
                    "made_by",
                    "units_shown",
                    "schema_version",
                    "pressure",
                    "flow",
                    "orifice",
                    "low",
                    "high",
                    "n",
                ];
                assert!(
                    is_member || of_estimate.contains(&key.as_str()),
                    "{key} is not described"
                );
                described(value, description);
            }
        }
        Value::Array(list) => list.iter().for_each(|v| described(v, description)),
        _ => {}
    }
}

#[test]
fn the_battery_check_compares_two_and_its_results_are_described() {
    let output = scratch("endurance-both").join("page");
    let [a, b] = ["battery-a", "battery-b"].map(|n| lesson().join(n).display().to_string());
    let place = output.display().to_string();
    let words = ["endurance", &a, "--other", &b, "--output", &place, "--json"];
    let said = tipcurve(&words, lesson());
    assert_eq!((said.code, said.err.as_str()), (0, ""));
    let found = json(&said.out);
    assert_eq!(found["schema"], "tipcurve-endurance");
    assert_eq!(found["batteries"].as_array().unwrap().len(), 2);
    assert!(
        found["batteries"][0]["missing"]
            .as_array()
            .unwrap()
            .is_empty()
    );
    assert!(found["comparison"]["lines"].as_array().unwrap().len() >= 2);
    let description = include_str!("../src/report/ENDURANCE_JSON.md");
    for key in [
        "batteries",
        "comparison",
        "comparison_refusal",
        "spraying_ratio",
    ] {
        assert!(
            found.get(key).is_some() && description.contains(key),
            "{key}"
        );
    }
    let page = fs::read_to_string(output.join("endurance.html")).unwrap();
    assert!(page.contains("Two batteries") && page.contains("surgical emergency"));
}

#[test]
fn the_results_of_a_class_are_described() {
    let folder = class_of(
        "class-described",
        &["bench-1-alder", "bench-1-birch", "bench-1-cedar"],
    );
    let list = [
        student("Ada", "", "bench-1-alder"),
        student("Bo", "", "bench-1-birch"),
        student("Cy", "", "bench-1-cedar"),
        student("Dee", "", "bench-9"),
    ];
    roster(&folder, &list.concat());
    let said = tipcurve(&["class", ".", "--json"], &folder);
    assert_eq!(said.code, 0);
    let description = [
        include_str!("../src/report/CLASS_JSON.md"),
        include_str!("../src/report/RESULT_JSON.md"),
    ]
    .concat();
    described(&json(&said.out), &description);
}

#[test]
fn a_corded_rig_has_no_battery_and_is_told_so() {
    let recording = lesson().join("class/bench-1-alder").display().to_string();
    let output = scratch("endurance-corded")
        .join("page")
        .display()
        .to_string();
    let words = ["endurance", &recording, "--output", &output];
    let said = tipcurve(&words, lesson());
    assert_eq!((said.code, said.err.as_str()), (0, ""));
    assert!(
        said.out.contains("The session file names no battery"),
        "{}",
        said.out
    );
    assert!(
        said.out.contains("how long a charge runs is not known"),
        "{}",
        said.out
    );
}

#[test]
fn what_is_no_recording_or_no_share_is_bad_usage() {
    let folder = scratch("endurance-bad");
    let said = tipcurve(&["endurance", "nowhere"], &folder);
    assert_eq!(said.code, 2);
    assert!(said.err.contains("no such folder") && said.err.contains("hint: "));
    let said = tipcurve(&["endurance", "x", "--spraying", "0"], &folder);
    assert_eq!(said.code, 2);
    assert!(said.err.contains("above 0 and up to 100"), "{}", said.err);
}

#[test]
fn the_help_of_both_verbs_has_examples_that_name_them() {
    for verb in ["class", "endurance"] {
        let said = tipcurve(&[verb, "--help"], Path::new("."));
        assert_eq!(said.code, 0);
        let examples = said.out.split("Examples:").nth(1).unwrap();
        assert!(examples.matches(&format!("tipcurve {verb} ")).count() >= 3);
        assert!(examples.contains("Exit codes"));
    }
}
