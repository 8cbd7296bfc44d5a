//! The recording's notes for the page: watched, read, written, and put back when a spreadsheet that
//! was open overwrote some.
//!
//! Page, terminal and spreadsheet all meet in `notes.csv`. What a program adds is written under a
//! lock and kept a second time; when the file changes, everything that was added and is missing is
//! put back, so that the three always come to agree.

use std::collections::VecDeque;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};
use std::time::SystemTime;

use super::desk::{Desk, DeskError};
use super::feed::{NoteBook, NotesNow};
use super::snapshot::NoteView;
use crate::recording::fault::FileFaults;
use crate::recording::folder;
use crate::recording::notes::{self, KnownEvent, Note, NoteError, NoteTime};

/// Ids of notes that are remembered, so that one sent twice is written once.
const MOST_IDS: usize = 1_024;

/// Looks at one poll, where a spreadsheet saves again and again.
const MOST_LOOKS: usize = 3;

/// Watches the notes of a folder.
#[derive(Debug)]
pub struct FolderNotes {
    path: PathBuf,
    utc_offset_s: f64,
    seen: Option<Stamp>,
    is_first: bool,
}

/// Enough to see that a file has changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Stamp {
    modified: Option<SystemTime>,
    length: u64,
}

impl FolderNotes {
    /// Watches the notes of a recording folder. Times are shown with this offset from UTC.
    #[must_use]
    pub const fn new(path: PathBuf, utc_offset_s: f64) -> Self {
        Self {
            path,
            utc_offset_s,
            seen: None,
            is_first: true,
        }
    }

    fn stamp(&self) -> Option<Stamp> {
        let meta = std::fs::metadata(self.path.join(folder::NOTES)).ok()?;
        Some(Stamp {
            modified: meta.modified().ok(),
            length: meta.len(),
        })
    }
}

impl NoteBook for FolderNotes {
    fn poll(&mut self) -> Option<NotesNow> {
        let stamp = self.stamp();
        if stamp == self.seen && !self.is_first {
            return None;
        }
        self.is_first = false;
        // What was added and is missing comes back first; a faulty file is left alone and told below. Whoever saves
        // after the look that found nothing missing is seen at the next poll.
        for _ in 0..MOST_LOOKS {
            self.seen = self.stamp();
            if !matches!(notes::restore(&self.path, self.utc_offset_s), Ok(1..)) {
                break;
            }
        }
        Some(match read_notes(&self.path) {
            Ok(notes) => now(&notes, self.utc_offset_s),
            Err(problem) => NotesNow {
                problem: Some(format!(
                    "{problem}; notes are shown again once it is mended"
                )),
                ..NotesNow::default()
            },
        })
    }
}

/// The notes of a folder; a folder without the file has none.
fn read_notes(path: &Path) -> Result<Vec<Note>, String> {
    let file = path.join(folder::NOTES);
    if !file.exists() {
        return Ok(Vec::new());
    }
    folder::read_limited(&file, folder::MOST_NOTES_MIB)
        .and_then(|bytes| {
            if bytes.iter().all(u8::is_ascii_whitespace) {
                return Ok(Vec::new());
            }
            notes::read(&bytes)
        })
        .map_err(|faults| {
            let file = folder::NOTES.to_owned();
            FileFaults { file, faults }.to_string()
        })
}

fn now(all: &[Note], utc_offset_s: f64) -> NotesNow {
    let back = notes::taken_back(all);
    let views = all
        .iter()
        .zip(back)
        .map(|(note, is_undone)| NoteView {
            time: shown_time(&note.time, utc_offset_s),
            words: words(note),
            is_undone,
            by: None,
        })
        .collect();
    NotesNow {
        notes: notes::in_force(all),
        views,
        problem: None,
    }
}

/// Clock time of day for a moment, as written for anything else.
fn shown_time(time: &NoteTime, utc_offset_s: f64) -> String {
    let clock = |s: f64| {
        let s = s.rem_euclid(86_400.0).floor();
        let (h, m) = ((s / 3600.0).floor(), (s / 60.0).floor() % 60.0);
        format!("{h:02.0}:{m:02.0}:{:02.0}", s % 60.0)
    };
    match time {
        NoteTime::Absolute { unix_s, .. } => clock(unix_s + utc_offset_s),
        NoteTime::Clock {
            since_midnight_s, ..
        } => clock(*since_midnight_s),
        NoteTime::About { since_midnight_s } => format!("~{}", clock(*since_midnight_s)),
        NoteTime::Logger { t_s } => format!("t+{t_s:.1}"),
        NoteTime::OrderedOnly => "-".to_owned(),
    }
}

/// What a note says, in words.
fn words(note: &Note) -> String {
    let mut parts = Vec::new();
    parts.extend(note.tails.map(|tails| format!("tails {tails}")));
    parts.extend(
        note.runs
            .map(|ran| if ran { "it ran" } else { "no run" }.to_owned()),
    );
    parts.extend(note.tip.as_ref().map(|tip| format!("tip {tip}")));
    parts.extend(
        note.tip_family
            .as_ref()
            .map(|family| format!("family {family}")),
    );
    parts.extend(note.material.as_ref().map(|name| format!("coating {name}")));
    let percent = |ratio: f64| format!("{:.1} % thinner", ratio * 100.0);
    parts.extend(note.thinner_ratio.map(percent));
    parts.extend(note.dial.as_ref().map(|dial| format!("dial {dial}")));
    parts.extend(note.comb_m.map(|m| format!("comb {:.0} µm", m * 1.0e6)));
    parts.extend(
        note.catch_kg
            .map(|kg| format!("caught {:.1} g", kg * 1.0e3)),
    );
    parts.extend(note.event.as_deref().map(event_in_words));
    parts.extend(note.text.clone());
    if parts.is_empty() {
        parts.push("(empty)".to_owned());
    }
    parts.join(", ")
}

fn event_in_words(event: &str) -> String {
    let known = KnownEvent::of(event);
    known.map_or_else(|| event.to_owned(), |known| known.words().to_owned())
}

/// Writes the page's notes into a folder.
#[derive(Debug)]
pub struct FolderDesk {
    path: PathBuf,
    utc_offset_s: f64,
    puts_back: bool,
    ids: Mutex<VecDeque<String>>,
}

impl FolderDesk {
    /// A desk over a folder that is being recorded into: what a spreadsheet overwrites comes back.
    #[must_use]
    pub fn new(path: PathBuf, utc_offset_s: f64) -> Self {
        Self {
            path,
            utc_offset_s,
            puts_back: true,
            ids: Mutex::default(),
        }
    }

    /// A desk over a recording that has ended: a row that was deleted stays so.
    #[must_use]
    pub fn of_ended(path: PathBuf, utc_offset_s: f64) -> Self {
        Self {
            puts_back: false,
            ..Self::new(path, utc_offset_s)
        }
    }

    /// Writes under the memory of ids: one at a time, each id once.
    fn write_once(
        &self,
        id: &str,
        write: impl FnOnce() -> Result<(), DeskError>,
    ) -> Result<(), DeskError> {
        let mut ids = self.ids.lock().unwrap_or_else(PoisonError::into_inner);
        if ids.iter().any(|known| known == id) {
            return Ok(());
        }
        write()?;
        ids.push_back(id.to_owned());
        if ids.len() > MOST_IDS {
            ids.pop_front();
        }
        Ok(())
    }
}

impl From<NoteError> for DeskError {
    fn from(error: NoteError) -> Self {
        Self::File(error.to_string())
    }
}

/// As it will stand in the file.
fn to_millisecond(unix_s: f64) -> f64 {
    (unix_s * 1.0e3).round() / 1.0e3
}

impl Desk for FolderDesk {
    fn add_note(&self, mut note: Note, id: &str) -> Result<(), DeskError> {
        if let NoteTime::Absolute { unix_s, .. } = &mut note.time {
            *unix_s = to_millisecond(*unix_s);
        }
        self.write_once(id, || {
            Ok(notes::append(&self.path, &note, self.utc_offset_s)?)
        })
    }

    fn undo(&self, unix_s: f64, id: &str) -> Result<(), DeskError> {
        let make = |all: &[Note]| {
            let back = notes::taken_back(all);
            let latest = all
                .iter()
                .zip(back)
                .rev()
                .find(|(note, is_back)| !is_back && note.event.as_deref() != Some(notes::UNDO))
                .map(|(note, _)| note)
                .ok_or(DeskError::NothingToUndo)?;
            let moment = to_millisecond(unix_s);
            Ok(notes::undo_note(latest, moment, self.utc_offset_s))
        };
        self.write_once(id, || {
            notes::append_made(&self.path, self.utc_offset_s, self.puts_back, make)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scratch::Scratch;

    fn tails(unix_s: f64, tails: u8) -> Note {
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
    fn a_note_sent_twice_is_written_once_and_taken_back_once() {
        let folder = Scratch::new("desk");
        let desk = FolderDesk::new(folder.path().to_owned(), 3_600.0);
        let mut book = FolderNotes::new(folder.path().to_owned(), 3_600.0);
        assert!(book.poll().unwrap().views.is_empty());
        desk.add_note(tails(1.0e9, 1), "note-0001").unwrap();
        desk.add_note(tails(1.0e9, 1), "note-0001").unwrap();
        desk.add_note(tails(1.0e9, 2), "note-0002").unwrap();
        let now = book.poll().unwrap();
        assert_eq!(now.views.len(), 2);
        assert_eq!(now.views[0].time, "02:46:40");
        desk.undo(1.0e9 + 4.0, "undo-0001").unwrap();
        let now = book.poll().unwrap();
        assert!(now.views[1].is_undone && !now.views[0].is_undone);
        assert_eq!(now.notes[1].tails, None);
        desk.undo(1.0e9 + 5.0, "undo-0002").unwrap();
        let nothing = desk.undo(1.0e9 + 6.0, "undo-0003");
        assert_eq!(nothing, Err(DeskError::NothingToUndo));
        assert!(book.poll().is_some() && book.poll().is_none());
    }

    #[test]
    fn a_row_that_a_spreadsheet_dropped_is_back_at_the_next_look() {
        let folder = Scratch::new("book");
        let desk = FolderDesk::new(folder.path().to_owned(), 0.0);
        let mut book = FolderNotes::new(folder.path().to_owned(), 0.0);
        desk.add_note(tails(1.0e9, 1), "note-0001").unwrap();
        book.poll();
        std::fs::write(
            folder.path().join(folder::NOTES),
            "time,tails,text\n2001-09-09T01:50:00+00:00,0,mine\n",
        )
        .unwrap();
        let now = book.poll().unwrap();
        let grades: Vec<_> = now.notes.iter().map(|n| n.tails).collect();
        assert_eq!(grades, [Some(1), Some(0)]);
    }

    #[test]
    fn a_file_that_cannot_be_read_says_where_and_nothing_is_lost() {
        let folder = Scratch::new("faulty");
        let desk = FolderDesk::new(folder.path().to_owned(), 0.0);
        let mut book = FolderNotes::new(folder.path().to_owned(), 0.0);
        std::fs::write(folder.path().join(folder::NOTES), "time,tails\n11:00,7\n").unwrap();
        let problem = book.poll().unwrap().problem.unwrap();
        assert!(problem.starts_with("notes.csv, line 2"), "{problem}");
        let refused = desk.add_note(tails(1.0e9, 1), "note-0001").unwrap_err();
        assert!(
            refused.to_string().contains("the note was not added"),
            "{refused}"
        );
    }
}
