//! What a button of the page may do: a request from outside, checked field by field, to a [`Note`].
//!
//! The page cannot name a file, a line or a column: it fills a few cells with short texts and small
//! numbers. A request carries an id of its own, so that a note sent twice over a bad line is
//! written once.

use serde::Deserialize;
use thiserror::Error;

use crate::recording::notes::{KnownEvent, Note, NoteTime};

/// Longest tip code, family word, dial position, coating or event, in characters.
const MOST_NAME: usize = 60;

/// Longest free text, in characters.
const MOST_TEXT: usize = 500;

/// A note may have waited this long in a phone without a line, s.
const MOST_AGE_S: f64 = 6.0 * 3600.0;

/// A note as the page sends it. Fields that it does not know are refused.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NoteRequest {
    /// The sender's own id for this note: letters, digits and dashes.
    pub id: String,
    /// How long ago the button was pressed, s.
    #[serde(default)]
    pub age_s: f64,
    /// Tip code.
    pub tip: Option<String>,
    /// The user's family word.
    pub tip_family: Option<String>,
    /// Coating.
    pub material: Option<String>,
    /// Thinner, percent by volume of coating.
    pub thinner_pct: Option<f64>,
    /// Control position.
    pub dial: Option<String>,
    /// Tails, 0 to 3.
    pub tails: Option<u8>,
    /// The coat ran.
    pub runs: Option<bool>,
    /// Wet film comb, micrometres.
    pub comb_um: Option<f64>,
    /// A [`KnownEvent`].
    pub event: Option<String>,
    /// Free text.
    pub text: Option<String>,
}

/// Why a note was not taken.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum NoteFault {
    /// Nothing in it.
    #[error("the note is empty; nothing was written")]
    Empty,
    /// The id is missing or has other letters than it may.
    #[error("the note's id must be 8 to 64 letters, digits or dashes; nothing was written")]
    Id,
    /// A text is too long.
    #[error("{field} has {length} characters, {most} are the most; nothing was written")]
    TooLong {
        /// Which.
        field: &'static str,
        /// How long it is.
        length: usize,
        /// How long it may be.
        most: usize,
    },
    /// A text has control characters.
    #[error("{field} has a control character in it; nothing was written")]
    Control {
        /// Which.
        field: &'static str,
    },
    /// A number is outside its range.
    #[error("{field} is {value}; it must be from {low} to {high}; nothing was written")]
    Range {
        /// Which.
        field: &'static str,
        /// What it is.
        value: f64,
        /// Lowest.
        low: f64,
        /// Highest.
        high: f64,
    },
    /// The event is not one of the known ones.
    #[error(
        "the event is none of those that a button sends; write it as text; nothing was written"
    )]
    Event,
}

/// Why the desk could not do what was asked.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum DeskError {
    /// There is nothing left to take back.
    #[error("there is no note to take back")]
    NothingToUndo,
    /// The recording has ended.
    #[error("the recording has ended; add notes to its notes.csv, or with `tipcurve note`")]
    Ended,
    /// The notes file could not be written; the text says where, what and what to do.
    #[error("{0}")]
    File(String),
}

/// What the page may do. Implemented over the recording folder; calls may wait for the disk.
pub trait Desk: Send + Sync {
    /// Writes a note. A note whose `id` was written before is not written again.
    ///
    /// # Errors
    /// [`DeskError`].
    fn add_note(&self, note: Note, id: &str) -> Result<(), DeskError>;

    /// Takes back the latest note that was not taken back yet, by a correcting note.
    ///
    /// # Errors
    /// [`DeskError`].
    fn undo(&self, unix_s: f64, id: &str) -> Result<(), DeskError>;
}

impl NoteRequest {
    /// The note, if everything in it is as it may be; `now_unix_s` is when it arrived.
    ///
    /// # Errors
    /// [`NoteFault`], naming the field.
    pub fn into_note(self, now_unix_s: f64) -> Result<Note, NoteFault> {
        check_id(&self.id)?;
        let age_s = in_range("age_s", self.age_s, 0.0, MOST_AGE_S)?;
        let note = Note {
            time: NoteTime::Absolute {
                unix_s: now_unix_s - age_s,
                resolution_s: 1.0e-3,
            },
            tip: name("tip", self.tip)?,
            tip_family: name("tip_family", self.tip_family)?,
            material: name("material", self.material)?,
            thinner_ratio: number("thinner_pct", self.thinner_pct, 0.0, 100.0)?.map(|p| p / 100.0),
            dial: name("dial", self.dial)?,
            tails: grade(self.tails)?,
            runs: self.runs,
            comb_m: number("comb_um", self.comb_um, 0.0, 5_000.0)?.map(|um| um * 1.0e-6),
            event: event(self.event)?,
            text: cell("text", self.text, MOST_TEXT)?,
            ..Note::default()
        };
        if is_empty(&note) {
            return Err(NoteFault::Empty);
        }
        Ok(note)
    }
}

/// Checks a request's own id.
///
/// # Errors
/// [`NoteFault::Id`].
pub fn check_id(id: &str) -> Result<(), NoteFault> {
    let plain = id.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-');
    if plain && (8..=64).contains(&id.len()) {
        Ok(())
    } else {
        Err(NoteFault::Id)
    }
}

fn is_empty(note: &Note) -> bool {
    let bare = Note {
        time: note.time.clone(),
        ..Note::default()
    };
    *note == bare
}

fn name(field: &'static str, text: Option<String>) -> Result<Option<String>, NoteFault> {
    cell(field, text, MOST_NAME)
}

fn cell(
    field: &'static str,
    text: Option<String>,
    most: usize,
) -> Result<Option<String>, NoteFault> {
    let Some(text) = text else { return Ok(None) };
    let text = text.trim();
    let length = text.chars().count();
    if length > most {
        return Err(NoteFault::TooLong {
            field,
            length,
            most,
        });
    }
    if text
        .chars()
        .any(|c| c.is_control() && c != '\n' && c != '\t')
    {
        return Err(NoteFault::Control { field });
    }
    // A note stays one line of the file: spreadsheets and people read it so.
    let text = text.replace(['\n', '\t'], " ");
    Ok((!text.is_empty()).then_some(text))
}

fn grade(tails: Option<u8>) -> Result<Option<u8>, NoteFault> {
    match tails {
        Some(value @ 4..) => Err(NoteFault::Range {
            field: "tails",
            value: f64::from(value),
            low: 0.0,
            high: 3.0,
        }),
        fine => Ok(fine),
    }
}

fn event(event: Option<String>) -> Result<Option<String>, NoteFault> {
    match event {
        Some(word) if KnownEvent::of(&word).is_none() => Err(NoteFault::Event),
        fine => Ok(fine),
    }
}

fn number(
    field: &'static str,
    value: Option<f64>,
    low: f64,
    high: f64,
) -> Result<Option<f64>, NoteFault> {
    value
        .map(|value| in_range(field, value, low, high))
        .transpose()
}

fn in_range(field: &'static str, value: f64, low: f64, high: f64) -> Result<f64, NoteFault> {
    if (low..=high).contains(&value) {
        Ok(value)
    } else {
        Err(NoteFault::Range {
            field,
            value,
            low,
            high,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn request(json: &str) -> Result<Note, String> {
        serde_json::from_str::<NoteRequest>(json)
            .map_err(|e| e.to_string())?
            .into_note(1.0e9)
            .map_err(|e| e.to_string())
    }

    #[test]
    fn a_grade_becomes_a_note_at_the_time_of_the_press() {
        let note = request(r#"{"id":"abcd-1234","age_s":2.5,"tails":2}"#).unwrap();
        assert_eq!(note.tails, Some(2));
        let NoteTime::Absolute { unix_s, .. } = note.time else {
            panic!("no absolute time")
        };
        assert!((unix_s - (1.0e9 - 2.5)).abs() < 1e-6);
    }

    #[test]
    fn markup_in_a_text_is_only_text() {
        let note = request(r#"{"id":"abcd-1234","text":" <script>alert(1)</script>\n=1+1 "}"#);
        assert_eq!(
            note.unwrap().text.unwrap(),
            "<script>alert(1)</script> =1+1"
        );
    }

    #[test]
    fn what_is_not_as_it_may_be_is_refused_by_name() {
        let long = "x".repeat(501);
        for (json, message) in [
            (
                r#"{"id":"abcd-1234"}"#.to_owned(),
                "the note is empty; nothing was written",
            ),
            (
                r#"{"id":"a b","tails":1}"#.to_owned(),
                "the note's id must be 8 to 64 letters, digits or dashes; nothing was written",
            ),
            (
                r#"{"id":"abcd-1234","tails":4}"#.to_owned(),
                "tails is 4; it must be from 0 to 3; nothing was written",
            ),
            (
                format!(r#"{{"id":"abcd-1234","text":"{long}"}}"#),
                "text has 501 characters, 500 are the most; nothing was written",
            ),
            (
                r#"{"id":"abcd-1234","tip":"4\u000015"}"#.to_owned(),
                "tip has a control character in it; nothing was written",
            ),
            (
                r#"{"id":"abcd-1234","event":"format_disk"}"#.to_owned(),
                "the event is none of those that a button sends; write it as text; nothing was written",
            ),
            (
                r#"{"id":"abcd-1234","age_s":-1,"tails":1}"#.to_owned(),
                "age_s is -1; it must be from 0 to 21600; nothing was written",
            ),
        ] {
            assert_eq!(request(&json).unwrap_err(), message);
        }
        assert!(
            request(r#"{"id":"abcd-1234","path":"/"}"#)
                .unwrap_err()
                .contains("path")
        );
        assert!(request(r#"{"id":"abcd-1234","thinner_pct":1e999}"#).is_err());
    }
}
