//! `export`: files for other programs, and back.

use std::fs;

use tipcurve::recording::folder::SAMPLES;
use tipcurve::simulate;
use tipcurve::simulate::scenario::{TrialKind, trial};

use crate::scratch::Scratch;
use crate::{done, fixture, json, refused, run, text};

#[test]
fn what_is_exported_comes_back_with_the_same_verdict() {
    let scratch = Scratch::new("export");
    // A logger's own recording: frames, not rows.
    let mut scenario = trial(TrialKind::SupplyLimitPower, 5);
    scenario.name = "logged".to_owned();
    scenario.logging = simulate::scenario::Logging::Device {
        sample_rate_hz: 200,
    };
    simulate::run(&scenario, &scratch.join("logged")).unwrap();
    let said = done(&run(scratch.path(), &["export", "logged"]));
    assert!(
        said.contains("samples.csv, notes.csv, session.toml"),
        "{said}"
    );
    done(&run(
        scratch.path(),
        &["import", "logged-export", "--output", "back"],
    ));
    let verdicts = |name: &str| {
        let said = json(&run(scratch.path(), &["report", name, "--json"]));
        let list = said[0]["verdicts"].as_array().unwrap().clone();
        list.iter()
            .map(|v| (v["kind"].clone(), v["group_index"].clone()))
            .collect::<Vec<_>>()
    };
    assert_eq!(verdicts("logged"), verdicts("back"));
    // Never over anything.
    let before = fs::read(scratch.join("logged-export").join(SAMPLES)).unwrap();
    let said = refused(&run(scratch.path(), &["export", "logged"]));
    assert!(said.contains("nothing was exported"), "{said}");
    assert_eq!(
        fs::read(scratch.join("logged-export").join(SAMPLES)).unwrap(),
        before
    );
    let said = refused(&run(scratch.path(), &["export", "nowhere"]));
    assert!(said.contains("no such folder"), "{said}");
    let said = refused(&run(
        scratch.path(),
        &["export", "logged", "--format", "parket"],
    ));
    assert!(said.contains("parquet"), "{said}");
}

#[cfg(not(feature = "tables"))]
#[test]
fn without_parquet_the_verbs_say_that_they_need_it_and_make_nothing() {
    let scratch = Scratch::new("no-parquet");
    let folder = text(&fixture("rec-10"));
    let said = refused(&run(
        scratch.path(),
        &["export", &folder, "--output", "out", "--format", "parquet"],
    ));
    assert!(said.contains("has no Parquet"), "{said}");
    assert!(!scratch.join("out").exists());
    let said = refused(&run(scratch.path(), &["compare", "--season", "."]));
    assert!(said.contains("the season view needs it"), "{said}");
}
