//! A file of notes read when nobody is in the middle of saving it, and replaced in one step.
//!
//! A spreadsheet knows no lock. It may save between our reading and our replacing, or empty the file and fill it a
//! moment later. So a file that looks half saved is waited for, and what was displaced is looked at: if it is not what
//! was read, it goes back.
//!
//! Linux and macOS can swap two files in one step: nothing that is saved meanwhile is lost there. Elsewhere (Windows;
//! file systems that cannot swap) the file first gets a second name and is then replaced, so that what is saved into the
//! file itself after our last look still comes back. A save that puts a new file in its place, as many spreadsheets do,
//! is lost if it falls between the two steps, some tens of microseconds with nothing read or written between; and for
//! as long as the steps back take, a reader sees our file in place of theirs. Where there are no second names either
//! (FAT), whatever is saved between the last look and the replacing is lost. The rows that this program added come
//! back from their copies in every case; what only the spreadsheet held must be saved there again.

use std::fs::{self, File};
use std::io::{self, Write};
use std::path::Path;
use std::time::{Duration, Instant, SystemTime};

use crate::recording::folder;

/// A file that looks half saved is taken as it is once it has stood still for so long.
const STILL: Duration = Duration::from_millis(200);

/// Between two looks at it.
const LOOK: Duration = Duration::from_millis(10);

/// It is waited for no longer than this.
const PATIENCE: Duration = Duration::from_secs(3);

/// The file's bytes; none where there is no file.
///
/// # Errors
/// What the system says.
pub(super) fn read_if_there(path: &Path) -> io::Result<Vec<u8>> {
    match fs::read(path) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(Vec::new()),
        read => read,
    }
}

/// As [`read_if_there`], but waits while the file looks half saved: just changed, and empty or without a last line
/// break.
///
/// # Errors
/// What the system says.
pub(super) fn read_settled(path: &Path) -> io::Result<Vec<u8>> {
    read_still_for(path, STILL)
}

/// As [`read_settled`], where standing still for `still` is enough.
fn read_still_for(path: &Path, still: Duration) -> io::Result<Vec<u8>> {
    let begun = Instant::now();
    let mut bytes = read_if_there(path)?;
    let mut still_since = begun;
    while !bytes.ends_with(b"\n")
        && is_just_changed(path)
        && still_since.elapsed() < still
        && begun.elapsed() < PATIENCE
    {
        std::thread::sleep(LOOK);
        let now = read_if_there(path)?;
        if now != bytes {
            still_since = Instant::now();
            bytes = now;
        }
    }
    Ok(bytes)
}

fn is_just_changed(path: &Path) -> bool {
    let modified = fs::metadata(path).and_then(|meta| meta.modified());
    modified.is_ok_and(|at| {
        SystemTime::now()
            .duration_since(at)
            .is_ok_and(|age| age < PATIENCE)
    })
}

/// Puts new bytes in the place of the old in one step; `false` when the file is not the old one any
/// more, because somebody else (a spreadsheet) saved it meanwhile: theirs stands then.
///
/// # Errors
/// What the system says.
pub(super) fn replace(path: &Path, old: &[u8], bytes: &[u8]) -> io::Result<bool> {
    replace_after(path, old, bytes, || ())
}

/// `last` runs after the last look at the old file: a test saves there.
fn replace_after(path: &Path, old: &[u8], bytes: &[u8], last: impl FnOnce()) -> io::Result<bool> {
    let new_path = path.with_extension("csv.new");
    let mut new = File::create(&new_path)?;
    new.write_all(bytes)?;
    new.sync_all()?;
    drop(new);
    if read_if_there(path)? != old {
        return Ok(false);
    }
    last();
    let is_ours = if path.exists() {
        swap(&new_path, path, old, bytes)?
    } else {
        place(&new_path, path)?
    };
    folder::sync_folder_of(path)?;
    Ok(is_ours)
}

/// Swaps until what was displaced is what was thought to be there. Whoever saved last stands in the end.
fn swap(new_path: &Path, path: &Path, old: &[u8], bytes: &[u8]) -> io::Result<bool> {
    let (mut in_place, mut waiting) = (old.to_vec(), bytes.to_vec());
    loop {
        match exchange(new_path, path) {
            Ok(()) => {}
            // A file system that has no second names: the new file goes over the old, after one more look.
            Err(_) => {
                if read_if_there(path)? != in_place {
                    let _ = fs::remove_file(new_path);
                    return Ok(false);
                }
                fs::rename(new_path, path)?;
                return Ok(waiting == bytes);
            }
        }
        let displaced = fs::read(new_path)?;
        let is_known = displaced == in_place;
        in_place = waiting;
        if is_known {
            // What was displaced has been read whole; failing to remove it changes nothing.
            let _ = fs::remove_file(new_path);
            return Ok(in_place == bytes);
        }
        waiting = displaced;
    }
}

/// Puts the file where none is, over nobody's.
fn place(new_path: &Path, path: &Path) -> io::Result<bool> {
    match fs::hard_link(new_path, path) {
        Ok(()) => {
            let _ = fs::remove_file(new_path);
            Ok(true)
        }
        Err(error) if error.kind() == io::ErrorKind::AlreadyExists => Ok(false),
        // A file system without links.
        Err(_) => fs::rename(new_path, path).map(|()| true),
    }
}

/// Two files swap their names, in one step where the system can.
fn exchange(a: &Path, b: &Path) -> io::Result<()> {
    exchange_at_once(a, b).or_else(|_| exchange_by_link(a, b, || ()))
}

#[cfg(any(target_os = "linux", target_os = "macos"))]
fn exchange_at_once(a: &Path, b: &Path) -> io::Result<()> {
    use rustix::fs::{CWD, RenameFlags, renameat_with};
    Ok(renameat_with(CWD, a, CWD, b, RenameFlags::EXCHANGE)?)
}

#[cfg(not(any(target_os = "linux", target_os = "macos")))]
fn exchange_at_once(_: &Path, _: &Path) -> io::Result<()> {
    Err(io::ErrorKind::Unsupported.into())
}

/// In three steps: `b` gets a second name, `a` goes over it, the second name becomes `a`. On an error before the second
/// step nothing has changed; on one of the third `b` is what it was. `between` runs before the second: a test saves there.
fn exchange_by_link(a: &Path, b: &Path, between: impl FnOnce()) -> io::Result<()> {
    let kept = second_name(a, b)?;
    between();
    if let Err(error) = fs::rename(a, b) {
        let _ = fs::remove_file(&kept);
        return Err(error);
    }
    fs::rename(&kept, a).inspect_err(|_| {
        let _ = fs::rename(&kept, b);
    })
}

/// Gives `b` a second name beside `a`. One that a program killed between the steps left behind may be the only name of
/// what it displaced: it stays, and the next number is taken.
fn second_name(a: &Path, b: &Path) -> io::Result<std::path::PathBuf> {
    let mut number = 1;
    loop {
        let kept = a.with_extension(format!("displaced-{number}"));
        match fs::hard_link(b, &kept) {
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => number += 1,
            linked => return linked.map(|()| kept),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scratch::Scratch;

    #[test]
    fn a_file_saved_by_somebody_else_meanwhile_is_not_replaced() {
        let folder = Scratch::new("raced");
        let path = folder.path().join(folder::NOTES);
        fs::write(&path, "time,tails\nt+1,1\n").unwrap();
        assert!(!replace(&path, b"time,tails\n", b"time,tails\nt+9,9\n").unwrap());
        assert_eq!(fs::read(&path).unwrap(), b"time,tails\nt+1,1\n");
    }

    /// In place, by another name, or as a new file: whatever was saved after the last look stands.
    #[cfg(target_os = "linux")]
    #[test]
    fn what_is_saved_at_the_last_moment_stands() {
        let folder = Scratch::new("last-moment");
        let (path, other) = (
            folder.path().join(folder::NOTES),
            folder.path().join("sheet.tmp"),
        );
        let theirs = b"time,tails\nt+1,1\nt+2,2\n";
        let by_name = || {
            fs::write(&other, theirs).unwrap();
            fs::rename(&other, &path).unwrap();
        };
        let old = b"time,tails\nt+1,1\n";
        let ours = b"time,tails\nt+1,1\nt+9,3\n";
        let savings: [&dyn Fn(); 2] = [&|| fs::write(&path, theirs).unwrap(), &by_name];
        for save in savings {
            fs::write(&path, old).unwrap();
            assert!(!replace_after(&path, old, ours, save).unwrap());
            assert_eq!(fs::read(&path).unwrap(), theirs);
            assert!(replace(&path, theirs, ours).unwrap());
            assert_eq!(fs::read(&path).unwrap(), ours);
        }
        fs::remove_file(&path).unwrap();
        assert!(!replace_after(&path, b"", ours, by_name).unwrap());
        assert_eq!(fs::read(&path).unwrap(), theirs);
        assert_eq!(
            fs::read_dir(folder.path()).unwrap().count(),
            1,
            "one left over"
        );
    }

    /// Without a swap in one step: what is saved into the file itself after the last look is what was displaced.
    #[test]
    fn a_file_displaced_by_its_second_name_holds_what_was_saved_last() {
        let folder = Scratch::new("second-name");
        let (path, new_path) = (
            folder.path().join(folder::NOTES),
            folder.path().join(folder::NOTES).with_extension("csv.new"),
        );
        let theirs = b"time,tails\nt+1,1\nt+2,2\n";
        fs::write(&path, "time,tails\nt+1,1\n").unwrap();
        fs::write(&new_path, "time,tails\nt+9,9\n").unwrap();
        let left_over = new_path.with_extension("displaced-1");
        fs::write(&left_over, "left over").unwrap();
        exchange_by_link(&new_path, &path, || fs::write(&path, theirs).unwrap()).unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"time,tails\nt+9,9\n");
        assert_eq!(fs::read(&new_path).unwrap(), theirs);
        // What a killed program left behind may be the only name of what it displaced.
        assert_eq!(fs::read(left_over).unwrap(), b"left over");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 3);
    }

    #[test]
    fn a_file_that_is_being_saved_is_waited_for() {
        let folder = Scratch::new("half-saved");
        let path = folder.path().join(folder::NOTES);
        fs::write(&path, "").unwrap();
        std::thread::scope(|scope| {
            scope.spawn(|| {
                std::thread::sleep(STILL / 3);
                fs::write(&path, "time,tails\nt+1").unwrap();
                std::thread::sleep(STILL / 3);
                fs::write(&path, "time,tails\nt+1,1\n").unwrap();
            });
            // Longer than any stall of a busy machine.
            let settled = read_still_for(&path, PATIENCE).unwrap();
            assert_eq!(settled, b"time,tails\nt+1,1\n");
        });
        fs::write(&path, "time,tails\nt+1,1").unwrap();
        assert_eq!(read_settled(&path).unwrap(), b"time,tails\nt+1,1");
    }
}
