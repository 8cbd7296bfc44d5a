//! The cordless check on paper: one page with its figures, and `endurance.json`.
//!
//! Made from [`EnduranceFindings`] alone; decides nothing, computes nothing. Numbers are shown in the reader's
//! units, no finer than their uncertainty; each stands in `endurance.json` (see `ENDURANCE_JSON.md`).

mod json;
mod page;
mod tables;
mod words;

use std::path::{Path, PathBuf};

use super::number::Show;
use super::{ReportError, ReportFile, write_files};
use crate::energy_findings::EnduranceFindings;
use crate::units::UnitChoice;

/// Name of the page.
pub const ENDURANCE_PAGE: &str = "endurance.html";
/// Name of the results.
pub const ENDURANCE_RESULT: &str = "endurance.json";
/// Version of the results' format: raised when a key changes its meaning or goes.
const ENDURANCE_SCHEMA_VERSION: u32 = 1;

/// Makes both files, the page first.
///
/// *Errors*: [`ReportError::Figure`] and [`ReportError::Json`]; neither depends on what a user wrote.
pub fn render(
    found: &EnduranceFindings,
    units: &UnitChoice,
    made_at: Option<&str>,
) -> Result<Vec<ReportFile>, ReportError> {
    let show = Show { units: *units };
    let document = json::Document::new(found, *units, made_at.map(str::to_owned));
    Ok(vec![
        ReportFile {
            name: ENDURANCE_PAGE.to_owned(),
            text: page::page(found, show, made_at)?,
        },
        ReportFile {
            name: ENDURANCE_RESULT.to_owned(),
            text: document
                .to_text()
                .map_err(|source| ReportError::Json { source })?,
        },
    ])
}

/// Writes both files into a folder; gives the path of the page.
///
/// *Errors*: as [`render`]; an earlier page in the folder unless `overwrite`; what the system says.
pub fn write(
    found: &EnduranceFindings,
    units: &UnitChoice,
    folder: &Path,
    made_at: Option<&str>,
    overwrite: bool,
) -> Result<PathBuf, ReportError> {
    let files = render(found, units, made_at)?;
    write_files(
        folder,
        &files,
        &[ENDURANCE_PAGE, ENDURANCE_RESULT],
        overwrite,
    )?;
    Ok(folder.join(ENDURANCE_PAGE))
}

/// The check in a few lines for a terminal.
#[must_use]
pub fn summary(found: &EnduranceFindings, units: &UnitChoice) -> String {
    words::summary(found, Show { units: *units })
}

#[cfg(test)]
mod tests;
