//! A note added to a folder that others may be adding to.
//!
//! Under a lock the whole file is read, the row is put below it in the file's own columns and
//! line breaks, and the new file takes the old one's place in one step: a reader sees the file
//! before or after, never between, and what a person changed in a spreadsheet stays. A spreadsheet
//! that is still open can overwrite the row when it saves, so every row also goes to a second file
//! that only grows; loading tells when a row of it is missing from `notes.csv`. A note that could not be put into
//! `notes.csv` leaves no copy there, and one whose adding was cut short is known again when it is sent once more.

use std::fs::File;
use std::io;
use std::path::{Path, PathBuf};

use super::added::{drop_copy, gone, keep_copy, read_added};
use super::replace::{read_if_there, read_settled, replace};
use super::undo::{SAME_MOMENT_S, is_same_moment};
use super::write::{filled, record, row};
use super::{COLUMNS, Note, NoteTime, read};
use crate::recording::fault::{Faults, FileFaults};
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

/// Held while notes are added.
struct Held<'p> {
    path: &'p Path,
    notes_path: PathBuf,
    utc_offset_s: f64,
    _lock: File,
}

/// Adds a note at the end of a folder's `notes.csv`, making the file when there is none.
///
/// # Errors
/// See [`NoteError`]; `notes.csv` is then as it was.
pub fn append(path: &Path, note: &Note, utc_offset_s: f64) -> Result<(), NoteError> {
    Held::take(path, utc_offset_s)?.append(note)
}

/// Adds the note that `make` makes of those that are there, with nobody else adding between.
///
/// `puts_back`: rows that a spreadsheet overwrote come back first, as they do while a recorder runs.
///
/// # Errors
/// See [`NoteError`], or that of `make`; no note was added then.
pub fn append_made<E: From<NoteError>>(
    path: &Path,
    utc_offset_s: f64,
    puts_back: bool,
    make: impl FnOnce(&[Note]) -> Result<Note, E>,
) -> Result<(), E> {
    let held = Held::take(path, utc_offset_s)?;
    if puts_back {
        held.restore()?;
    }
    let note = make(&held.notes()?)?;
    Ok(held.append(&note)?)
}

/// Puts back the added notes that a spreadsheet overwrote, each where its time belongs; gives how
/// many.
///
/// # Errors
/// See [`NoteError`]; `notes.csv` is then as it was.
pub fn restore(path: &Path, utc_offset_s: f64) -> Result<usize, NoteError> {
    Held::take(path, utc_offset_s)?.restore()
}

fn system(file: &Path) -> impl Fn(io::Error) -> NoteError {
    let path = file.to_owned();
    move |error| NoteError::System {
        path: path.clone(),
        error,
    }
}

fn faulty(faults: Faults) -> NoteError {
    let file = folder::NOTES.to_owned();
    NoteError::Faulty(FileFaults { file, faults })
}

impl<'p> Held<'p> {
    fn take(path: &'p Path, utc_offset_s: f64) -> Result<Self, NoteError> {
        if !path.is_dir() {
            let path = path.to_owned();
            return Err(NoteError::NotFound { path });
        }
        let lock_path = path.join(folder::NOTES_LOCK);
        // The file itself stays, or two holders could hold two.
        let lock = File::create(&lock_path).map_err(system(&lock_path))?;
        lock.lock().map_err(system(&lock_path))?;
        Ok(Self {
            path,
            notes_path: notes_path_of(path),
            utc_offset_s,
            _lock: lock,
        })
    }

    fn read(&self) -> Result<Vec<u8>, NoteError> {
        read_settled(&self.notes_path).map_err(system(&self.notes_path))
    }

    fn notes(&self) -> Result<Vec<Note>, NoteError> {
        read_or_empty(&self.read()?).map_err(faulty)
    }

    fn added(&self) -> Result<Vec<u8>, NoteError> {
        let path = self.path.join(folder::NOTES_ADDED);
        read_if_there(&path).map_err(system(&path))
    }

    fn append(&self, note: &Note) -> Result<(), NoteError> {
        let mut copy = None;
        let appended = self.append_keeping(note.clone(), &mut copy);
        // What was not added must not come back: whoever hears of this writes it again.
        if appended.is_err()
            && let Some(KeptCopy::Ours(length)) = copy
        {
            let _ = drop_copy(self.path, length);
        }
        appended
    }

    fn append_keeping(&self, mut note: Note, copy: &mut Option<KeptCopy>) -> Result<(), NoteError> {
        let added_path = self.path.join(folder::NOTES_ADDED);
        loop {
            let old = self.read()?;
            if copy.is_none() {
                let there = read_or_empty(&old).map_err(faulty)?;
                let added = read_added(&self.added()?);
                *copy = match earlier_try(&note, &added, &there) {
                    Some(Earlier::Placed) => return Ok(()),
                    Some(Earlier::Kept(time)) => {
                        note.time = time;
                        Some(KeptCopy::Earlier)
                    }
                    None => {
                        note.time = own_time(note.time, &[there, added].concat());
                        None
                    }
                };
            }
            let new = with_row(&old, &note, self.utc_offset_s)?;
            if copy.is_none() {
                let length = keep_copy(self.path, &note, self.utc_offset_s);
                *copy = Some(KeptCopy::Ours(length.map_err(system(&added_path))?));
            }
            match replace(&self.notes_path, &old, &new) {
                Ok(true) => return Ok(()),
                Ok(false) => {}
                Err(error) => {
                    // Placed all the same (the folder could not be synchronised), it is known again by its copy.
                    if std::fs::read(&self.notes_path).is_ok_and(|now| now == new) {
                        *copy = Some(KeptCopy::Earlier);
                    }
                    return Err(system(&self.notes_path)(error));
                }
            }
        }
    }

    fn restore(&self) -> Result<usize, NoteError> {
        let added = self.added()?;
        loop {
            let old = self.read()?;
            let missing = gone(&added, &read_or_empty(&old).map_err(faulty)?);
            let mut new = old.clone();
            for note in &missing {
                let before = line_after(&read_or_empty(&new).map_err(faulty)?, note);
                new = with_row(&new, note, self.utc_offset_s)?;
                if let Some(line) = before {
                    new = with_last_row_at(&new, line);
                }
            }
            let is_done = missing.is_empty()
                || replace(&self.notes_path, &old, &new).map_err(system(&self.notes_path))?;
            if is_done {
                return Ok(missing.len());
            }
        }
    }
}

/// The copy of a note that is being added.
enum KeptCopy {
    /// Ours, and the length of its file before.
    Ours(u64),
    /// That of an earlier try: it stays whatever happens.
    Earlier,
}

/// How far an earlier try of the same note came.
enum Earlier {
    /// It stands in `notes.csv`.
    Placed,
    /// Only its copy was kept, under this time.
    Kept(NoteTime),
}

/// An earlier try of the same note that was cut short, or whose answer was lost: a copy of it, equal in every cell,
/// at its own moment or where [`own_time`] then moved it.
///
/// A note with a time coarser than a millisecond may stand there twice, because two may have been made: of such only
/// a copy without its row is an earlier try.
fn earlier_try(note: &Note, added: &[Note], there: &[Note]) -> Option<Earlier> {
    if note.time == NoteTime::OrderedOnly {
        return None;
    }
    let cells = |note: &Note| {
        let timeless = Note {
            time: NoteTime::OrderedOnly,
            ..note.clone()
        };
        row(&timeless, &COLUMNS, 0.0)
    };
    let wanted = cells(note);
    let is_fine =
        matches!(note.time, NoteTime::Absolute { resolution_s, .. } if resolution_s <= 1.0e-3);
    let mut time = note.time.clone();
    loop {
        let at_that_time = |notes: &[Note]| -> Vec<Note> {
            let same = notes.iter().filter(|n| is_same_moment(&n.time, &time));
            same.cloned().collect()
        };
        let (copies, rows) = (at_that_time(added), at_that_time(there));
        if copies.iter().any(|copy| cells(copy) == wanted) {
            if rows.is_empty() {
                return Some(Earlier::Kept(time));
            }
            if is_fine && rows.iter().any(|row| cells(row) == wanted) {
                return Some(Earlier::Placed);
            }
        }
        match &mut time {
            NoteTime::Absolute {
                unix_s,
                resolution_s,
            } if !(copies.is_empty() && rows.is_empty()) => {
                *unix_s += 1.0e-3;
                *resolution_s = 1.0e-3;
            }
            _ => return None,
        }
    }
}

/// A date-time that no other note has, to the millisecond: by its time a note is known again, whether it was
/// overwritten or is to be taken back.
fn own_time(time: NoteTime, others: &[Note]) -> NoteTime {
    let NoteTime::Absolute {
        unix_s,
        resolution_s,
    } = time
    else {
        return time;
    };
    let is_taken = |wanted: f64| {
        others.iter().any(|note| {
            matches!(note.time, NoteTime::Absolute { unix_s, .. } if (unix_s - wanted).abs() < SAME_MOMENT_S)
        })
    };
    let mut moment = unix_s;
    while is_taken(moment) {
        moment += 1.0e-3;
    }
    NoteTime::Absolute {
        unix_s: moment,
        resolution_s: if moment > unix_s {
            1.0e-3
        } else {
            resolution_s
        },
    }
}

/// A link to a file elsewhere stays a link: what it points to is replaced.
fn notes_path_of(path: &Path) -> PathBuf {
    let named = path.join(folder::NOTES);
    named.canonicalize().unwrap_or(named)
}

fn read_or_empty(bytes: &[u8]) -> Result<Vec<Note>, Faults> {
    if bytes.iter().all(u8::is_ascii_whitespace) {
        return Ok(Vec::new());
    }
    read(bytes)
}

/// Line of the first note that is later than this one, by their date-times.
fn line_after(notes: &[Note], note: &Note) -> Option<usize> {
    let moment = |note: &Note| match note.time {
        NoteTime::Absolute { unix_s, .. } => Some(unix_s),
        _ => None,
    };
    let at = moment(note)?;
    let later = notes.iter().find(|n| moment(n).is_some_and(|t| t > at))?;
    Some(later.line)
}

/// The text with its last line moved up to become line `line`, 1 being the first.
fn with_last_row_at(text: &[u8], line: usize) -> Vec<u8> {
    let ends: Vec<usize> = text
        .iter()
        .enumerate()
        .filter(|(_, byte)| **byte == b'\n')
        .map(|(i, _)| i + 1)
        .collect();
    let start_of = |line: usize| line.checked_sub(2).and_then(|i| ends.get(i)).copied();
    let (Some(to), Some(from)) = (start_of(line), start_of(ends.len())) else {
        return text.to_vec();
    };
    if to >= from {
        return text.to_vec();
    }
    [&text[..to], &text[from..], &text[to..from]].concat()
}

/// The file's bytes with a row below.
fn with_row(old: &[u8], note: &Note, utc_offset_s: f64) -> Result<Vec<u8>, NoteError> {
    if old.iter().all(u8::is_ascii_whitespace) {
        let text = super::write(std::slice::from_ref(note), utc_offset_s);
        return Ok(text.into_bytes());
    }
    read(old).map_err(faulty)?;
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

#[cfg(test)]
mod tests;
