//! Rows put below what is there, whatever a spreadsheet made of it.

use super::*;
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
