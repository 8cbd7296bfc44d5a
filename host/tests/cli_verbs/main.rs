//! `plan`, `compare` and `export` as a person calls them: the built program, its words, JSON and exit codes.
//!
//! Good input is the repository's fixtures (made by an independent simulator, every name invented) and recordings of
//! the simulated rig; bad input and none are made here. The environment is cleared; nothing touches the network.
#![allow(
    clippy::unwrap_used,
    reason = "a test fails by unwrapping, its helpers too"
)]

mod compare;
mod export;
mod help;
mod plan;
#[path = "../../src/scratch.rs"]
#[allow(dead_code, unreachable_pub)] // Another part of it is used elsewhere.
mod scratch;
#[cfg(feature = "tables")]
mod tables;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use serde_json::Value;
use tipcurve::recording::folder::{NOTES, SAMPLES, SESSION};
use tipcurve::simulate;
use tipcurve::simulate::scenario::{Scenario, TrialKind, trial};

fn fixture(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/fixtures");
    folder.join(name)
}

/// Runs the program in a folder with an empty environment.
fn run(folder: &Path, args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_tipcurve"))
        .args(args)
        .current_dir(folder)
        .env_clear()
        .output()
        .unwrap()
}

#[track_caller]
fn done(output: &Output) -> String {
    let error = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(0), "{error}");
    assert_eq!(error, "", "quiet when piped");
    String::from_utf8(output.stdout.clone()).unwrap()
}

#[track_caller]
fn refused(output: &Output) -> String {
    let error = String::from_utf8(output.stderr.clone()).unwrap();
    assert_eq!(output.status.code(), Some(2), "{error}");
    assert!(output.stdout.is_empty(), "{output:?}");
    assert!(!error.contains('\u{1b}'), "no colour when piped");
    error
}

fn text(path: &Path) -> String {
    path.to_str().unwrap().to_owned()
}

fn json(output: &Output) -> Value {
    let said = done(output);
    assert!(!said.contains("NaN"), "{said}");
    serde_json::from_str(&said).unwrap()
}

/// Copies a fixture, with its session file changed.
fn changed(name: &str, to: &Path, change: impl Fn(String) -> String) {
    fs::create_dir_all(to).unwrap();
    for file in [SAMPLES, NOTES] {
        fs::copy(fixture(name).join(file), to.join(file)).unwrap();
    }
    let session = fs::read_to_string(fixture(name).join(SESSION)).unwrap();
    fs::write(to.join(SESSION), change(session)).unwrap();
}

/// A trial of the simulated rig, days later, its tip opened by a factor on the diameter.
fn day(folder: &Path, name: &str, days: f64, opened: f64) -> PathBuf {
    let mut scenario: Scenario = trial(TrialKind::HealthyWindow, 11);
    scenario.name = name.to_owned();
    scenario.start.unix_s += days * 86_400.0;
    scenario.start.is_told = true;
    for tip in &mut scenario.tips {
        tip.orifice.diameter_m *= opened;
    }
    let path = folder.join(name);
    simulate::run(&scenario, &path).unwrap();
    path
}
