//! The folder of a recording that is about to begin: made, tried, and removed again when there is
//! nothing to put into it.

use std::io;
use std::path::{Path, PathBuf};

use crate::cli::Stop;
use crate::cli::args::RecordArgs;
use crate::cli::new::session;
use crate::record::recorder::LEAST_DISK_BYTES;
use crate::record::spool::Log;
use crate::recording::fault::FileFaults;
use crate::recording::folder;
use crate::recording::log::LogWriter;
use crate::recording::settings::{self, Settings};

/// A folder with an open log. Dropped without [`keep`](Self::keep), it takes away what it made.
pub(super) struct NewFolder {
    path: PathBuf,
    settings: Settings,
    log: Option<LogWriter>,
    made: Vec<PathBuf>,
}

impl NewFolder {
    pub(super) fn path(&self) -> &Path {
        &self.path
    }

    pub(super) fn name(&self) -> String {
        folder::name_of(&self.path)
    }

    pub(super) const fn settings(&self) -> &Settings {
        &self.settings
    }

    /// The recording begins: everything stays.
    pub(super) fn keep(mut self) -> Option<LogWriter> {
        self.made.clear();
        self.log.take()
    }
}

impl Drop for NewFolder {
    fn drop(&mut self) {
        self.log = None;
        for path in self.made.iter().rev() {
            // Only what was made here, and a folder only when it is empty.
            let _ = if path.is_dir() {
                std::fs::remove_dir(path)
            } else {
                std::fs::remove_file(path)
            };
        }
    }
}

/// Makes the folder, its session file and its log, or says what stands in the way.
pub(super) fn prepare(
    path: &Path,
    args: &RecordArgs,
    now_unix_s: f64,
    offset_s: f64,
) -> Result<NewFolder, Stop> {
    let mut new = NewFolder {
        path: path.to_owned(),
        settings: Settings::default(),
        log: None,
        made: Vec::new(),
    };
    if !path.exists() {
        std::fs::create_dir_all(path).map_err(|e| refused(path, &e))?;
        new.made.push(path.to_owned());
        folder::sync_folder_of(path).map_err(|e| refused(path, &e))?;
    }
    check_room(path)?;
    let session_path = path.join(folder::SESSION);
    if !session_path.exists() {
        let text = match &args.from {
            Some(earlier) => session::from_earlier(earlier, now_unix_s, offset_s)?,
            None => session::bare(now_unix_s, offset_s),
        };
        folder::write_synced(&session_path, &text).map_err(|e| refused(&session_path, &e))?;
        new.made.push(session_path.clone());
    } else if args.from.is_some() {
        return Err(Stop::bad_input(format!(
            "{}: there is a session file already; leave --from out, or record into a new folder; \
             nothing was recorded",
            session_path.display()
        )));
    }
    new.settings = folder::read_limited(&session_path, folder::MOST_SESSION_MIB)
        .and_then(|bytes| settings::read(&bytes))
        .map_err(|faults| {
            let file = folder::SESSION.to_owned();
            let faults = FileFaults { file, faults };
            Stop::bad_input(format!(
                "{}: {faults}; nothing was recorded",
                path.display()
            ))
        })?;
    new.log = Some(open_log(path, args.resume, &mut new.made)?);
    Ok(new)
}

fn open_log(path: &Path, resume: bool, made: &mut Vec<PathBuf>) -> Result<LogWriter, Stop> {
    let frames = path.join(folder::FRAMES);
    if frames.exists() && !resume {
        return Err(Stop::bad_input(format!(
            "{}: a recording is there already; record into another folder, or go on with it by \
             --resume; nothing was overwritten",
            path.display()
        )));
    }
    if path.join(folder::SAMPLES).exists() {
        return Err(Stop::bad_input(format!(
            "{}: this is an imported recording (samples.csv); record into another folder; nothing was \
             recorded",
            path.display()
        )));
    }
    if frames.exists() {
        return LogWriter::resume(path).map_err(|e| match e.kind() {
            io::ErrorKind::WouldBlock | io::ErrorKind::ResourceBusy => Stop::bad_input(format!(
                "{}: another recorder is writing into it; stop that one first; nothing was recorded",
                path.display()
            )),
            _ => refused(path, &e),
        });
    }
    let log = LogWriter::create(path).map_err(|e| refused(path, &e))?;
    made.push(frames);
    made.push(path.join(folder::ARRIVALS));
    Ok(log)
}

fn check_room(path: &Path) -> Result<(), Stop> {
    match fs4::available_space(path) {
        Ok(free) if free < LEAST_DISK_BYTES => Err(Stop::bad_input(format!(
            "{}: the disk is full ({:.1} MB free, {} MB are the least to begin with); make room or \
             choose a folder on another disk; nothing was recorded",
            path.display(),
            megabytes(free),
            LEAST_DISK_BYTES >> 20
        ))),
        _ => Ok(()),
    }
}

fn refused(path: &Path, error: &io::Error) -> Stop {
    let what = match error.kind() {
        io::ErrorKind::PermissionDenied => {
            "you may not write here; choose a folder of your own".to_owned()
        }
        io::ErrorKind::ReadOnlyFilesystem => {
            "the disk is read-only; choose a folder on another disk".to_owned()
        }
        io::ErrorKind::StorageFull => {
            "the disk is full; make room or choose a folder on another disk".to_owned()
        }
        io::ErrorKind::NotADirectory | io::ErrorKind::AlreadyExists => {
            "this is no folder; choose another name".to_owned()
        }
        _ => format!("{error}; choose another folder"),
    };
    Stop::bad_input(format!("{}: {what}; nothing was recorded", path.display()))
}

#[expect(clippy::cast_precision_loss, reason = "shown with one decimal")]
fn megabytes(bytes: u64) -> f64 {
    bytes as f64 / 1.0e6
}

/// The folder's log as the recorder writes it.
pub(super) struct FolderLog {
    log: Option<LogWriter>,
}

impl FolderLog {
    pub(super) const fn new(log: Option<LogWriter>) -> Self {
        Self { log }
    }

    fn writer(&mut self) -> io::Result<&mut LogWriter> {
        self.log
            .as_mut()
            .ok_or_else(|| io::Error::other("the log is not open"))
    }
}

impl Log for FolderLog {
    fn append(&mut self, bytes: &[u8], host_unix_s: f64) -> (usize, io::Result<()>) {
        let writer = match self.writer() {
            Ok(writer) => writer,
            Err(error) => return (0, Err(error)),
        };
        let before = writer.end_byte();
        let outcome = writer.append(bytes, host_unix_s);
        let taken = usize::try_from(writer.end_byte() - before).unwrap_or(bytes.len());
        (taken, outcome)
    }

    fn sync_if_due(&mut self, host_unix_s: f64) -> io::Result<()> {
        self.writer()?.sync_if_due(host_unix_s)
    }

    fn sync(&mut self) -> io::Result<()> {
        self.writer()?.sync()
    }

    fn len(&self) -> u64 {
        self.log.as_ref().map_or(0, LogWriter::end_byte)
    }
}
