//! A file of the log that somebody deleted while it is recorded into: its bytes are still there as long as it is open.

use std::fs::{File, OpenOptions};
use std::io::{self, Seek, SeekFrom};
use std::path::Path;

/// Puts a deleted file back, with its folder where that is gone too. `None`: it is there.
///
/// `lock` takes the new file before anything is copied into it. Nothing of ours is left behind when that or the
/// copying fails, or the next try would find it in its way; but a file that another program locked first is that one's.
///
/// # Errors
/// Another file that stands in its place, that of `lock` ([`io::ErrorKind::ResourceBusy`]: another program was first),
/// or what the system says.
pub(super) fn put_back(
    file: &mut File,
    path: &Path,
    lock: impl FnOnce(&File) -> io::Result<()>,
) -> io::Result<Option<File>> {
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
    let copied = lock(&new)
        .and_then(|()| file.seek(SeekFrom::Start(0)))
        .and_then(|_| io::copy(file, &mut new))
        .and_then(|_| new.sync_all());
    if let Err(error) = copied {
        if error.kind() != io::ErrorKind::ResourceBusy {
            let _ = std::fs::remove_file(path);
        }
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

#[cfg(all(test, unix))]
mod tests {
    use super::*;
    use crate::scratch::Scratch;
    use std::io::Write;

    #[test]
    fn a_lock_that_fails_leaves_no_copy_in_the_way() {
        let folder = Scratch::new("put-back");
        let path = folder.path().join("frames.bin");
        let mut options = OpenOptions::new();
        let mut file = options
            .read(true)
            .append(true)
            .create(true)
            .open(&path)
            .unwrap();
        file.write_all(b"frames").unwrap();
        std::fs::remove_file(&path).unwrap();
        let no_locks = |_: &File| Err(io::ErrorKind::Unsupported.into());
        put_back(&mut file, &path, no_locks).unwrap_err();
        assert!(!path.exists());
        // Another program's: ours has put nothing into it, and it stays.
        let busy = |new: &File| {
            assert_eq!(new.metadata()?.len(), 0);
            Err(io::ErrorKind::ResourceBusy.into())
        };
        put_back(&mut file, &path, busy).unwrap_err();
        assert_eq!(std::fs::read(&path).unwrap(), b"");
        std::fs::remove_file(&path).unwrap();
        assert!(put_back(&mut file, &path, |_| Ok(())).unwrap().is_some());
        assert_eq!(std::fs::read(&path).unwrap(), b"frames");
    }
}
