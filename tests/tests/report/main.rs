//! The report on recordings with known truth and on findings made by hand: valid, complete, honest.
//!
//! A standard HTML5 parser (html5ever) reads each page and lists what is not valid in it. All materials, rigs and
//! numbers are invented.
#![allow(clippy::unwrap_used)] // Unwrapping is how a test fails.

mod example;
mod page;

mod clock;
mod files;
mod finite;
mod golden;
mod numbers;
mod safety;
mod validity;
mod window;

use std::path::{Path, PathBuf};

use tipcurve::findings::Findings;
use tipcurve::report::{Options, ReportFile, render};
use tipcurve::units::{FlowUnit, OrificeUnit, PressureUnit, UnitChoice};

/// Findings of every recording under `tests/fixtures/`.
fn fixtures() -> &'static [Findings] {
    static FINDINGS: std::sync::OnceLock<Vec<Findings>> = std::sync::OnceLock::new();
    FINDINGS.get_or_init(|| {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures");
        let mut names: Vec<PathBuf> = std::fs::read_dir(folder)
            .unwrap()
            .flatten()
            .map(|entry| entry.path())
            .filter(|path| path.is_dir())
            .collect();
        names.sort();
        assert!(names.len() >= 10);
        names
            .iter()
            .map(|path| {
                let recording = tipcurve::interchange::import_folder(path).unwrap();
                tipcurve::pipeline::analyse(recording)
            })
            .collect()
    })
}

/// The hand-made findings and those of the recordings.
fn all_findings() -> impl Iterator<Item = Findings> {
    example::all().into_iter().chain(fixtures().iter().cloned())
}

/// Two readers whose units share nothing.
fn readers() -> [UnitChoice; 2] {
    [
        UnitChoice::default(),
        UnitChoice {
            pressure: PressureUnit::Psi,
            flow: FlowUnit::UsGallonPerMinute,
            orifice: OrificeUnit::Thou,
        },
    ]
}

/// All files of a report.
fn files(findings: &Findings, units: &UnitChoice) -> Vec<ReportFile> {
    render(findings, units, &Options::default()).unwrap()
}

/// The text of one file.
fn file<'a>(files: &'a [ReportFile], name: &str) -> &'a str {
    &files.iter().find(|f| f.name == name).unwrap().text
}

/// Pages among the files: the report and its cards.
fn pages(files: &[ReportFile]) -> impl Iterator<Item = &ReportFile> {
    files.iter().filter(|f| f.name.ends_with(".html"))
}
