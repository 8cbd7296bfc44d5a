//! Rows put below what is there, whatever a spreadsheet made of it.

use std::fs;

use super::*;
use crate::recording::notes::COLUMNS;
use crate::recording::notes::NoteTime;
use crate::scratch::Scratch;

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
    let folder = Scratch::new("restore");
    let notes_path = folder.path().join(folder::NOTES);
    append(folder.path(), &at(1.0e9, 1), 0.0).unwrap();
    let seen_by_spreadsheet = fs::read(&notes_path).unwrap();
    append(folder.path(), &at(1.0e9 + 10.0, 2), 0.0).unwrap();
    append(folder.path(), &at(1.0e9 + 20.0, 3), 0.0).unwrap();
    // The spreadsheet saves what it knew, with a row of its own that is later than both.
    let own = "2001-09-09T01:47:30+00:00,,,,,,0,,,,,,,\r\n";
    let saved = [&seen_by_spreadsheet[..], own.as_bytes()].concat();
    fs::write(&notes_path, saved).unwrap();
    assert_eq!(restore(folder.path(), 0.0).unwrap(), 2);
    let notes = read(&fs::read(&notes_path).unwrap()).unwrap();
    let tails: Vec<_> = notes.iter().map(|n| n.tails).collect();
    assert_eq!(tails, [Some(1), Some(2), Some(3), Some(0)]);
    assert_eq!(
        restore(folder.path(), 0.0).unwrap(),
        0,
        "nothing is put back twice"
    );
}

#[test]
fn two_notes_of_one_moment_are_told_apart() {
    let folder = Scratch::new("one-moment");
    append(folder.path(), &at(1.0e9, 1), 0.0).unwrap();
    append(folder.path(), &at(1.0e9, 2), 0.0).unwrap();
    let notes_path = folder.path().join(folder::NOTES);
    // A spreadsheet drops one of them.
    let text = fs::read_to_string(&notes_path).unwrap();
    let (left, _) = text.trim_end().rsplit_once('\n').unwrap();
    fs::write(&notes_path, format!("{left}\n")).unwrap();
    append(folder.path(), &at(1.0e9, 3), 0.0).unwrap();
    assert_eq!(restore(folder.path(), 0.0).unwrap(), 1);
    let notes = read(&fs::read(&notes_path).unwrap()).unwrap();
    let mut tails: Vec<_> = notes.iter().map(|n| n.tails).collect();
    tails.sort();
    assert_eq!(tails, [Some(1), Some(2), Some(3)]);
}

/// A folder in the way of the file that is to take the place of `notes.csv`: replacing fails, even for a superuser.
fn block(folder: &Scratch) -> PathBuf {
    let in_the_way = folder.path().join(folder::NOTES).with_extension("csv.new");
    fs::create_dir_all(&in_the_way).unwrap();
    in_the_way
}

fn tails_of(folder: &Scratch) -> Vec<Option<u8>> {
    let bytes = fs::read(folder.path().join(folder::NOTES)).unwrap();
    read(&bytes).unwrap().iter().map(|n| n.tails).collect()
}

#[test]
fn a_note_that_was_not_added_does_not_come_back_and_its_retry_is_one_note() {
    let folder = Scratch::new("not-added");
    append(folder.path(), &at(1.0e9, 1), 0.0).unwrap();
    let in_the_way = block(&folder);
    append(folder.path(), &at(1.0e9 + 5.0, 2), 0.0).unwrap_err();
    fs::remove_dir(&in_the_way).unwrap();
    assert_eq!(restore(folder.path(), 0.0).unwrap(), 0);
    assert_eq!(tails_of(&folder), [Some(1)]);
    // At the same moment, and by hand a little later.
    append(folder.path(), &at(1.0e9 + 5.0, 2), 0.0).unwrap();
    assert_eq!(restore(folder.path(), 0.0).unwrap(), 0);
    assert_eq!(tails_of(&folder), [Some(1), Some(2)]);
}

/// As a kill between the two files leaves it: the copy stands, the row does not. Before the retry the row may have
/// come back or not, and the moment may have been another note's.
#[test]
fn a_note_cut_short_and_sent_again_is_one_note() {
    for (name, is_restored, moment_s) in [
        ("cut-1", false, 5.0),
        ("cut-2", true, 5.0),
        ("cut-3", false, 0.0),
        ("cut-4", true, 0.0),
    ] {
        let folder = Scratch::new(name);
        let notes_path = folder.path().join(folder::NOTES);
        append(folder.path(), &at(1.0e9, 1), 0.0).unwrap();
        let before = fs::read(&notes_path).unwrap();
        append(folder.path(), &at(1.0e9 + moment_s, 2), 0.0).unwrap();
        fs::write(&notes_path, before).unwrap();
        if is_restored {
            assert_eq!(restore(folder.path(), 0.0).unwrap(), 1);
        }
        append(folder.path(), &at(1.0e9 + moment_s, 2), 0.0).unwrap();
        assert_eq!(tails_of(&folder), [Some(1), Some(2)], "{name}");
        assert_eq!(restore(folder.path(), 0.0).unwrap(), 0, "{name}");
    }
}

#[test]
fn two_alike_notes_of_one_second_are_two() {
    let folder = Scratch::new("alike");
    let mut note = at(1.0e9, 2);
    note.time = NoteTime::Absolute {
        unix_s: 1.0e9,
        resolution_s: 1.0,
    };
    append(folder.path(), &note, 0.0).unwrap();
    append(folder.path(), &note, 0.0).unwrap();
    assert_eq!(tails_of(&folder), [Some(2), Some(2)]);
}
