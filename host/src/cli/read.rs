//! Recordings named on the command line to their findings, and folders that must be there.

use std::path::{Path, PathBuf};

use crate::findings::Findings;
use crate::pipeline::analyse;
use crate::recording::load::load;

use super::Stop;
use super::terminal;

/// Loads and analyses recordings, with a bar where somebody watches.
pub(super) fn read_all(recordings: &[PathBuf]) -> Result<Vec<Findings>, Stop> {
    let bar = terminal::progress(recordings.len());
    let mut all = Vec::new();
    for path in recordings {
        bar.set_message(path.display().to_string());
        all.push(analyse(load(path).map_err(Stop::bad_input)?));
        bar.inc(1);
    }
    bar.finish_and_clear();
    Ok(all)
}

/// A folder of recordings must be one.
pub(super) fn check_folder(path: &Path) -> Result<(), Stop> {
    if path.is_dir() {
        return Ok(());
    }
    let what = if path.exists() {
        "not a folder"
    } else {
        "no such folder"
    };
    Err(Stop::bad_input(format!("{}: {what}", path.display())))
}
