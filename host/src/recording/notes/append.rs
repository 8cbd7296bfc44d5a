//! A note added to a folder that others may be adding to.
//!
//! Under a lock the whole file is read, the row is put below it in the file's own columns and
//! line breaks, and the new file takes the old one's place in one step: a reader sees the file
//! before or after, never between, and what a person changed in a spreadsheet stays. A spreadsheet
//! that is still open can overwrite the row when it saves, so every row also goes to a second file
//! that only grows; loading tells when a row of it is missing from `notes.csv`.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use super::write::{filled, record, row};
use super::{COLUMNS, Note, read};
use crate::recording::fault::FileFaults;
use crate::recording::folder;

/// Why a note was not added.
#[derive(Debug, thiserror::Error)]
pub enum NoteError {
    /// The folder is not there.
    #[error("{}: no such folder; the note was not added", path.display())]
    NotFound {
        /// What was asked for.
        path: PathBuf,
    },
    /// The file cannot be read as it stands, so nothing is put below it.
    #[error("{0}; the note was not added")]
    Faulty(FileFaults),
    /// What the system says.
    #[error("{}: {error}; the note was not added", path.display())]
    System {
        /// The file.
        path: PathBuf,
        /// The system's own words.
        error: io::Error,
    },
}

/// Adds a note at the end of a folder's `notes.csv`, making the file when there is none.
///
/// # Errors
/// See [`NoteError`]; `notes.csv` is then as it was.
pub fn append(path: &Path, note: &Note, utc_offset_s: f64) -> Result<(), NoteError> {
    if !path.is_dir() {
        let path = path.to_owned();
        return Err(NoteError::NotFound { path });
    }
    let system = |file: &Path| {
        let path = file.to_owned();
        move |error| NoteError::System { path, error }
    };
    let lock_path = path.join(folder::NOTES_LOCK);
    // Held until the end of this function; the file itself stays, or two holders could hold two.
    let lock = File::create(&lock_path).map_err(system(&lock_path))?;
    lock.lock().map_err(system(&lock_path))?;

    // A link to a file elsewhere stays a link: what it points to is replaced.
    let named = path.join(folder::NOTES);
    let notes_path = named.canonicalize().unwrap_or(named);
    let old = match fs::read(&notes_path) {
        Ok(bytes) => bytes,
        Err(error) if error.kind() == io::ErrorKind::NotFound => Vec::new(),
        Err(error) => return Err(system(&notes_path)(error)),
    };
    let new = with_row(&old, note, utc_offset_s)?;
    keep_copy(path, note, utc_offset_s).map_err(system(&path.join(folder::NOTES_ADDED)))?;
    replace(&notes_path, &new).map_err(system(&notes_path))
}

/// The file's bytes with a row below.
fn with_row(old: &[u8], note: &Note, utc_offset_s: f64) -> Result<Vec<u8>, NoteError> {
    if old.iter().all(u8::is_ascii_whitespace) {
        let text = super::write(std::slice::from_ref(note), utc_offset_s);
        return Ok(text.into_bytes());
    }
    if let Err(faults) = read(old) {
        let file = folder::NOTES.to_owned();
        return Err(NoteError::Faulty(FileFaults { file, faults }));
    }
    let mut new = old.to_vec();
    let mut columns = columns_of(old);
    let missing: Vec<String> = filled(note)
        .into_iter()
        .filter(|name| !columns.iter().any(|c| c == name))
        .map(str::to_owned)
        .collect();
    if !missing.is_empty() {
        new = widened(old, &missing).into_bytes();
        columns.extend(missing);
    }
    let line_break = if new.windows(2).any(|w| w == b"\r\n") {
        "\r\n"
    } else {
        "\n"
    };
    if !new.ends_with(b"\n") {
        new.extend_from_slice(line_break.as_bytes());
    }
    let names: Vec<&str> = columns.iter().map(String::as_str).collect();
    let row = row(note, &names, utc_offset_s);
    new.extend_from_slice(row.trim_end_matches('\n').as_bytes());
    new.extend_from_slice(line_break.as_bytes());
    Ok(new)
}

fn reader(bytes: &[u8]) -> csv::Reader<&[u8]> {
    let text = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .from_reader(text)
}

fn columns_of(bytes: &[u8]) -> Vec<String> {
    let header = reader(bytes).into_records().next().and_then(Result::ok);
    header
        .map(|cells| cells.iter().map(|c| c.trim().to_owned()).collect())
        .unwrap_or_default()
}

/// The file with further columns, empty in every row that is there.
fn widened(bytes: &[u8], names: &[String]) -> String {
    let mut text = String::new();
    for (i, cells) in reader(bytes).into_records().flatten().enumerate() {
        let added = names
            .iter()
            .map(|name| if i == 0 { name.as_str() } else { "" });
        let cells: Vec<&str> = cells.iter().chain(added).collect();
        text.push_str(&record(&cells));
    }
    text
}

/// Adds the row to the file that only grows.
fn keep_copy(path: &Path, note: &Note, utc_offset_s: f64) -> io::Result<()> {
    let copy_path = path.join(folder::NOTES_ADDED);
    let mut copy = OpenOptions::new()
        .append(true)
        .create(true)
        .open(&copy_path)?;
    let mut text = String::new();
    if copy.metadata()?.len() == 0 {
        text.push_str(&record(&COLUMNS));
    }
    text.push_str(&row(note, &COLUMNS, utc_offset_s));
    copy.write_all(text.as_bytes())?;
    copy.sync_data()
}

/// Puts a file in the place of another in one step.
fn replace(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let new_path = path.with_extension("csv.new");
    let mut new = File::create(&new_path)?;
    new.write_all(bytes)?;
    new.sync_all()?;
    drop(new);
    fs::rename(&new_path, path)?;
    folder::sync_folder_of(path)
}

#[cfg(test)]
mod tests;
