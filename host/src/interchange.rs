//! The plain-text interchange in and out: all or nothing, faults with line and column.
//!
//! A recording comes in as three files: `samples.csv` (what the sensors saw), `notes.csv` (what
//! the person saw) and `session.toml` (what does not change). [`import_folder`] reads them to a
//! [`Recording`] and writes nothing.

pub mod notes_csv;
pub mod samples_csv;

use std::fmt;
use std::path::{Path, PathBuf};

use crate::recording::fault::{Faults, FileFaults, What};
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
#[derive(Debug, Clone, PartialEq)]
pub struct ImportError {
    /// The files that are at fault.
    pub files: Vec<FileFaults>,
}

impl fmt::Display for ImportError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, file) in self.files.iter().enumerate() {
            write!(f, "{}{file}", if i == 0 { "" } else { "\n" })?;
        }
        let n_faults: usize = self.files.iter().map(|file| file.faults.count()).sum();
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
    let mut at_fault = Vec::new();
    let mut keep = |path: &Path, faults: Faults| {
        let file = folder::file_name(path);
        at_fault.push(FileFaults { file, faults });
    };
    let samples = read(&files.samples, folder::MOST_SAMPLES_MIB, samples::read);
    let notes = read(&files.notes, folder::MOST_NOTES_MIB, notes::read);
    let session = read(&files.session, folder::MOST_SESSION_MIB, settings::read);
    match (samples, notes, session) {
        (Ok(samples), Ok(notes), Ok(settings)) => {
            let mut recording = Recording {
                name: name.to_owned(),
                is_simulated: settings.is_simulated,
                settings,
                notes,
                data: Data::Samples(samples),
                defects: Vec::new(),
            };
            review::review(&mut recording);
            Ok(recording)
        }
        (samples, notes, session) => {
            if let Err(faults) = samples {
                keep(&files.samples, faults);
            }
            if let Err(faults) = notes {
                keep(&files.notes, faults);
            }
            if let Err(faults) = session {
                keep(&files.session, faults);
            }
            Err(ImportError { files: at_fault })
        }
    }
}

fn read<T>(
    path: &Path,
    limit_mib: u64,
    read: impl Fn(&[u8]) -> Result<T, Faults>,
) -> Result<T, Faults> {
    if path.is_dir() {
        let message = "it is a folder".to_owned();
        return Err(Faults::of_file(What::Unreadable { message }));
    }
    read(&folder::read_limited(path, limit_mib)?)
}
