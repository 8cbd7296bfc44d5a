//! `tipcurve compare --season`: a folder of recordings to the trends of its tips and pumps.
//!
//! Each recording is summarised once into `report/curves.parquet` inside it; later runs read only those, and
//! make again what changed.

use std::fs;
use std::path::{Path, PathBuf};

use crate::analysis::season::{SummaryRow, find_trends};
use crate::findings::Findings;
use crate::pipeline::analyse;
use crate::pipeline::summarise::summarise;
use crate::processors::on_all_processors;
use crate::recording::folder::{FRAMES, NOTES, SAMPLES, SESSION, is_recording, name_of};
use crate::recording::load::load;
use crate::report::season::{json, text, write};
use crate::table::season::{CURVES_PARQUET, read_curves, write_curves};
use crate::table::{HAS_PARQUET, NO_PARQUET};

use super::Stop;
use super::args::CompareArgs;
use super::compare::options;
use super::read::check_folder;
use super::report::writing_failed;
use super::terminal;

/// Rises when a summary says something new or in another way: older ones are made again.
const SUMMARY_VERSION: u32 = 1;

pub(super) fn run(args: &CompareArgs, folder: &Path) -> Result<(), Stop> {
    if !HAS_PARQUET {
        return Err(Stop::bad_input(format!(
            "{NO_PARQUET}; the season view needs it"
        )));
    }
    let recordings = recordings_below(folder)?;
    let (rows, unreadable) = rows_of_all(folder, &recordings);
    for message in &unreadable {
        eprintln!("{}", terminal::warning(&format!("{message}; left out")));
    }
    if rows.is_empty() {
        return Err(Stop::bad_input(format!(
            "{}: none of its {} recordings could be read",
            folder.display(),
            recordings.len()
        )));
    }
    let season = find_trends(&rows);
    let units = args.units.choice();
    let name = name_of(folder);
    let page = match &args.output {
        None => None,
        Some(to) => {
            Some(write(&season, &name, &units, to, &options(args)).map_err(writing_failed)?)
        }
    };
    if args.json {
        let said = json(&season, &name).map_err(Stop::failed)?;
        terminal::print(&format!("{said}\n"));
        return Ok(());
    }
    terminal::print(&text(&season, &name, &units));
    if let Some(page) = page {
        terminal::print(&format!("page: {}\n", page.display()));
    }
    Ok(())
}

/// Folders that hold a recording: the folder's own entries and theirs, by name.
fn recordings_below(folder: &Path) -> Result<Vec<PathBuf>, Stop> {
    check_folder(folder)?;
    let mut found = Vec::new();
    let mut level = folders_in(folder).map_err(|e| failed(folder, &e))?;
    for _ in 0..2 {
        let (recordings, others): (Vec<_>, Vec<_>) =
            level.into_iter().partition(|p| is_recording(p));
        found.extend(recordings);
        // A folder that cannot be listed holds no recording that could be read either.
        level = others
            .iter()
            .flat_map(|p| folders_in(p).unwrap_or_default())
            .collect();
    }
    found.sort();
    if found.is_empty() {
        return Err(Stop::bad_input(format!(
            "{}: no recording in it; a season is a folder of recording folders",
            folder.display()
        )));
    }
    Ok(found)
}

fn folders_in(folder: &Path) -> std::io::Result<Vec<PathBuf>> {
    let entries = fs::read_dir(folder)?.filter_map(Result::ok);
    Ok(entries.map(|e| e.path()).filter(|p| p.is_dir()).collect())
}

fn failed(path: &Path, error: &std::io::Error) -> Stop {
    Stop::failed(format!("{}: {error}", path.display()))
}

/// Rows of all recordings, and what could not be read; on as many threads as the computer has.
fn rows_of_all(season: &Path, recordings: &[PathBuf]) -> (Vec<SummaryRow>, Vec<String>) {
    let bar = terminal::progress(recordings.len());
    let each = on_all_processors(recordings, |path| {
        let rows = rows_of_one(season, path);
        bar.inc(1);
        rows
    });
    bar.finish_and_clear();
    let (mut rows, mut unreadable) = (Vec::new(), Vec::new());
    for one in each {
        match one {
            Ok(more) => rows.extend(more),
            Err(message) => unreadable.push(message),
        }
    }
    (rows, unreadable)
}

/// Rows of one recording: from its summary where that is up to date, else from the recording itself.
fn rows_of_one(season: &Path, path: &Path) -> Result<Vec<SummaryRow>, String> {
    let stamp = stamp_of(path);
    let summary = path.join("report").join(CURVES_PARQUET);
    if let Ok(rows) = read_curves(&summary)
        && rows.first().is_some_and(|r| r.stamp == stamp)
    {
        return Ok(named(rows, season, path));
    }
    let recording = load(path).map_err(|e| e.to_string())?;
    let start = recording.started_unix_s();
    let findings = analyse(recording);
    let start = start.or_else(|| noon_of_date(&findings));
    let mut rows = summarise(&findings, start);
    for row in &mut rows {
        row.stamp.clone_from(&stamp);
    }
    // A recording that cannot be written to is summarised anew each time; nothing else is lost.
    let _ =
        fs::create_dir_all(path.join("report")).is_ok() && write_curves(&rows, &summary).is_ok();
    Ok(named(rows, season, path))
}

/// The rows under their folder's present place below the season's: a recording may have been renamed or copied.
fn named(mut rows: Vec<SummaryRow>, season: &Path, path: &Path) -> Vec<SummaryRow> {
    let name = path
        .strip_prefix(season)
        .map_or_else(|_| name_of(path), |below| below.display().to_string());
    for row in &mut rows {
        row.recording.clone_from(&name);
    }
    rows
}

/// Sizes and times of the files that the summary is made from.
fn stamp_of(path: &Path) -> String {
    let mut out = format!("v{SUMMARY_VERSION}");
    for name in [FRAMES, SAMPLES, NOTES, SESSION] {
        let Ok(meta) = fs::metadata(path.join(name)) else {
            out.push_str(" -");
            continue;
        };
        let changed = meta
            .modified()
            .ok()
            .and_then(|t| t.duration_since(std::time::UNIX_EPOCH).ok())
            .map_or(0, |d| d.as_millis());
        out.push_str(&format!(" {}@{changed}", meta.len()));
    }
    out
}

/// Noon of the session's date, where only that is known.
fn noon_of_date(f: &Findings) -> Option<f64> {
    let date: jiff::civil::Date = f.settings.date.as_deref()?.trim().parse().ok()?;
    let noon = jiff::tz::TimeZone::UTC
        .to_timestamp(date.at(12, 0, 0, 0))
        .ok()?;
    Some(noon.as_duration().as_secs_f64())
}
