//! A recording folder to one [`Recording`], with everything that was lost.
//!
//! Reads a logger's log or imported plain text, whichever the folder holds. Never repairs and
//! never writes: what is torn, missing or not understood becomes a [`LoadDefect`]; a text file that
//! a person can put right (`notes.csv`, `session.toml`, `samples.csv`) is refused with its faults.

use std::fs::File;
use std::io;
use std::path::{Path, PathBuf};

use super::decode::{Decoded, read_log};
use super::fault::{Faults, FileFaults, What};
use super::log::{Arrival, read_arrivals};
use super::notes::{self, Note};
use super::settings::{self, Settings};
use super::{Data, LoadDefect, Recording, folder, review, samples};

/// Why a folder is no recording that can be read.
#[derive(Debug, thiserror::Error)]
pub enum LoadError {
    /// No such folder.
    #[error("{}: no such folder", path.display())]
    NotFound {
        /// What was asked for.
        path: PathBuf,
    },
    /// A file where a folder is needed.
    #[error("{}: not a folder", path.display())]
    NotAFolder {
        /// What was asked for.
        path: PathBuf,
    },
    /// Neither a log nor samples.
    #[error(
        "{}: no recording, neither {} nor {} is in it",
        path.display(), folder::FRAMES, folder::SAMPLES
    )]
    NotARecording {
        /// What was asked for.
        path: PathBuf,
    },
    /// The device speaks another major version of the wire.
    #[error("{}: {message}", path.display())]
    OtherWire {
        /// What was asked for.
        path: PathBuf,
        /// Device and both versions.
        message: String,
    },
    /// Samples, and no hello that says what their codes mean.
    #[error(
        "{}: {n_samples} samples and no hello of the logger, so their codes have no unit",
        path.display()
    )]
    NoScale {
        /// What was asked for.
        path: PathBuf,
        /// Samples in the log.
        n_samples: usize,
    },
    /// Text files with faults.
    #[error("{}", list(files))]
    Faulty {
        /// The files at fault.
        files: Vec<FileFaults>,
    },
    /// What the system says.
    #[error("{}: {error}", path.display())]
    System {
        /// The file.
        path: PathBuf,
        /// The system's own words.
        error: io::Error,
    },
}

fn list(files: &[FileFaults]) -> String {
    let lines: Vec<String> = files.iter().map(ToString::to_string).collect();
    lines.join("\n")
}

/// Reads a recording folder.
///
/// *Cost*: linear in the log; memory is the columns, a few portions of the log and what they say.
///
/// # Errors
/// See [`LoadError`]; nothing in the folder is changed.
pub fn load(path: &Path) -> Result<Recording, LoadError> {
    check_folder(path)?;
    let mut defects = Vec::new();
    let data = if path.join(folder::FRAMES).exists() {
        let decoded = decode_log(path)?;
        check_decoded(path, &decoded)?;
        defects.extend(decoded.defects);
        Data::Device(decoded.log)
    } else if path.join(folder::SAMPLES).exists() {
        let read = read_text(
            path,
            folder::SAMPLES,
            folder::MOST_SAMPLES_MIB,
            samples::read,
        );
        Data::Samples(read.map_err(|files| LoadError::Faulty { files: vec![files] })?)
    } else {
        let path = path.to_owned();
        return Err(LoadError::NotARecording { path });
    };
    let (notes, settings) = read_notes_and_settings(path, &mut defects)?;
    if let Ok(added) = folder::read_limited(&path.join(folder::NOTES_ADDED), folder::MOST_NOTES_MIB)
    {
        let gone = notes::gone(&added, &notes);
        defects.extend(review::notes_gone(&gone));
    }
    let mut recording = Recording {
        name: folder::name_of(path),
        is_simulated: settings.is_simulated,
        settings,
        notes,
        data,
        defects,
    };
    review::review(&mut recording);
    Ok(recording)
}

fn check_folder(path: &Path) -> Result<(), LoadError> {
    let path = path.to_owned();
    match std::fs::metadata(&path) {
        Ok(found) if found.is_dir() => Ok(()),
        Ok(_) => Err(LoadError::NotAFolder { path }),
        Err(error) if error.kind() == io::ErrorKind::NotFound => Err(LoadError::NotFound { path }),
        Err(error) => Err(LoadError::System { path, error }),
    }
}

/// Notes and settings; one that is missing is a defect, one that is at fault is an error.
fn read_notes_and_settings(
    path: &Path,
    defects: &mut Vec<LoadDefect>,
) -> Result<(Vec<Note>, Settings), LoadError> {
    let notes = read_text(path, folder::NOTES, folder::MOST_NOTES_MIB, notes::read);
    let session = read_text(
        path,
        folder::SESSION,
        folder::MOST_SESSION_MIB,
        settings::read,
    );
    let mut files = Vec::new();
    let notes = or_default(notes, "no_notes", NO_NOTES, defects, &mut files);
    let session = or_default(session, "no_session", NO_SESSION, defects, &mut files);
    if files.is_empty() {
        Ok((notes, session))
    } else {
        Err(LoadError::Faulty { files })
    }
}

const NO_NOTES: &str = "notes.csv is missing, so nothing is known of tips, coatings and tails; add notes with \
     \"tipcurve note\" or by hand";
const NO_SESSION: &str = "session.toml is missing, so the date, the flow meter's constant and the rig's limits are not \
     known; write one, its keys are in the manual";

fn or_default<T: Default>(
    read: Result<T, FileFaults>,
    code: &str,
    message: &str,
    defects: &mut Vec<LoadDefect>,
    at_fault: &mut Vec<FileFaults>,
) -> T {
    match read {
        Ok(value) => return value,
        Err(file) if file.faults == Faults::of_file(What::NotFound) => defects.push(LoadDefect {
            code: code.to_owned(),
            range_s: None,
            message: message.to_owned(),
        }),
        Err(file) => at_fault.push(file),
    }
    T::default()
}

fn read_text<T>(
    path: &Path,
    name: &str,
    limit_mib: u64,
    read: impl Fn(&[u8]) -> Result<T, Faults>,
) -> Result<T, FileFaults> {
    let read = folder::read_limited(&path.join(name), limit_mib).and_then(|bytes| read(&bytes));
    read.map_err(|faults| FileFaults {
        file: name.to_owned(),
        faults,
    })
}

/// Decodes the log of a folder.
fn decode_log(path: &Path) -> Result<Decoded, LoadError> {
    let frames = path.join(folder::FRAMES);
    let system = |error| LoadError::System {
        path: frames.clone(),
        error,
    };
    let (arrivals, n_bad) = read_arrivals_of(path)?;
    let file = File::open(&frames).map_err(system)?;
    let length = file.metadata().map_err(system)?.len();
    let mut decoded = read_log(file, length, arrivals).map_err(system)?;
    if decoded.n_bytes == 0 {
        decoded.defects.push(LoadDefect {
            code: "empty_log".to_owned(),
            range_s: None,
            message: "the log is empty: nothing ever arrived; check port, cable and the logger's supply, \
                      then record again"
                .to_owned(),
        });
    }
    if n_bad > 0 {
        decoded.defects.push(LoadDefect {
            code: "bad_arrivals".to_owned(),
            range_s: None,
            message: format!(
                "{n_bad} lines of {} are torn or no arrival times and were passed over; the measurements \
                 are complete; nothing to do",
                folder::ARRIVALS
            ),
        });
    }
    Ok(decoded)
}

/// The arrivals, where there are any, and how many lines were none.
fn read_arrivals_of(path: &Path) -> Result<(Vec<Arrival>, usize), LoadError> {
    let path = path.join(folder::ARRIVALS);
    match std::fs::read(&path) {
        Ok(text) => Ok(read_arrivals(&text)),
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok((Vec::new(), 0)),
        Err(error) => Err(LoadError::System { path, error }),
    }
}

/// A log that says nothing in words that this program reads is no recording.
fn check_decoded(path: &Path, decoded: &Decoded) -> Result<(), LoadError> {
    let path = path.to_owned();
    let n_samples = decoded.log.t_s.len();
    if n_samples == 0 {
        if let Some(refused) = decoded.refused {
            let message = refused.to_string();
            return Err(LoadError::OtherWire { path, message });
        }
    } else if !decoded.has_scale {
        return Err(LoadError::NoScale { path, n_samples });
    }
    Ok(())
}
