//! A file of the log that somebody deleted while it is recorded into: its bytes are still there as long as it is open.

use std::fs::{File, OpenOptions};
use std::io::{self, Seek, SeekFrom};
use std::path::Path;

/// Puts a deleted file back, with its folder where that is gone too. `None`: it is there.
///
/// # Errors
/// Another file that stands in its place, or what the system says.
pub(super) fn put_back(file: &mut File, path: &Path) -> io::Result<Option<File>> {
    if !is_deleted(file)? {
        return Ok(None);
    }
    if let Some(folder) = path.parent() {
        std::fs::create_dir_all(folder)?;
    }
    let new = OpenOptions::new()
        .read(true)
        .append(true)
        .create_new(true)
        .open(path);
    let mut new = new.map_err(|error| match error.kind() {
        io::ErrorKind::AlreadyExists => io::Error::new(
            io::ErrorKind::AlreadyExists,
            format!(
                "another file stands in the place of {}, move it away",
                path.display()
            ),
        ),
        _ => error,
    })?;
    file.seek(SeekFrom::Start(0))?;
    let copied = io::copy(file, &mut new).and_then(|_| new.sync_all());
    if let Err(error) = copied {
        // Half of it would stand in the way of the next try.
        let _ = std::fs::remove_file(path);
        return Err(error);
    }
    Ok(Some(new))
}

/// True once no name leads to the file any more. A file that was only moved still has one.
#[cfg(unix)]
fn is_deleted(file: &File) -> io::Result<bool> {
    use std::os::unix::fs::MetadataExt;
    Ok(file.metadata()?.nlink() == 0)
}

/// Elsewhere an open file cannot be deleted.
#[cfg(not(unix))]
fn is_deleted(_: &File) -> io::Result<bool> {
    Ok(false)
}
