//! What a person sees: one self-contained page, its figures, setting cards and `result.json`.
//!
//! [`render`] makes all files in memory, [`write`] puts them into a folder, [`summary`] is for the terminal. All of
//! them come from [`Findings`] alone: decides nothing, computes nothing. Numbers are shown in the
//! reader's units, no finer than their uncertainty, and each one stands in `result.json` with its SI value
//! (see `report/RESULT_JSON.md`). Tables as CSV and Parquet are [`crate::table`]'s.

mod card;
mod card_data;
mod cautions;
pub mod class;
pub mod compare;
pub mod endurance;
mod figure;
mod html;
mod json;
mod number;
mod piece;
pub mod plan;
pub mod season;
mod text;
mod view;
mod wording;

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use thiserror::Error;

use crate::findings::Findings;
use crate::units::UnitChoice;
use view::View;

/// Name of the page.
pub const REPORT_FILE: &str = "report.html";
/// Name of the results.
pub const RESULT_FILE: &str = "result.json";
/// Name of the folder of figures.
pub const FIGURE_FOLDER: &str = "figures";

/// What the caller may choose.
#[derive(Debug, Clone, PartialEq)]
pub struct Options {
    /// When the report was made, as it shall be shown; no clock is read here.
    pub made_at: Option<String>,
    /// Replace an earlier report in the folder.
    pub overwrite: bool,
    /// Speed of the hand that the setting cards give the film for, m/s.
    pub hand_speed_m_per_s: f64,
    /// Overlap of neighbouring passes that the setting cards give the film for, 0 to 0.9.
    pub overlap_ratio: f64,
}

impl Default for Options {
    /// Half a metre a second and half a fan of overlap (common practice, no source).
    fn default() -> Self {
        Self {
            made_at: None,
            overwrite: false,
            hand_speed_m_per_s: 0.5,
            overlap_ratio: 0.5,
        }
    }
}

/// One file of a report.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReportFile {
    /// Name below the report's folder, with `/`.
    pub name: String,
    /// Text of the file.
    pub text: String,
}

/// Where a report was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Written {
    /// The page.
    pub report: PathBuf,
    /// The results.
    pub result: PathBuf,
    /// Figures as SVG.
    pub figures: Vec<PathBuf>,
    /// Setting cards, one for each open window.
    pub cards: Vec<PathBuf>,
}

/// Why a report was not written.
#[derive(Debug, Error)]
pub enum ReportError {
    /// There is a report already.
    #[error("{}: there is a report already; nothing was overwritten", path.display())]
    Exists {
        /// The file in the way.
        path: PathBuf,
    },
    /// A file or folder cannot be written.
    #[error("{}: cannot write: {source}", path.display())]
    Write {
        /// File or folder.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// A figure could not be drawn.
    #[error("a figure could not be drawn: {what}")]
    Figure {
        /// What the drawing library said.
        what: String,
    },
    /// The results could not be written as JSON.
    #[error("{RESULT_FILE}: {source}")]
    Json {
        /// What the JSON writer said.
        source: serde_json::Error,
    },
}

/// Makes all files of a report, the page first.
///
/// *Errors*: [`ReportError::Figure`] and [`ReportError::Json`]; neither depends on what a user wrote.
pub fn render(
    findings: &Findings,
    units: &UnitChoice,
    options: &Options,
) -> Result<Vec<ReportFile>, ReportError> {
    let view = View::new(findings, *units, options)?;
    let mut extra = html::figure_files(&view);
    extra.extend(card::cards(findings, *units, options)?);
    let mut names = vec![REPORT_FILE.to_owned(), RESULT_FILE.to_owned()];
    names.extend(extra.iter().map(|f| f.name.clone()));
    let document = json::Document::new(findings, *units, options, names);
    let mut files = vec![
        ReportFile {
            name: REPORT_FILE.to_owned(),
            text: html::page(&view, options),
        },
        ReportFile {
            name: RESULT_FILE.to_owned(),
            text: document
                .to_text()
                .map_err(|source| ReportError::Json { source })?,
        },
    ];
    files.extend(extra);
    Ok(files)
}

/// Writes a report into a folder, which is made when it is not there.
///
/// Every file is written under another name first and moved into place when all are complete, so that a
/// full disk leaves no half a report. With [`Options::overwrite`], figures and cards of the earlier report
/// that this one does not have are removed: an old card must not be taken for a new one.
///
/// *Errors*: each case of [`ReportError`]; on [`ReportError::Exists`] nothing was touched.
pub fn write(
    findings: &Findings,
    units: &UnitChoice,
    folder: &Path,
    options: &Options,
) -> Result<Written, ReportError> {
    check_place(folder, options)?;
    let files = render(findings, units, options)?;
    place(folder, &files, || remove_stale(folder, &files))?;
    Ok(written(folder, &files))
}

/// Says whether [`write`] would find a report in its way, for callers with long work before it.
///
/// *Errors*: [`ReportError::Exists`].
pub fn check_place(folder: &Path, options: &Options) -> Result<(), ReportError> {
    check_absent(folder, &[REPORT_FILE, RESULT_FILE], options.overwrite)
}

/// Writes files into a folder, which is made when it is not there: each under another name first, then
/// moved into place.
///
/// *Errors*: [`ReportError::Exists`] when one of `guarded` is there already and `overwrite` is false (then
/// nothing was touched), and [`ReportError::Write`].
pub(crate) fn write_files(
    folder: &Path,
    files: &[ReportFile],
    guarded: &[&str],
    overwrite: bool,
) -> Result<(), ReportError> {
    check_absent(folder, guarded, overwrite)?;
    place(folder, files, || Ok(()))
}

fn check_absent(folder: &Path, guarded: &[&str], overwrite: bool) -> Result<(), ReportError> {
    let there = guarded.iter().map(|name| folder.join(name));
    match there.into_iter().find(|path| !overwrite && path.exists()) {
        Some(path) => Err(ReportError::Exists { path }),
        None => Ok(()),
    }
}

/// Writes all files beside their places, then moves them in; `between` runs when all are complete.
fn place(
    folder: &Path,
    files: &[ReportFile],
    between: impl FnOnce() -> Result<(), ReportError>,
) -> Result<(), ReportError> {
    for file in files {
        let path = folder.join(&file.name);
        if let Some(parent) = path.parent() {
            fs::create_dir_all(parent).map_err(|source| ReportError::Write {
                path: parent.to_owned(),
                source,
            })?;
        }
    }
    let parts = files
        .iter()
        .map(|f| write_part(folder, f))
        .collect::<Result<Vec<_>, _>>()?;
    between()?;
    for (part, file) in parts.iter().zip(files) {
        let path = folder.join(&file.name);
        fs::rename(part, &path).map_err(|source| ReportError::Write { path, source })?;
    }
    Ok(())
}

fn write_part(folder: &Path, file: &ReportFile) -> Result<PathBuf, ReportError> {
    let path = folder.join(format!("{}.part", file.name));
    fs::write(&path, &file.text).map_err(|source| ReportError::Write {
        path: path.clone(),
        source,
    })?;
    Ok(path)
}

/// Removes figures and cards that an earlier report listed in its results and this one does not write.
fn remove_stale(folder: &Path, files: &[ReportFile]) -> Result<(), ReportError> {
    let Ok(earlier) = fs::read_to_string(folder.join(RESULT_FILE)) else {
        return Ok(());
    };
    for name in json::listed_files(&earlier) {
        let is_ours = html::is_figure_name(&name) || card::is_card_name(&name);
        if !is_ours || files.iter().any(|f| f.name == name) {
            continue;
        }
        let path = folder.join(&name);
        match fs::remove_file(&path) {
            Ok(()) => {}
            Err(e) if e.kind() == io::ErrorKind::NotFound => {}
            Err(source) => return Err(ReportError::Write { path, source }),
        }
    }
    Ok(())
}

fn written(folder: &Path, files: &[ReportFile]) -> Written {
    let list = |test: fn(&str) -> bool| {
        files
            .iter()
            .filter(|f| test(&f.name))
            .map(|f| folder.join(&f.name))
            .collect()
    };
    Written {
        report: folder.join(REPORT_FILE),
        result: folder.join(RESULT_FILE),
        figures: list(html::is_figure_name),
        cards: list(card::is_card_name),
    }
}

/// The verdicts as plain text for a terminal: no colour, no markup, lines of any length.
#[must_use]
pub fn summary(findings: &Findings, units: &UnitChoice) -> String {
    text::summary(findings, *units)
}
