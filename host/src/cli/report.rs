//! `tipcurve report`: recordings to reports.

use std::path::{Path, PathBuf};

use crate::findings::Findings;
use crate::pipeline::analyse;
use crate::recording::load::load;
use crate::report::{self, Options, ReportError};
use crate::table;
use crate::units::UnitChoice;

use super::Stop;
use super::args::ReportArgs;
use super::terminal;

pub(super) fn run(args: &ReportArgs) -> Result<(), Stop> {
    let units = args.units.choice();
    let bar = terminal::progress(args.recordings.len());
    let mut texts = Vec::new();
    let mut stops = Vec::new();
    for recording in &args.recordings {
        bar.set_message(recording.display().to_string());
        let output = output_folder(args, recording);
        let options = Options {
            overwrite: args.force,
            made_at: Some(now()),
            ..Options::default()
        };
        let text = report_one(recording, &output, &units, &options)
            .and_then(|(findings, page)| said(&findings, &units, &page, args.json));
        match text {
            Ok(text) => texts.push(text),
            Err(stop) => stops.push(stop),
        }
        bar.inc(1);
    }
    bar.finish_and_clear();
    if !texts.is_empty() {
        print_all(&texts, args.json);
    }
    // One bad folder among many costs only its own report.
    Stop::of_all(stops)
}

/// Prints summaries one below the other, or one JSON array.
pub(super) fn print_all(texts: &[String], is_json: bool) {
    if is_json {
        terminal::print(&format!("[{}]\n", texts.join(",")));
    } else {
        terminal::print(&format!("{}\n", texts.join("\n")));
    }
}

/// The folder that a recording's report goes to.
fn output_folder(args: &ReportArgs, recording: &Path) -> PathBuf {
    match &args.output {
        None => recording.join("report"),
        Some(folder) if args.recordings.len() == 1 => folder.clone(),
        Some(folder) => folder.join(crate::recording::folder::name_of(recording)),
    }
}

/// Loads, analyses and writes; gives the findings and the path of the page.
pub(super) fn report_one(
    recording: &Path,
    output: &Path,
    units: &UnitChoice,
    options: &Options,
) -> Result<(Findings, PathBuf), Stop> {
    let loaded = load(recording).map_err(Stop::bad_input)?;
    // Before the work, not after it.
    report::check_place(output, options).map_err(writing_failed)?;
    let findings = analyse(loaded);
    let written = report::write(&findings, units, output, options).map_err(writing_failed)?;
    table::write_bursts(&findings, output).map_err(Stop::failed)?;
    Ok((findings, written.report))
}

/// A report in the way is the user's to decide on; anything else is a failure.
pub(super) fn writing_failed(error: ReportError) -> Stop {
    match error {
        ReportError::Exists { .. } => Stop::bad_input(error),
        other => Stop::failed(other),
    }
}

/// Prints a file that was just written.
pub(super) fn print_file(path: &Path) -> Result<(), Stop> {
    terminal::print(&read_back(path)?);
    Ok(())
}

fn read_back(path: &Path) -> Result<String, Stop> {
    std::fs::read_to_string(path).map_err(|e| Stop::failed(format!("{}: {e}", path.display())))
}

/// What the terminal says of one recording: words, or the results as JSON.
pub(super) fn said(
    findings: &Findings,
    units: &UnitChoice,
    page: &Path,
    is_json: bool,
) -> Result<String, Stop> {
    if is_json {
        return read_back(&page.with_file_name(report::RESULT_FILE));
    }
    Ok(format!(
        "{}\nreport: {}\n",
        report::summary(findings, units).trim_end(),
        page.display()
    ))
}

/// Date and time of now, for the report's foot.
pub(super) fn now() -> String {
    jiff::Timestamp::now()
        .strftime("%Y-%m-%d %H:%M UTC")
        .to_string()
}
