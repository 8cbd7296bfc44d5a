//! Writing: nothing is overwritten unasked, nothing stale is left, nothing grows without bound.

use std::fs;
use std::path::PathBuf;

use tipcurve::report::{Options, ReportError, write};

use super::{example, file, files, readers};

/// A folder of its own below the build's scratch folder, empty.
fn scratch(name: &str) -> PathBuf {
    let path = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(format!("report-{name}"));
    let _ = fs::remove_dir_all(&path);
    fs::create_dir_all(&path).unwrap();
    path
}

#[test]
fn a_report_in_the_way_is_left_as_it_is() {
    let folder = scratch("exists");
    fs::write(folder.join("report.html"), "mine").unwrap();
    let error = write(
        &example::yard(),
        &readers()[0],
        &folder,
        &Options::default(),
    )
    .unwrap_err();
    assert!(matches!(error, ReportError::Exists { .. }));
    let place = folder.join("report.html");
    assert_eq!(
        error.to_string(),
        format!(
            "{}: there is a report already; nothing was overwritten",
            place.display()
        )
    );
    assert_eq!(fs::read_to_string(place).unwrap(), "mine");
    assert_eq!(fs::read_dir(&folder).unwrap().count(), 1);
}

#[test]
fn overwriting_removes_cards_and_figures_that_the_new_report_does_not_have() {
    let folder = scratch("stale");
    let options = Options {
        overwrite: true,
        ..Options::default()
    };
    let mut findings = example::yard();
    let first = write(&findings, &readers()[0], &folder, &options).unwrap();
    assert_eq!(first.cards.len(), 1);
    fs::write(folder.join("card-notes.html"), "a person's own").unwrap();
    findings.verdicts.remove(0);
    let second = write(&findings, &readers()[0], &folder, &options).unwrap();
    assert!(second.cards.is_empty());
    assert!(!first.cards[0].exists(), "an old card stayed");
    assert!(folder.join("card-notes.html").exists());
    for path in second
        .figures
        .iter()
        .chain([&second.report, &second.result])
    {
        assert!(path.exists(), "{}", path.display());
    }
    let parts = fs::read_dir(&folder)
        .unwrap()
        .flatten()
        .filter(|e| e.file_name().to_string_lossy().ends_with(".part"));
    assert_eq!(parts.count(), 0);
}

#[test]
fn a_folder_that_cannot_be_made_is_named() {
    let folder = scratch("blocked").join("file");
    fs::write(&folder, "in the way").unwrap();
    let error = write(
        &example::yard(),
        &readers()[0],
        &folder.join("sub"),
        &Options::default(),
    )
    .unwrap_err();
    assert!(error.to_string().contains("cannot write"), "{error}");
}

/// Eight hours at 100 Hz: the page holds a bounded drawing of it, not the readings.
#[test]
fn a_page_of_eight_hours_stays_small() {
    let mut findings = example::yard();
    let n = 8 * 3600 * 100;
    findings.signal.t_s = (0..n).map(|i| f64::from(i) * 0.01).collect();
    findings.signal.pressure_pa = (0..n)
        .map(|i| 60e5 + 40e5 * (f64::from(i) * 0.37).sin())
        .collect();
    let files = files(&findings, &readers()[0]);
    let size = file(&files, "report.html").len();
    assert!(size < 1_500_000, "{size}");
}

#[test]
fn the_same_findings_give_the_same_bytes() {
    let one = files(&example::every_kind(), &readers()[0]);
    assert_eq!(one, files(&example::every_kind(), &readers()[0]));
}
