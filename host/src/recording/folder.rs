//! Names of the files in a recording folder, their greatest sizes, and reading them whole.

use std::fs::{self, File};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

use super::fault::{Faults, What};

/// Bytes of the wire exactly as received: a recording of a logger.
pub const FRAMES: &str = "frames.log";
/// When those bytes had arrived.
pub const ARRIVALS: &str = "arrivals.csv";
/// What the sensors saw, as plain text: an imported recording.
pub const SAMPLES: &str = "samples.csv";
/// What the person saw.
pub const NOTES: &str = "notes.csv";
/// Every note that a program added, as added: what a spreadsheet overwrites can be found here.
pub const NOTES_ADDED: &str = "notes-added.csv";
/// Held while notes are added.
pub const NOTES_LOCK: &str = ".notes.lock";
/// What does not change during the recording.
pub const SESSION: &str = "session.toml";

const MIB: u64 = 1024 * 1024;

/// Most that is read of `samples.csv`, MiB: about 24 hours at 1 kHz and 22 bytes a row. Longer
/// recordings come in as several folders; a larger file is far more often not a `samples.csv`.
pub const MOST_SAMPLES_MIB: u64 = 2048;
/// Most that is read of `notes.csv`, MiB: some 100 000 notes.
pub const MOST_NOTES_MIB: u64 = 16;
/// Most that is read of `session.toml`, MiB.
pub const MOST_SESSION_MIB: u64 = 1;

/// Reads a file whole, up to `limit_mib`. Never reads more than that, whatever the file is.
///
/// # Errors
/// A file that is not there, cannot be read or is larger.
pub fn read_limited(path: &Path, limit_mib: u64) -> Result<Vec<u8>, Faults> {
    let unreadable = |error: &io::Error| {
        Faults::of_file(if error.kind() == io::ErrorKind::NotFound {
            What::NotFound
        } else {
            let message = error.to_string();
            What::Unreadable { message }
        })
    };
    if path.is_dir() {
        let message = "it is a folder".to_owned();
        return Err(Faults::of_file(What::Unreadable { message }));
    }
    let limit = limit_mib * MIB;
    let file = File::open(path).map_err(|e| unreadable(&e))?;
    let length = file.metadata().map_or(0, |m| m.len());
    if length > limit {
        return Err(Faults::of_file(What::TooLarge { limit_mib }));
    }
    let mut bytes = Vec::with_capacity(usize::try_from(length).unwrap_or(0));
    let read = file.take(limit + 1).read_to_end(&mut bytes);
    read.map_err(|e| unreadable(&e))?;
    if bytes.len() as u64 > limit {
        return Err(Faults::of_file(What::TooLarge { limit_mib }));
    }
    Ok(bytes)
}

/// Why a folder was not made.
#[derive(Debug, thiserror::Error)]
pub enum CreateError {
    /// Something is there already, and nothing is overwritten.
    #[error("{} already exists; nothing was overwritten", path.display())]
    Exists {
        /// Where the folder should go.
        path: PathBuf,
    },
    /// The system refused.
    #[error("{}: cannot write: {error}", path.display())]
    Failed {
        /// Where the folder should go.
        path: PathBuf,
        /// The system's own words.
        error: io::Error,
    },
}

/// Makes a folder whole or not at all: it is filled under a hidden name beside its place and
/// then put there in one step. Folders above it are made as needed.
///
/// # Errors
/// Something that is there already, or what the system or `fill` says.
pub fn create_whole(
    path: &Path,
    fill: impl FnOnce(&Path) -> io::Result<()>,
) -> Result<(), CreateError> {
    let exists = || CreateError::Exists {
        path: path.to_owned(),
    };
    let failed = |error| CreateError::Failed {
        path: path.to_owned(),
        error,
    };
    if path.symlink_metadata().is_ok() {
        return Err(exists());
    }
    let hidden = format!(".{}.partial-{}", file_name(path), std::process::id());
    let partial = path.with_file_name(hidden);
    fs::create_dir_all(&partial).map_err(failed)?;
    let made = fill(&partial).and_then(|()| {
        fs::rename(&partial, path)?;
        sync_folder_of(path)
    });
    made.map_err(|error| {
        // What is left of the attempt is of no use to anyone; failing to remove it changes nothing.
        let _ = fs::remove_dir_all(&partial);
        if path.symlink_metadata().is_ok() {
            exists()
        } else {
            failed(error)
        }
    })
}

/// Writes a small file and brings it, and its entry in its folder, to the disk.
///
/// # Errors
/// What the system says.
pub fn write_synced(path: &Path, text: &str) -> io::Result<()> {
    let mut file = File::create(path)?;
    file.write_all(text.as_bytes())?;
    file.sync_all()?;
    sync_folder_of(path)
}

/// Brings the entry of a file in its folder to the disk, where the system can.
///
/// # Errors
/// What the system says.
pub fn sync_folder_of(path: &Path) -> io::Result<()> {
    // Only there is a folder a file that can be opened.
    if cfg!(unix)
        && let Some(parent) = path.parent()
    {
        let parent = if parent.as_os_str().is_empty() {
            Path::new(".")
        } else {
            parent
        };
        File::open(parent)?.sync_all()?;
    }
    Ok(())
}

/// True where a folder holds a logger's recording or an imported one.
#[must_use]
pub fn is_recording(folder: &Path) -> bool {
    folder.join(FRAMES).exists() || folder.join(SAMPLES).exists()
}

/// The last part of a path, as a person would call it.
#[must_use]
pub fn file_name(path: &Path) -> String {
    path.file_name().map_or_else(
        || path.display().to_string(),
        |n| n.to_string_lossy().into_owned(),
    )
}

/// A folder's own name, also for `.` and paths that end in `..`.
#[must_use]
pub fn name_of(path: &Path) -> String {
    path.canonicalize()
        .map_or_else(|_| file_name(path), |whole| file_name(&whole))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_endless_file_is_refused_after_its_limit() {
        let endless = Path::new("/dev/zero");
        if endless.exists() {
            let refused = Faults::of_file(What::TooLarge { limit_mib: 1 });
            assert_eq!(read_limited(endless, 1), Err(refused));
        }
    }

    #[test]
    fn a_file_that_is_not_there_is_not_found() {
        let missing = Path::new("no such folder").join(NOTES);
        assert_eq!(
            read_limited(&missing, 1),
            Err(Faults::of_file(What::NotFound))
        );
    }
}
