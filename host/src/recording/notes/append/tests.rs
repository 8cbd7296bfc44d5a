//! Rows put below what is there, whatever a spreadsheet made of it.

use std::fs;

use super::*;
use crate::recording::notes::COLUMNS;
use crate::recording::notes::NoteTime;

fn note() -> Note {
    Note {
        time: NoteTime::Logger { t_s: 12.5 },
        tails: Some(2),
        text: Some("cold, \"thick\"".to_owned()),
        ..Note::default()
    }
}

#[track_caller]
fn check(old: &[u8], new: &str) {
    let bytes = with_row(old, &note(), 0.0).unwrap();
    assert_eq!(String::from_utf8(bytes.clone()).unwrap(), new);
    let mut last = read(&bytes).unwrap().pop().unwrap();
    last.line = 0;
    last.extra.clear();
    assert_eq!(last, note(), "the row reads back");
}

#[test]
fn a_row_takes_the_columns_and_line_breaks_of_its_file() {
    check(
        b"text,tails,time\nfirst,1,t+3\n",
        "text,tails,time\nfirst,1,t+3\n\"cold, \"\"thick\"\"\",2,t+12.5\n",
    );
    check(
        b"\xef\xbb\xbftime,tails,text,weather\r\n11:00,,,dry\r\n",
        "\u{feff}time,tails,text,weather\r\n11:00,,,dry\r\nt+12.5,2,\"cold, \"\"thick\"\"\",\r\n",
    );
}

#[test]
fn a_missing_last_line_break_is_made_up_for() {
    check(
        b"time,tails,text\n11:00,1,",
        "time,tails,text\n11:00,1,\nt+12.5,2,\"cold, \"\"thick\"\"\"\n",
    );
}

#[test]
fn a_column_that_the_file_lacks_is_added_and_no_cell_is_lost() {
    check(
        b"time,mood\n11:00,\"good, so far\"\n",
        "time,mood,tails,text\n11:00,\"good, so far\",,\nt+12.5,,2,\"cold, \"\"thick\"\"\"\n",
    );
}

#[test]
fn an_empty_file_gets_every_column() {
    let header = COLUMNS.join(",");
    check(
        b"",
        &format!("{header}\nt+12.5,,,,,,2,,,,,,,\"cold, \"\"thick\"\"\"\n"),
    );
}

#[test]
fn a_file_that_cannot_be_read_is_left_alone() {
    let refused = with_row(b"time;tails\n11:00;1\n", &note(), 0.0).unwrap_err();
    assert_eq!(
        refused.to_string(),
        "notes.csv, line 1: column time is missing (found: time;tails); the note was not added"
    );
}

/// A folder of its own for a test, removed at its end.
struct Folder(PathBuf);

impl Folder {
    fn new(name: &str) -> Self {
        let path = std::env::temp_dir().join(format!("tipcurve-{name}-{}", std::process::id()));
        fs::create_dir_all(&path).unwrap();
        Self(path)
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

fn at(unix_s: f64, tails: u8) -> Note {
    Note {
        time: NoteTime::Absolute {
            unix_s,
            resolution_s: 1.0e-3,
        },
        tails: Some(tails),
        ..Note::default()
    }
}

#[test]
fn what_a_spreadsheet_overwrote_is_put_back_where_its_time_belongs() {
    let folder = Folder::new("restore");
    let notes_path = folder.0.join(folder::NOTES);
    append(&folder.0, &at(1.0e9, 1), 0.0).unwrap();
    let seen_by_spreadsheet = fs::read(&notes_path).unwrap();
    append(&folder.0, &at(1.0e9 + 10.0, 2), 0.0).unwrap();
    append(&folder.0, &at(1.0e9 + 20.0, 3), 0.0).unwrap();
    // The spreadsheet saves what it knew, with a row of its own that is later than both.
    let own = "2001-09-09T01:47:30+00:00,,,,,,0,,,,,,,\r\n";
    let saved = [&seen_by_spreadsheet[..], own.as_bytes()].concat();
    fs::write(&notes_path, saved).unwrap();
    assert_eq!(restore(&folder.0, 0.0).unwrap(), 2);
    let notes = read(&fs::read(&notes_path).unwrap()).unwrap();
    let tails: Vec<_> = notes.iter().map(|n| n.tails).collect();
    assert_eq!(tails, [Some(1), Some(2), Some(3), Some(0)]);
    assert_eq!(
        restore(&folder.0, 0.0).unwrap(),
        0,
        "nothing is put back twice"
    );
}

#[test]
fn two_notes_of_one_moment_are_told_apart() {
    let folder = Folder::new("one-moment");
    append(&folder.0, &at(1.0e9, 1), 0.0).unwrap();
    append(&folder.0, &at(1.0e9, 2), 0.0).unwrap();
    let notes_path = folder.0.join(folder::NOTES);
    // A spreadsheet drops one of them.
    let text = fs::read_to_string(&notes_path).unwrap();
    let (left, _) = text.trim_end().rsplit_once('\n').unwrap();
    fs::write(&notes_path, format!("{left}\n")).unwrap();
    append(&folder.0, &at(1.0e9, 3), 0.0).unwrap();
    assert_eq!(restore(&folder.0, 0.0).unwrap(), 1);
    let notes = read(&fs::read(&notes_path).unwrap()).unwrap();
    let mut tails: Vec<_> = notes.iter().map(|n| n.tails).collect();
    tails.sort();
    assert_eq!(tails, [Some(1), Some(2), Some(3)]);
}
