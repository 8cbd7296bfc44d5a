//! Recordings held against an earlier one, as a person and a program read it.
//!
//! [`text`] is for the terminal, [`json`] for programs (see `report/COMPARE_JSON.md`), [`write`] makes the page with
//! the which-curve-moved figure. All three say the same sentences; each number of the page stands in
//! `compare.json`. Decides nothing.

mod json;
mod page;
mod view;
mod words;

use std::path::{Path, PathBuf};

use super::cautions::SHORT;
use super::number::{NBSP, Show};
use super::{Options, ReportError, ReportFile, write_files};
use crate::findings::Findings;
use crate::pipeline::compare_days::DaysMove;
use crate::units::UnitChoice;
use view::CompareView;

pub use json::json;

/// Name of the page.
pub const COMPARE_PAGE: &str = "compare.html";
/// Name of the results.
pub const COMPARE_RESULT: &str = "compare.json";

/// One baseline and what was held against it.
#[derive(Debug, Clone)]
pub struct Compared<'a> {
    /// The earliest recording.
    pub before: &'a Findings,
    /// Each later one with what moved.
    pub later: Vec<(&'a Findings, DaysMove)>,
}

/// The comparison as plain text: no colour, no markup, lines of any length.
#[must_use]
pub fn text(compared: &Compared, units: &UnitChoice) -> String {
    let view = CompareView::new(compared, Show { units: *units });
    let mut lines = vec![view.title.clone()];
    lines.extend(view.notices.iter().map(|n| n.to_text()));
    for day in &view.days {
        lines.push(String::new());
        lines.push(day.title.clone());
        lines.extend(day.notes.iter().map(|n| format!("  {}", n.to_text())));
        for part in &day.parts {
            lines.push(format!("  {}", part.heading.to_text()));
            lines.extend(part.facts.iter().map(|f| format!("    {}", f.to_text())));
            lines.push(format!("    {}: {}", part.state, part.headline));
            for (advice, caution) in &part.advice {
                lines.push(format!("    - {advice}"));
                lines.extend(caution.map(|c| format!("      Caution. {c}")));
            }
        }
        lines.extend(day.left_out.iter().map(|l| format!("  {}", l.to_text())));
    }
    lines.push(String::new());
    lines.push(SHORT.to_owned());
    let mut out = lines.join("\n").replace(NBSP, " ");
    out.push('\n');
    out
}

/// Makes page and results.
///
/// *Errors*: a figure that could not be drawn, or what the JSON writer says.
pub fn render(
    compared: &Compared,
    units: &UnitChoice,
    options: &Options,
) -> Result<Vec<ReportFile>, ReportError> {
    let show = Show { units: *units };
    let view = CompareView::new(compared, show);
    let mut result = json(compared, units).map_err(|source| ReportError::Json { source })?;
    result.push('\n');
    Ok(vec![
        ReportFile {
            name: COMPARE_PAGE.to_owned(),
            text: page::page(compared, &view, show, options)?,
        },
        ReportFile {
            name: COMPARE_RESULT.to_owned(),
            text: result,
        },
    ])
}

/// Writes page and results into a folder, which is made when it is not there; gives the page.
///
/// *Errors*: each case of [`ReportError`]; on [`ReportError::Exists`] nothing was touched.
pub fn write(
    compared: &Compared,
    units: &UnitChoice,
    folder: &Path,
    options: &Options,
) -> Result<PathBuf, ReportError> {
    let files = render(compared, units, options)?;
    let guarded = [COMPARE_PAGE, COMPARE_RESULT];
    write_files(folder, &files, &guarded, options.overwrite)?;
    Ok(folder.join(COMPARE_PAGE))
}

#[cfg(test)]
mod tests;
