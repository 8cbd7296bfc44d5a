//! Notes that a program added, kept a second time in a file that only grows, and which of them are gone.

use std::fs::OpenOptions;
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::Path;

use super::write::{record, row};
use super::{COLUMNS, Note, NoteTime, read};
use crate::recording::folder;

/// The added notes of which `notes.csv` holds none with the same time.
///
/// A note whose grade or text was corrected in a spreadsheet is still there by its time; notes
/// without a time are not looked for. Half a row, as a killed program or a cut of the power leaves it, is passed
/// over.
#[must_use]
pub fn gone(added: &[u8], notes: &[Note]) -> Vec<Note> {
    read_added(added)
        .into_iter()
        .filter(|note| note.time != NoteTime::OrderedOnly)
        .filter(|note| !notes.iter().any(|n| n.time == note.time))
        .collect()
}

/// The added notes: all rows, or, where one of them is torn, every row that is whole by itself.
pub(super) fn read_added(added: &[u8]) -> Vec<Note> {
    let whole = added.iter().rposition(|b| *b == b'\n').map_or(0, |i| i + 1);
    if let Ok(notes) = read(&added[..whole]) {
        return notes;
    }
    let header = record(&COLUMNS);
    let lines = added[..whole].split_inclusive(|b| *b == b'\n');
    lines
        .enumerate()
        .filter(|(_, line)| *line != header.as_bytes())
        .filter_map(|(i, line)| {
            let note = read(&[header.as_bytes(), line].concat()).ok()?.pop()?;
            Some(Note {
                line: i + 1,
                ..note
            })
        })
        .collect()
}

/// Adds the row to the file that only grows, and brings it to the disk; gives how long the file was before.
///
/// # Errors
/// What the system says; what of the row was written is then taken out again.
pub(super) fn keep_copy(path: &Path, note: &Note, utc_offset_s: f64) -> io::Result<u64> {
    let mut copy = OpenOptions::new()
        .read(true)
        .append(true)
        .create(true)
        .open(path.join(folder::NOTES_ADDED))?;
    let length = copy.metadata()?.len();
    let mut text = String::new();
    if length == 0 {
        text.push_str(&record(&COLUMNS));
    } else {
        let mut last = [0];
        copy.seek(SeekFrom::End(-1))?;
        copy.read_exact(&mut last)?;
        // Half a row would take this one with it.
        if last != *b"\n" {
            text.push('\n');
        }
    }
    text.push_str(&row(note, &COLUMNS, utc_offset_s));
    let kept = copy
        .write_all(text.as_bytes())
        .and_then(|()| copy.sync_data());
    if let Err(error) = kept {
        let _ = drop_copy(path, length);
        return Err(error);
    }
    Ok(length)
}

/// Takes the last row out again, of a note that then could not be added: `length` is how long the file was before.
/// Only under the lock of the notes, or the row of another would go.
///
/// # Errors
/// What the system says.
pub(super) fn drop_copy(path: &Path, length: u64) -> io::Result<()> {
    let copy = OpenOptions::new()
        .write(true)
        .open(path.join(folder::NOTES_ADDED))?;
    copy.set_len(length)?;
    copy.sync_data()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scratch::Scratch;

    #[test]
    fn an_overwritten_row_is_missed_and_a_corrected_one_is_not() {
        let added = b"time,tails,text\n12:00:01,1,\n12:00:09,2,\n,3,\n12:00:2";
        let notes = read(b"time,tails\n12:00:01,3\n").unwrap();
        let gone = gone(added, &notes);
        assert_eq!(gone.len(), 1);
        assert_eq!((gone[0].line, gone[0].tails), (3, Some(2)));
    }

    #[test]
    fn a_torn_row_takes_no_other_with_it() {
        let header = record(&COLUMNS);
        let row = |clock: &str, text: &str| format!("{clock},,,,,,2,,,,,,,{text}\n");
        for torn in ["12:00:0", "12:00:05,,,,,,1,,,,,,,\"cold, ", "\0\0\0\0"] {
            let added = format!(
                "{header}{}{torn}\n{}",
                row("12:00:01", "a"),
                row("12:00:09", "b")
            );
            let gone = gone(added.as_bytes(), &[]);
            let lines: Vec<usize> = gone.iter().map(|note| note.line).collect();
            assert_eq!(lines, [2, 4], "{torn}");
        }
    }

    #[test]
    fn a_row_behind_half_a_row_begins_a_line() {
        let scratch = Scratch::new("copy");
        let file = scratch.path().join(folder::NOTES_ADDED);
        std::fs::write(&file, format!("{}12:00:0", record(&COLUMNS))).unwrap();
        let note = Note {
            time: NoteTime::Logger { t_s: 3.0 },
            tails: Some(1),
            ..Note::default()
        };
        keep_copy(scratch.path(), &note, 0.0).unwrap();
        let read = read_added(&std::fs::read(&file).unwrap());
        assert_eq!(read, [Note { line: 3, ..note }]);
    }
}
