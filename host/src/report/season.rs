//! A season of recordings as a person and a program read it: tip wear over litres, pump health over months.
//!
//! [`text`] is for the terminal, [`json`] for programs (see `report/SEASON_JSON.md`), [`write`] makes the page with one
//! figure a trend. All three say the same sentences. Decides nothing.

mod json;
mod page;
mod view;

use std::path::{Path, PathBuf};

use super::cautions::SHORT;
use super::number::{NBSP, Show};
use super::{Options, ReportError, ReportFile, write_files};
use crate::analysis::season::Season;
use crate::units::UnitChoice;
use view::SeasonView;

pub use json::json;

/// Name of the page.
pub const SEASON_PAGE: &str = "season.html";
/// Name of the results.
pub const SEASON_RESULT: &str = "season.json";

/// The season as plain text: no colour, no markup, lines of any length.
#[must_use]
pub fn text(season: &Season, name: &str, units: &UnitChoice) -> String {
    let view = SeasonView::new(season, name, Show { units: *units });
    let mut lines = vec![view.title.clone()];
    lines.extend(view.notices.iter().map(|n| n.to_text()));
    for part in &view.parts {
        lines.push(String::new());
        lines.push(part.heading.to_text());
        lines.push(format!("  {}", part.headline.to_text()));
        lines.extend(part.facts.iter().map(|f| format!("  {}", f.to_text())));
        for (advice, caution) in &part.advice {
            lines.push(format!("  - {advice}"));
            lines.extend(caution.map(|c| format!("    Caution. {c}")));
        }
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
    season: &Season,
    name: &str,
    units: &UnitChoice,
    options: &Options,
) -> Result<Vec<ReportFile>, ReportError> {
    let show = Show { units: *units };
    let view = SeasonView::new(season, name, show);
    let mut result = json(season, name).map_err(|source| ReportError::Json { source })?;
    result.push('\n');
    Ok(vec![
        ReportFile {
            name: SEASON_PAGE.to_owned(),
            text: page::page(&view, options)?,
        },
        ReportFile {
            name: SEASON_RESULT.to_owned(),
            text: result,
        },
    ])
}

/// Writes page and results into a folder, which is made when it is not there; gives the page.
///
/// *Errors*: each case of [`ReportError`]; on [`ReportError::Exists`] nothing was touched.
pub fn write(
    season: &Season,
    name: &str,
    units: &UnitChoice,
    folder: &Path,
    options: &Options,
) -> Result<PathBuf, ReportError> {
    let files = render(season, name, units, options)?;
    let guarded = [SEASON_PAGE, SEASON_RESULT];
    write_files(folder, &files, &guarded, options.overwrite)?;
    Ok(folder.join(SEASON_PAGE))
}

#[cfg(test)]
mod tests;
