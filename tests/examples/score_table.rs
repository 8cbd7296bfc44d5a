//! Scores fixtures and simulated trials against their truth and prints one table for each.
//!
//! `cargo run --release -p tipcurve-tests --example score_table -- FIXTURES SEEDS > tests/SCORES.md`: every
//! recording of the folder, then each kind of trial with that many seeds. The truth is asked only after the
//! analysis has answered.
#![allow(clippy::print_stdout, clippy::unwrap_used)]

use std::path::PathBuf;

use tipcurve::simulate::scenario::TrialKind;
use tipcurve_tests::score::score;
use tipcurve_tests::score_table::ScoreTable;
use tipcurve_tests::trials::score_trial;
use tipcurve_tests::truth::read_truth;

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let [folder, seeds] = &words[..] else {
        panic!("score_table FIXTURES SEEDS");
    };
    println!("# Scores against the truth\n");
    println!(
        "Made by `examples/score_table.rs`. Covered: by the 95 % interval. Notes: on the right burst, set aside as"
    );
    println!("ambiguous, on a wrong one.\n");
    println!("## Recordings of the independent simulator\n");
    println!("{}", fixtures(&PathBuf::from(folder)).to_markdown());
    println!("## Trials of the project's own simulated rig\n");
    println!("{}", simulated(seeds.parse().unwrap()).to_markdown());
}

fn fixtures(folder: &std::path::Path) -> ScoreTable {
    let mut paths: Vec<PathBuf> = std::fs::read_dir(folder)
        .unwrap()
        .flatten()
        .map(|e| e.path())
        .collect();
    paths.retain(|p| p.to_string_lossy().ends_with(".truth.json"));
    paths.sort();
    let mut table = ScoreTable::default();
    for path in paths {
        let recording = path.to_string_lossy().replace(".truth.json", "");
        let recording = tipcurve::interchange::import_folder(&PathBuf::from(recording)).unwrap();
        let findings = tipcurve::pipeline::analyse(recording);
        let truth = read_truth(&path);
        table.push(&truth, &score(&findings, &truth));
    }
    table
}

fn simulated(seeds: u64) -> ScoreTable {
    let mut table = ScoreTable::default();
    for kind in TrialKind::ALL {
        for seed in 0..seeds {
            let one = score_trial(kind, seed);
            if !one.score.is_right || !one.score.forbidden.is_empty() {
                eprintln_case(&one.findings.name, &one.score.label, &one.score.forbidden);
            }
            table.push(&one.truth, &one.score);
        }
    }
    table
}

/// Cases to look at, on the error stream so that the table stays a table.
#[allow(clippy::print_stderr)]
fn eprintln_case(name: &str, label: &str, forbidden: &[String]) {
    eprintln!("{name}: {label} {forbidden:?}");
}
