//! `tipcurve class`: a folder of recordings and a roster to a teacher's page and worksheets.

mod blind;

use std::fs;
use std::path::Path;

use crate::class_findings::ClassFindings;
use crate::pipeline::analyse;
use crate::pipeline::class_of::{Read, blinded, judge_class};
use crate::recording::fault::FileFaults;
use crate::recording::folder;
use crate::recording::load::load;
use crate::recording::roster::{self, ROSTER, Roster};
use crate::report::class::{CLASS_RESULT, summary, write};

use super::Stop;
use super::args::ClassArgs;
use super::read::check_folder;
use super::report::{now, print_file, writing_failed};
use super::terminal;

pub(super) fn run(args: &ClassArgs) -> Result<(), Stop> {
    check_folder(&args.folder)?;
    if args.template {
        return write_template(&args.folder);
    }
    let roster = read_roster(&args.folder)?;
    let class = judge(&args.folder, &roster)?;
    let class = if args.blind {
        let codes = blind::codes(&args.folder, &roster, &class)?;
        blinded(class, &codes)
    } else {
        class
    };
    let units = args.units.choice();
    let output = args.output.clone().unwrap_or_else(|| {
        let name = if args.blind {
            "class-blind"
        } else {
            "class-report"
        };
        args.folder.join(name)
    });
    let page = write(&class, &units, &output, Some(&now()), args.force).map_err(writing_failed)?;
    if args.json {
        print_file(&page.with_file_name(CLASS_RESULT))
    } else {
        println!(
            "{}\npage: {}",
            summary(&class, &units).trim_end(),
            page.display()
        );
        Ok(())
    }
}

fn read_roster(place: &Path) -> Result<Roster, Stop> {
    let path = place.join(ROSTER);
    let refused = |faults| {
        let file = path.display().to_string();
        Stop::bad_input(FileFaults { file, faults })
    };
    let bytes = folder::read_limited(&path, folder::MOST_SESSION_MIB).map_err(refused)?;
    roster::read(&bytes).map_err(refused)
}

/// Reads every recording of the roster and judges the class.
fn judge(place: &Path, roster: &Roster) -> Result<ClassFindings, Stop> {
    let bar = terminal::progress(roster.students.len());
    let reads: Vec<Read> = roster
        .students
        .iter()
        .map(|entry| {
            bar.set_message(entry.recording.clone());
            let found = read(&place.join(entry.recording.trim()));
            bar.inc(1);
            found
        })
        .collect();
    bar.finish_and_clear();
    if reads.iter().all(Result::is_err) {
        let words: Vec<&str> = reads
            .iter()
            .filter_map(|r| r.as_ref().err())
            .map(String::as_str)
            .collect();
        return Err(Stop::bad_input(format!(
            "none of the recordings of {} can be read; nothing was made\n{}",
            place.join(ROSTER).display(),
            words.join("\n")
        )));
    }
    let named = roster.named_reference();
    let reference = named.map(|name| {
        // A student's own recording need not be read twice.
        let of_student = roster
            .students
            .iter()
            .position(|e| e.recording.trim() == name);
        let found = of_student.map_or_else(|| read(&place.join(name)), |i| reads[i].clone());
        (name, found)
    });
    let reference = reference.as_ref().map(|(name, found)| (*name, found));
    Ok(judge_class(roster, &reads, reference))
}

fn read(path: &Path) -> Read {
    load(path).map(analyse).map_err(|e| e.to_string())
}

/// Writes a roster to fill in, never over one that is there.
fn write_template(place: &Path) -> Result<(), Stop> {
    let path = place.join(ROSTER);
    if path.exists() {
        return Err(Stop::bad_input(format!(
            "{}: there is a roster already; edit it, or move it away first; nothing was changed",
            path.display()
        )));
    }
    let recordings = recordings_in(place)?;
    if recordings.is_empty() {
        return Err(Stop::bad_input(format!(
            "{}: no recording folder in it; put one a student there, then make the roster; nothing was made",
            place.display()
        )));
    }
    fs::write(&path, roster::template(&recordings))
        .map_err(|e| Stop::failed(format!("{}: cannot write: {e}", path.display())))?;
    println!(
        "made {} with {} recordings: fill in the names, then tipcurve class {}",
        path.display(),
        recordings.len(),
        place.display()
    );
    Ok(())
}

/// Names of the recording folders below a folder, sorted.
fn recordings_in(place: &Path) -> Result<Vec<String>, Stop> {
    let failed = |e: std::io::Error| Stop::bad_input(format!("{}: {e}", place.display()));
    let mut names = Vec::new();
    for entry in fs::read_dir(place).map_err(failed)? {
        let path = entry.map_err(failed)?.path();
        if folder::is_recording(&path) {
            names.push(folder::file_name(&path));
        }
    }
    names.sort();
    Ok(names)
}
