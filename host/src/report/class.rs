//! A class on paper: a page for the teacher with its figures, a worksheet for each student, `class.json`.
//!
//! Made from [`ClassFindings`] alone; decides nothing, computes nothing but percentages of logarithms.
//! Numbers are shown in the reader's units, no finer than their uncertainty; each stands in `class.json`
//! (see `CLASS_JSON.md`).

mod json;
mod pictures;
mod teacher;
mod words;
mod worksheet;

use std::path::{Path, PathBuf};

use super::card_data::slug;
use super::number::Show;
use super::{ReportError, ReportFile, write_files};
use crate::analysis::class::{ScoreWord, StudentResult};
use crate::class_findings::{ClassFindings, Student};
use crate::estimate::Interval;
use crate::units::UnitChoice;

/// Name of the teacher's page.
pub const CLASS_PAGE: &str = "class.html";
/// Name of the results.
pub const CLASS_RESULT: &str = "class.json";
/// Version of the results' format: raised when a key changes its meaning or goes.
const CLASS_SCHEMA_VERSION: u32 = 1;
/// Folder of the worksheets.
const WORKSHEETS: &str = "worksheets";

/// Makes all files of a class, the teacher's page first, `class.json` second.
///
/// *Errors*: [`ReportError::Figure`] and [`ReportError::Json`]; neither depends on what a user wrote.
pub fn render(
    class: &ClassFindings,
    units: &UnitChoice,
    made_at: Option<&str>,
) -> Result<Vec<ReportFile>, ReportError> {
    let show = Show { units: *units };
    let mut files = vec![teacher::page(class, show, made_at)?];
    let mut sheets = Vec::new();
    for index in 0..class.students.len() {
        sheets.push(worksheet::page(class, show, index)?);
    }
    let mut names = vec![CLASS_PAGE.to_owned(), CLASS_RESULT.to_owned()];
    names.extend(sheets.iter().map(|f| f.name.clone()));
    let document = json::Document::new(class, *units, made_at.map(str::to_owned), names);
    files.push(ReportFile {
        name: CLASS_RESULT.to_owned(),
        text: document
            .to_text()
            .map_err(|source| ReportError::Json { source })?,
    });
    files.extend(sheets);
    Ok(files)
}

/// Writes a class into a folder; gives the path of the teacher's page.
///
/// *Errors*: as [`render`]; an earlier class in the folder unless `overwrite`; what the system says.
pub fn write(
    class: &ClassFindings,
    units: &UnitChoice,
    folder: &Path,
    made_at: Option<&str>,
    overwrite: bool,
) -> Result<PathBuf, ReportError> {
    let files = render(class, units, made_at)?;
    if overwrite {
        remove_stale(folder, &files);
    }
    write_files(folder, &files, &[CLASS_PAGE, CLASS_RESULT], overwrite)?;
    Ok(folder.join(CLASS_PAGE))
}

/// Removes worksheets that an earlier class listed and this one does not write: an old sheet must not be
/// taken for a new one. One that cannot be removed is left.
fn remove_stale(folder: &Path, files: &[ReportFile]) {
    let Ok(earlier) = std::fs::read_to_string(folder.join(CLASS_RESULT)) else {
        return;
    };
    let Ok(earlier) = serde_json::from_str::<serde_json::Value>(&earlier) else {
        return;
    };
    let listed = earlier["files"].as_array().into_iter().flatten();
    for name in listed.filter_map(|f| f.as_str()) {
        let sheet = name.strip_prefix("worksheets/");
        let is_ours = sheet.is_some_and(|s| s.ends_with(".html") && !s.contains(['/', '\\']));
        if is_ours && !files.iter().any(|f| f.name == name) {
            let _ = std::fs::remove_file(folder.join(name));
        }
    }
}

/// A class in a few lines for a terminal.
#[must_use]
pub fn summary(class: &ClassFindings, units: &UnitChoice) -> String {
    words::summary(class, Show { units: *units })
}

/// File name of a student's worksheet.
fn sheet_name(index: usize, student: &Student) -> String {
    format!("{WORKSHEETS}/{:02}{}.html", index + 1, slug(&student.label))
}

/// Students with at least one burst.
fn n_with_data(class: &ClassFindings) -> usize {
    let has_data = |s: &&Student| {
        s.recordings
            .iter()
            .any(|r| r.trial.as_ref().is_ok_and(|t| !t.points.is_empty()))
    };
    class.students.iter().filter(has_data).count()
}

/// Students whose score is satisfactory; `None` when nobody has a score.
fn n_agree(class: &ClassFindings) -> Option<usize> {
    class.scale?;
    let results = class.students.iter().filter_map(|s| s.result.as_ref());
    let agree = results.filter(|r| r.word == Some(ScoreWord::Satisfactory));
    Some(agree.count())
}

/// Whether a student stands out by score.
fn is_out(result: &StudentResult) -> bool {
    matches!(
        result.word,
        Some(ScoreWord::Questionable | ScoreWord::Unsatisfactory)
    )
}

/// The 95 % interval of a student's mean deviation as a share of the flow.
fn interval_of(result: &StudentResult) -> Option<Interval> {
    result.mean.map(|m| m.interval_95().map(f64::exp_m1))
}

/// A flow against its reference: 0.1 is ten percent more.
fn deviation(flow_m3_per_s: f64, reference_m3_per_s: f64) -> f64 {
    flow_m3_per_s / reference_m3_per_s - 1.0
}

#[cfg(test)]
mod tests;
