//! Expected outputs: the terminal's text and the keys of `result.json`.
//!
//! `TIPCURVE_REWRITE_GOLDEN=1` writes the files anew; the difference is then reviewed.

use std::collections::BTreeSet;
use std::path::PathBuf;

use serde_json::Value;
use tipcurve::report::summary;

use super::{example, file, files, readers};

fn check(name: &str, text: &str) {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("golden/report")
        .join(name);
    if std::env::var_os("TIPCURVE_REWRITE_GOLDEN").is_some() {
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(&path, text).unwrap();
    }
    let expected = std::fs::read_to_string(&path).unwrap();
    let (mut got, mut wanted) = (text.lines(), expected.lines());
    for line in 1.. {
        let (got, wanted) = (got.next(), wanted.next());
        assert_eq!(
            got, wanted,
            "{name}, line {line}: where this is meant, write the file anew with TIPCURVE_REWRITE_GOLDEN=1 and review the difference"
        );
        if got.is_none() {
            break;
        }
    }
    assert!(text == expected, "{name}: line ends differ");
}

#[test]
fn the_terminal_says_what_it_always_said() {
    check("summary-bar.txt", &summary(&example::yard(), &readers()[0]));
    check("summary-psi.txt", &summary(&example::yard(), &readers()[1]));
    check(
        "summary-every-kind.txt",
        &summary(&example::every_kind(), &readers()[0]),
    );
    check(
        "summary-empty.txt",
        &summary(&example::empty(), &readers()[0]),
    );
}

/// Keys of the file, with `[]` for any index: a key that goes or is renamed raises the schema's version.
#[test]
fn the_keys_of_the_results_are_stable() {
    let files = files(&example::every_kind(), &readers()[0]);
    let value: Value = serde_json::from_str(file(&files, "result.json")).unwrap();
    assert_eq!(value["schema"], "tipcurve-result");
    assert_eq!(value["schema_version"], 1);
    let mut keys = BTreeSet::new();
    gather(&value, String::new(), &mut keys);
    let text: String = keys.iter().map(|k| format!("{k}\n")).collect();
    check("result-keys.txt", &text);
}

/// Every key of the file is explained in its description, and every word that a key may hold.
#[test]
fn the_description_names_every_key() {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../host/src/report/RESULT_JSON.md");
    let description = std::fs::read_to_string(path).unwrap();
    let files = files(&example::every_kind(), &readers()[0]);
    let value: Value = serde_json::from_str(file(&files, "result.json")).unwrap();
    for key in value.as_object().unwrap().keys() {
        assert!(description.contains(&format!("`{key}`")), "{key}");
    }
    for verdict in value["verdicts"].as_array().unwrap() {
        let mut words = vec![
            verdict["kind"].clone(),
            verdict["next_trial"]["trial"].clone(),
        ];
        words.extend(verdict["advice"].as_array().unwrap().clone());
        for word in words {
            let word = word.as_str().unwrap().to_owned();
            assert!(description.contains(&format!("`{word}`")), "{word}");
        }
    }
}

fn gather(value: &Value, path: String, keys: &mut BTreeSet<String>) {
    match value {
        Value::Object(map) => {
            for (key, value) in map {
                gather(value, format!("{path}/{key}"), keys);
            }
        }
        Value::Array(list) if !list.is_empty() => {
            for value in list {
                gather(value, format!("{path}[]"), keys);
            }
        }
        _ => {
            keys.insert(path);
        }
    }
}
