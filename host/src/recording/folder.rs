//! Names of the files in a recording folder, their greatest sizes, and reading them whole.

use std::fs::File;
use std::io::Read;
use std::path::Path;

use super::fault::{Faults, What};

/// Bytes of the wire exactly as received: a recording of a logger.
pub const FRAMES: &str = "frames.log";
/// When those bytes had arrived.
pub const ARRIVALS: &str = "arrivals.csv";
/// What the sensors saw, as plain text: an imported recording.
pub const SAMPLES: &str = "samples.csv";
/// What the person saw.
pub const NOTES: &str = "notes.csv";
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
    let unreadable = |error: &std::io::Error| {
        Faults::of_file(if error.kind() == std::io::ErrorKind::NotFound {
            What::NotFound
        } else {
            let message = error.to_string();
            What::Unreadable { message }
        })
    };
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
