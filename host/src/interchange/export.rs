//! A recording out to the plain-text interchange: a new folder of three files, or nothing.

use std::fs::{self, File};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use crate::recording::folder::{self, CreateError};
use crate::recording::notes::{self, Note, NoteTime};
use crate::recording::settings::{self, Settings};
use crate::recording::{Data, Recording, samples};

/// Why nothing was exported.
#[derive(Debug, thiserror::Error)]
pub enum ExportError {
    /// Something stands where the folder should go.
    #[error("{}: exists already; nothing was exported", path.display())]
    Exists {
        /// Where it should go.
        path: PathBuf,
    },
    /// What the system says.
    #[error("{}: {error}; nothing was exported", path.display())]
    System {
        /// Where it should go.
        path: PathBuf,
        /// The system's own words.
        error: io::Error,
    },
}

/// Writes a recording as `samples.csv`, `notes.csv` and `session.toml` into a new folder.
///
/// `session_text` is the recording's own `session.toml`, kept as it is with its comments and
/// unknown keys; without it the settings are written afresh. Where the file does not say when logger
/// time was zero and the log does, that is added at its top. Presses of the logger's button become
/// notes with the event `mark`.
///
/// What is not carried: raw codes, arrival times of single frames, and how many samples were lost
/// in a gap (the gap itself shows in the times).
///
/// # Errors
/// See [`ExportError`]; nothing is left behind then.
pub fn export(
    recording: &Recording,
    session_text: Option<&str>,
    path: &Path,
) -> Result<(), ExportError> {
    export_with(recording, session_text, path, |_| Ok(()))
}

/// As [`export`], with a last step on the new folder before it is put in its place.
///
/// # Errors
/// See [`ExportError`]; what `last` says counts as the system's words; nothing is left behind then.
pub fn export_with(
    recording: &Recording,
    session_text: Option<&str>,
    path: &Path,
    last: impl FnOnce(&Path) -> io::Result<()>,
) -> Result<(), ExportError> {
    folder::create_whole(path, |new| {
        write_samples(&recording.data, &new.join(folder::SAMPLES))?;
        let offset_s = recording.settings.utc_offset_s.unwrap_or(0.0);
        let notes = notes::write(&notes_with_marks(recording), offset_s);
        fs::write(new.join(folder::NOTES), notes)?;
        let session = session(recording, session_text);
        fs::write(new.join(folder::SESSION), session)?;
        last(new)
    })
    .map_err(|error| match error {
        CreateError::Exists { path } => ExportError::Exists { path },
        CreateError::Failed { path, error } => ExportError::System { path, error },
    })
}

fn write_samples(data: &Data, path: &Path) -> io::Result<()> {
    let mut to = BufWriter::new(File::create(path)?);
    samples::write(data, &mut to)?;
    to.flush()
}

/// The notes, and a note for each press of the button, put before the first note that is known to
/// be later.
fn notes_with_marks(recording: &Recording) -> Vec<Note> {
    let mut notes = recording.notes.clone();
    let Data::Device(log) = &recording.data else {
        return notes;
    };
    let start_unix_s = recording.started_unix_s();
    for mark_s in &log.mark_t_s {
        let is_later = |note: &Note| {
            logger_time_s(&note.time, start_unix_s, &recording.settings)
                .is_some_and(|t| t > *mark_s)
        };
        let at = notes.iter().position(is_later).unwrap_or(notes.len());
        let mark = Note {
            time: NoteTime::Logger { t_s: *mark_s },
            event: Some("mark".to_owned()),
            ..Note::default()
        };
        notes.insert(at, mark);
    }
    notes
}

/// When a note was made in logger time, by its own words and the recording's start.
fn logger_time_s(time: &NoteTime, start_unix_s: Option<f64>, settings: &Settings) -> Option<f64> {
    const DAY_S: f64 = 86_400.0;
    match *time {
        NoteTime::Logger { t_s } => Some(t_s),
        NoteTime::Absolute { unix_s, .. } => Some(unix_s - start_unix_s?),
        NoteTime::Clock {
            since_midnight_s, ..
        }
        | NoteTime::About { since_midnight_s } => {
            let start_s = (start_unix_s? + settings.utc_offset_s?).rem_euclid(DAY_S);
            // The nearest such clock time: a session may run past midnight.
            Some((since_midnight_s - start_s + DAY_S / 2.0).rem_euclid(DAY_S) - DAY_S / 2.0)
        }
        NoteTime::OrderedOnly => None,
    }
}

fn session(recording: &Recording, session_text: Option<&str>) -> String {
    let settings = &recording.settings;
    let start_unix_s = recording.started_unix_s();
    let Some(text) = session_text else {
        return settings::write(&Settings {
            started_at_unix_s: start_unix_s,
            ..settings.clone()
        });
    };
    match start_unix_s {
        Some(unix_s) if settings.started_at_unix_s.is_none() => {
            let started = notes::write_moment(unix_s, settings.utc_offset_s.unwrap_or(0.0));
            format!(
                "# From the arrivals of the logger's frames.\nstarted_at = \"{started}\"\n{text}"
            )
        }
        _ => text.to_owned(),
    }
}
