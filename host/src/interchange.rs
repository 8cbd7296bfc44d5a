//! The plain-text interchange in and out: all or nothing, faults with line and column.
//!
//! A recording comes in as three files: `samples.csv` (what the sensors saw), `notes.csv` (what
//! the person saw) and `session.toml` (what does not change). [`import_folder`] reads them to a
//! [`Recording`] and writes nothing; [`import_to`] makes a recording folder of them; [`export()`] is
//! the way out.

mod export;
pub mod notes_csv;
pub mod samples_csv;

use std::path::{Path, PathBuf};
use std::{fmt, fs, io};

pub use export::{ExportError, export, export_with};

use crate::recording::fault::{Faults, FileFaults};
use crate::recording::folder::CreateError;
use crate::recording::{Data, Recording, folder, notes, review, samples, settings};

/// Where the three files of a recording stand.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SourceFiles {
    /// `samples.csv`.
    pub samples: PathBuf,
    /// `notes.csv`.
    pub notes: PathBuf,
    /// `session.toml`.
    pub session: PathBuf,
}

impl SourceFiles {
    /// The three files of a folder, under their usual names.
    #[must_use]
    pub fn in_folder(path: &Path) -> Self {
        Self {
            samples: path.join(folder::SAMPLES),
            notes: path.join(folder::NOTES),
            session: path.join(folder::SESSION),
        }
    }
}

/// Why nothing was imported.
#[derive(Debug)]
pub enum ImportError {
    /// Files at fault.
    Faulty {
        /// The files, in the order samples, notes, session.
        files: Vec<FileFaults>,
    },
    /// Something stands where the recording should go.
    Exists {
        /// Where it should go.
        path: PathBuf,
    },
    /// What the system says.
    System {
        /// Where the recording should go.
        path: PathBuf,
        /// The system's own words.
        error: io::Error,
    },
}

impl fmt::Display for ImportError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let files = match self {
            Self::Faulty { files } => files,
            Self::Exists { path } => {
                return write!(
                    f,
                    "{}: exists already; nothing was imported",
                    path.display()
                );
            }
            Self::System { path, error } => {
                return write!(f, "{}: {error}; nothing was imported", path.display());
            }
        };
        for (i, file) in files.iter().enumerate() {
            write!(f, "{}{file}", if i == 0 { "" } else { "\n" })?;
        }
        let n_faults: usize = files.iter().map(|file| file.faults.count()).sum();
        if n_faults == 1 {
            f.write_str("; nothing was imported")
        } else {
            write!(f, "\n{n_faults} faults; nothing was imported")
        }
    }
}

impl std::error::Error for ImportError {}

/// Reads the three files of a folder to a [`Recording`] named after the folder.
///
/// # Errors
/// Every fault of every file; nothing is read then.
pub fn import_folder(path: &Path) -> Result<Recording, ImportError> {
    import_files(&SourceFiles::in_folder(path), &folder::name_of(path))
}

/// Reads three files to a [`Recording`] of the given name.
///
/// # Errors
/// Every fault of every file; nothing is read then.
pub fn import_files(files: &SourceFiles, name: &str) -> Result<Recording, ImportError> {
    read_whole(files, name).map(|whole| whole.recording)
}

/// Imports three files into a new recording folder, which then holds them byte for byte.
///
/// # Errors
/// Every fault of every file, or a folder that cannot be made; nothing is left behind then.
pub fn import_to(files: &SourceFiles, to: &Path) -> Result<Recording, ImportError> {
    let whole = read_whole(files, &folder::file_name(to))?;
    folder::create_whole(to, |new| {
        fs::write(new.join(folder::SAMPLES), whole.samples)?;
        fs::write(new.join(folder::NOTES), whole.notes)?;
        fs::write(new.join(folder::SESSION), whole.session)
    })
    .map_err(|error| match error {
        CreateError::Exists { path } => ImportError::Exists { path },
        CreateError::Failed { path, error } => ImportError::System { path, error },
    })?;
    Ok(whole.recording)
}

/// A recording with the bytes that it was read from.
struct Whole {
    recording: Recording,
    samples: Vec<u8>,
    notes: Vec<u8>,
    session: Vec<u8>,
}

fn read_whole(files: &SourceFiles, name: &str) -> Result<Whole, ImportError> {
    let samples = read(&files.samples, folder::MOST_SAMPLES_MIB, samples::read);
    let notes = read(&files.notes, folder::MOST_NOTES_MIB, notes::read);
    let session = read(&files.session, folder::MOST_SESSION_MIB, settings::read);
    match (samples, notes, session) {
        (Ok((samples, table)), Ok((notes, list)), Ok((session, settings))) => {
            let mut recording = Recording {
                name: name.to_owned(),
                is_simulated: settings.is_simulated,
                settings,
                notes: list,
                data: Data::Samples(table),
                defects: Vec::new(),
            };
            review::review(&mut recording);
            Ok(Whole {
                recording,
                samples,
                notes,
                session,
            })
        }
        (samples, notes, session) => {
            let at_fault = [
                (&files.samples, samples.err()),
                (&files.notes, notes.err()),
                (&files.session, session.err()),
            ];
            let files = at_fault.into_iter().filter_map(|(path, faults)| {
                Some(FileFaults {
                    file: folder::file_name(path),
                    faults: faults?,
                })
            });
            Err(ImportError::Faulty {
                files: files.collect(),
            })
        }
    }
}

/// A file's bytes and what they say.
fn read<T>(
    path: &Path,
    limit_mib: u64,
    parse: impl Fn(&[u8]) -> Result<T, Faults>,
) -> Result<(Vec<u8>, T), Faults> {
    let bytes = folder::read_limited(path, limit_mib)?;
    let parsed = parse(&bytes)?;
    Ok((bytes, parsed))
}
