//! Taking a note back by a correcting note: nothing is ever deleted.
//!
//! A row whose `event` is `undo` takes back the note whose time its text names (`takes back
//! 2026-03-02T14:05:09.250+01:00`), the nearest above that still stands where several have that time. A note without a
//! time is named by its cells (`takes back the note without a time: tails=2, text=cold`), the nearest above that has
//! just these; once it was changed, nothing is taken back.
//! Written by hand in a spreadsheet, `undo` alone is enough: it takes back the nearest note above that still stands.

use super::write::{filled, row};
use super::{Note, NoteTime, time, write_moment};

/// The event of a correcting note.
pub const UNDO: &str = "undo";

/// What stands before the time in its text.
const TAKES_BACK: &str = "takes back ";

/// What stands there before the cells of a note without a time.
const UNTIMED: &str = "the note without a time:";

/// Two moments written to the millisecond are the same within half of one.
pub(super) const SAME_MOMENT_S: f64 = 5.0e-4;

/// The note that takes back `note`, written at `unix_s`.
#[must_use]
pub fn undo_note(note: &Note, unix_s: f64, utc_offset_s: f64) -> Note {
    let named = match note.time {
        NoteTime::Absolute { unix_s, .. } => write_moment(unix_s, utc_offset_s),
        NoteTime::OrderedOnly => format!("{UNTIMED} {}", cells_of(note)),
        _ => time::write(&note.time, utc_offset_s),
    };
    Note {
        time: NoteTime::Absolute {
            unix_s,
            resolution_s: 1.0e-3,
        },
        event: Some(UNDO.to_owned()),
        text: Some(format!("{TAKES_BACK}{named}")),
        ..Note::default()
    }
}

/// Which notes were taken back. *Shape*: as long as `notes`; correcting notes themselves are `false`.
#[must_use]
pub fn taken_back(notes: &[Note]) -> Vec<bool> {
    let mut back = vec![false; notes.len()];
    for (i, note) in notes.iter().enumerate() {
        if !is_undo(note) {
            continue;
        }
        if let Some(j) = named_note(notes, &back, i).or_else(|| above(notes, &back, i)) {
            back[j] = true;
        }
    }
    back
}

/// The notes with those that were taken back, and the notes that did so, emptied: same places, same
/// times, nothing in them but an event that describes no burst.
#[must_use]
pub fn in_force(notes: &[Note]) -> Vec<Note> {
    let back = taken_back(notes);
    notes
        .iter()
        .zip(back)
        .map(|(note, is_back)| {
            if is_back || is_undo(note) {
                Note {
                    line: note.line,
                    time: note.time.clone(),
                    event: Some(UNDO.to_owned()),
                    ..Note::default()
                }
            } else {
                note.clone()
            }
        })
        .collect()
}

fn is_undo(note: &Note) -> bool {
    note.event.as_deref() == Some(UNDO)
}

/// The note whose time the text names. A named note that is not there is not guessed at.
fn named_note(notes: &[Note], back: &[bool], i: usize) -> Option<usize> {
    let named = notes[i].text.as_deref()?.trim().strip_prefix(TAKES_BACK)?;
    if let Some(cells) = named.trim().strip_prefix(UNTIMED) {
        return untimed_note(notes, back, i, cells.trim());
    }
    let wanted = time::read(named.trim()).ok()?;
    let above = (0..i).rev();
    above
        .chain(i..notes.len())
        .find(|j| !back[*j] && !is_undo(&notes[*j]) && is_same_moment(&notes[*j].time, &wanted))
}

/// The nearest note above without a time that has these cells. Not one below: that is another, written later.
fn untimed_note(notes: &[Note], back: &[bool], i: usize, cells: &str) -> Option<usize> {
    (0..i).rev().find(|j| {
        let note = &notes[*j];
        !back[*j] && !is_undo(note) && note.time == NoteTime::OrderedOnly && cells_of(note) == cells
    })
}

/// What stands in a note, on one line: `tails=2, text=cold`.
fn cells_of(note: &Note) -> String {
    let cells = filled(note).into_iter().map(|column| {
        let cell = row(note, &[column], 0.0);
        let words: Vec<&str> = cell.split_whitespace().collect();
        format!("{column}={}", words.join(" "))
    });
    cells.collect::<Vec<_>>().join(", ")
}

pub(super) fn is_same_moment(time: &NoteTime, wanted: &NoteTime) -> bool {
    match (time, wanted) {
        (NoteTime::OrderedOnly, _) => false,
        (NoteTime::Absolute { unix_s, .. }, NoteTime::Absolute { unix_s: wanted, .. }) => {
            (unix_s - wanted).abs() < SAME_MOMENT_S
        }
        _ => time == wanted,
    }
}

fn above(notes: &[Note], back: &[bool], i: usize) -> Option<usize> {
    let names_one = notes[i]
        .text
        .as_deref()
        .is_some_and(|text| text.trim().starts_with(TAKES_BACK));
    if names_one {
        return None;
    }
    (0..i).rev().find(|j| !back[*j] && !is_undo(&notes[*j]))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn note(unix_s: f64, tails: u8) -> Note {
        Note {
            time: NoteTime::Absolute {
                unix_s,
                resolution_s: 1.0e-3,
            },
            tails: Some(tails),
            ..Note::default()
        }
    }

    fn bare_undo() -> Note {
        Note {
            event: Some(UNDO.to_owned()),
            ..Note::default()
        }
    }

    #[test]
    fn a_named_note_is_taken_back_whatever_came_between() {
        let first = note(1.0e9 + 0.123, 1);
        let undo = undo_note(&first, 1.0e9 + 9.0, 3_600.0);
        let notes = [first, note(1.0e9 + 5.0, 2), undo];
        assert_eq!(taken_back(&notes), [true, false, false]);
        let left = in_force(&notes);
        assert_eq!((left[0].tails, left[1].tails), (None, Some(2)));
    }

    #[test]
    fn undo_written_by_hand_takes_back_the_notes_above_one_by_one() {
        let notes = [
            note(1.0, 1),
            note(2.0, 2),
            bare_undo(),
            bare_undo(),
            bare_undo(),
        ];
        assert_eq!(taken_back(&notes), [true, true, false, false, false]);
    }

    fn untimed(tails: u8, text: &str) -> Note {
        Note {
            time: NoteTime::OrderedOnly,
            text: Some(text.to_owned()),
            ..note(0.0, tails)
        }
    }

    #[test]
    fn an_untimed_note_is_named_by_its_cells_and_no_other_goes_in_its_place() {
        let (first, wanted) = (untimed(1, "cold"), untimed(2, "cold, \n \"thick\""));
        let undo = undo_note(&wanted, 99.0, 0.0);
        assert_eq!(
            undo.text.as_deref(),
            Some("takes back the note without a time: tails=2, text=\"cold, \"\"thick\"\"\"")
        );
        // A row put in between, a row moved, and the note itself changed or deleted.
        let between = [first.clone(), wanted.clone(), untimed(3, ""), undo.clone()];
        assert_eq!(taken_back(&between), [false, true, false, false]);
        let moved = [wanted.clone(), first.clone(), undo.clone()];
        assert_eq!(taken_back(&moved), [true, false, false]);
        let changed = [first.clone(), untimed(0, "cold"), undo.clone()];
        assert_eq!(taken_back(&changed), [false; 3]);
        assert_eq!(taken_back(&[first, undo.clone()]), [false; 2]);
        // Alike ones: one an undo, the nearest first, and none that was written later.
        let alike = [
            wanted.clone(),
            wanted.clone(),
            undo.clone(),
            wanted.clone(),
            undo.clone(),
            undo,
        ];
        assert_eq!(taken_back(&alike), [true, true, false, true, false, false]);
    }

    #[test]
    fn an_undo_of_an_untimed_note_survives_its_file() {
        let mut wanted = untimed(2, "a, \"b\"");
        wanted.thinner_ratio = Some(0.07);
        wanted.comb_m = Some(1.3e-4);
        wanted.extra = vec![("mood".to_owned(), "good; so far".to_owned())];
        let written = super::super::write(&[wanted.clone()], 0.0);
        let seen = super::super::read(written.as_bytes()).unwrap().remove(0);
        let text = super::super::write(&[wanted, undo_note(&seen, 9.0, 0.0)], 0.0);
        let notes = super::super::read(text.as_bytes()).unwrap();
        assert_eq!(taken_back(&notes), [true, false]);
    }

    #[test]
    fn a_clock_time_names_a_note_and_the_last_of_several() {
        let clock = |tails| Note {
            time: NoteTime::Clock {
                since_midnight_s: 50_700.0,
                resolution_s: 60.0,
            },
            ..note(0.0, tails)
        };
        let undo = undo_note(&clock(1), 99.0, 0.0);
        assert_eq!(undo.text.as_deref(), Some("takes back 14:05"));
        let notes = [clock(1), clock(2), note(5.0, 3), undo.clone(), undo];
        assert_eq!(taken_back(&notes), [true, true, false, false, false]);
    }

    #[test]
    fn a_named_note_that_is_not_there_takes_nothing_else_back() {
        let undo = undo_note(&note(77.0, 1), 99.0, 0.0);
        assert_eq!(taken_back(&[note(1.0, 1), undo]), [false, false]);
    }
}
