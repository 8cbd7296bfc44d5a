//! Parquet: the season from its summaries, a recording in rows.

use std::fs;

use serde_json::Value;
use tipcurve::recording::folder::{SAMPLES, SESSION};

use crate::compare::every_number_of_the_page_is_in_the_result;
use crate::scratch::Scratch;
use crate::{day, done, fixture, json, run, text};

#[test]
fn a_season_is_read_from_its_summaries_and_only_what_is_new_is_analysed() {
    let scratch = Scratch::new("season");
    let season = scratch.join("season");
    fs::create_dir_all(&season).unwrap();
    for (i, opened) in [1.0, 1.01, 1.02, 1.03, 1.04].into_iter().enumerate() {
        let name = format!("week-{i}");
        day(&season, &name, 7.0 * i as f64, opened);
    }
    let first = json(&run(
        scratch.path(),
        &["compare", "--season", "season", "--json"],
    ));
    assert_eq!(first["n_recordings"], 5);
    let tip = &first["tips"][0];
    assert_eq!(
        (&tip["n_on_line"], &tip["change"]),
        (&5.into(), &"moved_up".into()),
        "{tip}"
    );
    let summary = season.join("week-0/report/curves.parquet");
    let written = fs::metadata(&summary).unwrap().modified().unwrap();
    // Read again: nothing is made anew, and the answer is the same.
    let second = json(&run(
        scratch.path(),
        &["compare", "--season", "season", "--json"],
    ));
    assert_eq!(second, first);
    assert_eq!(fs::metadata(&summary).unwrap().modified().unwrap(), written);
    // A recording that changed is read afresh.
    let session = season.join("week-0").join(SESSION);
    let more = fs::read_to_string(&session).unwrap() + "# looked through\n";
    fs::write(&session, more).unwrap();
    done(&run(
        scratch.path(),
        &["compare", "--season", "season", "--output", "page"],
    ));
    assert_ne!(fs::metadata(&summary).unwrap().modified().unwrap(), written);
    let page = fs::read_to_string(scratch.join("page/season.html")).unwrap();
    let result: Value =
        serde_json::from_str(&fs::read_to_string(scratch.join("page/season.json")).unwrap())
            .unwrap();
    every_number_of_the_page_is_in_the_result(&page, &result);
}

#[test]
fn a_recording_exported_to_parquet_has_its_rows() {
    let scratch = Scratch::new("parquet");
    let folder = text(&fixture("rec-10"));
    done(&run(
        scratch.path(),
        &["export", &folder, "--output", "out", "--format", "parquet"],
    ));
    for name in ["samples.parquet", "notes.parquet", SESSION] {
        assert!(scratch.join("out").join(name).is_file(), "{name}");
    }
    assert!(!scratch.join("out").join(SAMPLES).exists());
}
