//! The append-only log: bytes exactly as received, and when they had arrived.
//!
//! Two files: [`folder::FRAMES`] holds the bytes of the wire and nothing else; [`folder::ARRIVALS`]
//! has one row `end_byte,host_unix_s` for each portion: every byte before `end_byte` had arrived at
//! that host time. A row `end_byte,lost` says that the log ended there when it was taken up again: a power cut
//! had taken the bytes behind, and earlier rows that speak of them count no more. Bytes go to the system as they come, so killing the program loses none; once in
//! [`SYNC_INTERVAL_S`] the disk is told to take them, so cutting the power loses no more than that and
//! what the disk itself needs. Frames are never decoded here, and time is an argument.

mod put_back;
mod syncer;

use std::fs::{File, OpenOptions, TryLockError};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use super::folder;
use put_back::put_back;
use syncer::Syncer;

/// Longest time between two moments at which everything received is on the disk.
pub const SYNC_INTERVAL_S: f64 = 1.0;

/// Shortest time between two rows of arrivals. The clock model needs the quickest of many
/// arrivals, not all of them; ten a second are 8 MB in eight hours.
pub const ARRIVAL_INTERVAL_S: f64 = 0.1;

/// Byte that ends a frame on the wire.
const DELIMITER: u8 = tipcurve_protocol::frame::DELIMITER;

/// Stands in place of a time where the log turned out shorter than its arrivals.
const LOST: &str = "lost";

/// Header of the arrivals file.
const ARRIVALS_HEADER: &str = "end_byte,host_unix_s\n";

/// Writes one log. Only one writer can hold a log at a time.
#[derive(Debug)]
pub struct LogWriter {
    folder: PathBuf,
    frames: File,
    arrivals: File,
    end_byte: u64,
    listed_byte: u64,
    latest_arrival_s: f64,
    latest_sync_s: f64,
    is_row_torn: bool,
    /// Started with the first order.
    syncer: Option<Syncer>,
}

impl LogWriter {
    /// Begins a new log in an existing folder.
    ///
    /// # Errors
    /// A log that is there already (nothing is overwritten), or what the system says.
    pub fn create(folder: &Path) -> io::Result<Self> {
        let new = |name: &str| {
            OpenOptions::new()
                .read(true)
                .append(true)
                .create_new(true)
                .open(folder.join(name))
        };
        let frames = new(folder::FRAMES)?;
        lock(&frames)?;
        let mut arrivals = new(folder::ARRIVALS)?;
        arrivals.write_all(ARRIVALS_HEADER.as_bytes())?;
        // Without its entry in the folder a file is lost with the power, however well it was synced.
        folder::sync_folder_of(&folder.join(folder::FRAMES))?;
        Ok(Self::new(folder, frames, arrivals, 0))
    }

    /// Goes on with a log, whatever ended it.
    ///
    /// Half a frame at the end stays as it is and is ended by a delimiter, half a row by a mark
    /// that makes it no row, so that what follows can be read. Rows for bytes that never reached the disk
    /// are told to be so, or they would be taken for the arrival of what is written there next.
    ///
    /// # Errors
    /// No log in the folder, another writer that holds it, or what the system says.
    pub fn resume(folder: &Path) -> io::Result<Self> {
        let old = |name: &str, is_created: bool| {
            OpenOptions::new()
                .read(true)
                .append(true)
                .create(is_created)
                .open(folder.join(name))
        };
        let mut frames = old(folder::FRAMES, false)?;
        lock(&frames)?;
        let mut arrivals = old(folder::ARRIVALS, true)?;
        let found_bytes = frames.metadata()?.len();
        if last_byte(&mut frames)?.is_some_and(|b| b != DELIMITER) {
            frames.write_all(&[DELIMITER])?;
        }
        match last_byte(&mut arrivals)? {
            None => arrivals.write_all(ARRIVALS_HEADER.as_bytes())?,
            Some(b'\n') => {}
            Some(_) => arrivals.write_all(b",torn\n")?,
        }
        if latest_listed_byte(&mut arrivals)? > found_bytes {
            arrivals.write_all(format!("{found_bytes},{LOST}\n").as_bytes())?;
        }
        // Before the first new byte: a second power cut must not take the word of the first.
        arrivals.sync_data()?;
        let end_byte = frames.metadata()?.len();
        Ok(Self::new(folder, frames, arrivals, end_byte))
    }

    fn new(folder: &Path, frames: File, arrivals: File, end_byte: u64) -> Self {
        Self {
            folder: folder.to_owned(),
            frames,
            arrivals,
            end_byte,
            listed_byte: end_byte,
            latest_arrival_s: f64::NEG_INFINITY,
            latest_sync_s: f64::NEG_INFINITY,
            is_row_torn: false,
            syncer: None,
        }
    }

    /// Adds bytes that had all arrived at `host_unix_s`, and brings them to the disk when due.
    ///
    /// `host_unix_s` should be the host's clock read once and carried on by a steady one, so that
    /// setting the clock does not show as a jump.
    ///
    /// # Errors
    /// What the system says, for example that the disk is full. The log stays readable, and
    /// [`end_byte`](Self::end_byte) says how much of the bytes it took.
    pub fn append(&mut self, bytes: &[u8], host_unix_s: f64) -> io::Result<()> {
        self.append_unsynced(bytes, host_unix_s)?;
        self.sync_if_due(host_unix_s)
    }

    /// Adds bytes as [`LogWriter::append`] does, without bringing them to the disk: for bytes that can be
    /// had again, such as those of the simulated rig, which come much faster than their own time.
    ///
    /// # Errors
    /// What the system says.
    pub fn append_unsynced(&mut self, bytes: &[u8], host_unix_s: f64) -> io::Result<()> {
        let mut rest = bytes;
        while !rest.is_empty() {
            match self.frames.write(rest) {
                Ok(0) => return Err(io::ErrorKind::WriteZero.into()),
                Ok(taken) => {
                    self.end_byte += taken as u64;
                    rest = &rest[taken..];
                }
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                Err(error) => return Err(error),
            }
        }
        let since_s = host_unix_s - self.latest_arrival_s;
        // A clock that was set back makes no row wait for the old time to come round again.
        let is_due = !(0.0..ARRIVAL_INTERVAL_S).contains(&since_s);
        if is_due && !bytes.is_empty() {
            self.list_arrival(host_unix_s)?;
        }
        Ok(())
    }

    fn list_arrival(&mut self, host_unix_s: f64) -> io::Result<()> {
        // Half a row of an earlier try is ended by a mark that makes it no row.
        let before = if self.is_row_torn { ",torn\n" } else { "" };
        let row = format!("{before}{},{host_unix_s:.6}\n", self.end_byte);
        self.is_row_torn = true;
        self.arrivals.write_all(row.as_bytes())?;
        self.is_row_torn = false;
        self.listed_byte = self.end_byte;
        self.latest_arrival_s = host_unix_s;
        Ok(())
    }

    /// Orders everything to the disk when [`SYNC_INTERVAL_S`] has passed since the last time, and does
    /// not wait for it; puts a file back that somebody deleted. To be called now and then while nothing arrives.
    ///
    /// # Errors
    /// What the system said of the order before.
    pub fn sync_if_due(&mut self, host_unix_s: f64) -> io::Result<()> {
        let since_s = host_unix_s - self.latest_sync_s;
        if (0.0..SYNC_INTERVAL_S).contains(&since_s) {
            return Ok(());
        }
        self.put_back()?;
        // Not before: what is in the way is told with every portion, until it is gone.
        self.latest_sync_s = host_unix_s;
        let syncer = match self.syncer.take() {
            Some(syncer) => syncer,
            None => Syncer::start([&self.frames, &self.arrivals])?,
        };
        self.syncer.insert(syncer).order()
    }

    /// Brings everything to the disk and waits until it is there.
    ///
    /// # Errors
    /// What the system says.
    pub fn sync(&mut self) -> io::Result<()> {
        self.put_back()?;
        self.frames.sync_data()?;
        self.arrivals.sync_data()
    }

    /// Files that were deleted meanwhile come back whole.
    fn put_back(&mut self) -> io::Result<()> {
        let mut is_new = false;
        let path = self.folder.join(folder::ARRIVALS);
        if let Some(arrivals) = put_back(&mut self.arrivals, &path, |_| Ok(()))? {
            self.arrivals = arrivals;
            is_new = true;
        }
        let path = self.folder.join(folder::FRAMES);
        if let Some(frames) = put_back(&mut self.frames, &path, lock)? {
            self.frames = frames;
            is_new = true;
        }
        if is_new {
            self.syncer = None;
            folder::sync_folder_of(&path)?;
        }
        Ok(())
    }

    /// Bytes in the log.
    #[must_use]
    pub fn end_byte(&self) -> u64 {
        self.end_byte
    }
}

fn lock(file: &File) -> io::Result<()> {
    match file.try_lock() {
        Ok(()) => Ok(()),
        Err(TryLockError::WouldBlock) => Err(io::Error::new(
            io::ErrorKind::ResourceBusy,
            "another program is recording into this folder",
        )),
        Err(TryLockError::Error(e)) => Err(e),
    }
}

fn last_byte(file: &mut File) -> io::Result<Option<u8>> {
    if file.metadata()?.len() == 0 {
        return Ok(None);
    }
    let mut byte = [0];
    file.seek(SeekFrom::End(-1))?;
    file.read_exact(&mut byte)?;
    Ok(Some(byte[0]))
}

/// The furthest byte that a row speaks of.
fn latest_listed_byte(arrivals: &mut File) -> io::Result<u64> {
    let mut text = Vec::new();
    arrivals.seek(SeekFrom::Start(0))?;
    arrivals.read_to_end(&mut text)?;
    let (rows, _) = read_arrivals(&text);
    Ok(rows.last().map_or(0, |row| row.end_byte))
}

/// One row of the arrivals file: all bytes before `end_byte` had arrived at `host_unix_s`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Arrival {
    /// Bytes of the log that had arrived.
    pub end_byte: u64,
    /// Host time, Unix seconds.
    pub host_unix_s: f64,
}

/// Reads the text of an arrivals file: the rows, and how many lines are no rows.
///
/// A last line without line break is half a row and counts as one that is none, and so does a row
/// that steps back in bytes, or whose bytes were lost. A row that steps back in time stays: it shows a clock that was set.
#[must_use]
pub fn read_arrivals(text: &[u8]) -> (Vec<Arrival>, usize) {
    let mut rows: Vec<Arrival> = Vec::with_capacity(text.len() / 24);
    let mut n_bad = 0;
    let mut lines = text.split(|b| *b == b'\n');
    let is_torn = lines.next_back().is_some_and(|rest| !rest.is_empty());
    for line in lines {
        let line = line.strip_suffix(b"\r").unwrap_or(line);
        if line == ARRIVALS_HEADER.trim_end().as_bytes() {
            continue;
        }
        if let Some(left_bytes) = read_lost(line) {
            let n_left = rows.partition_point(|row| row.end_byte <= left_bytes);
            n_bad += rows.len() - n_left;
            rows.truncate(n_left);
            continue;
        }
        let latest = rows.last().map_or(0, |a| a.end_byte);
        match read_arrival(line).filter(|a| a.end_byte >= latest) {
            Some(arrival) => rows.push(arrival),
            None => n_bad += 1,
        }
    }
    (rows, n_bad + usize::from(is_torn))
}

/// Where the log ended when it was taken up again, of the line that says so.
fn read_lost(line: &[u8]) -> Option<u64> {
    let (end_byte, word) = std::str::from_utf8(line).ok()?.split_once(',')?;
    (word == LOST).then(|| end_byte.parse().ok())?
}

fn read_arrival(line: &[u8]) -> Option<Arrival> {
    let (end_byte, host_unix_s) = std::str::from_utf8(line).ok()?.split_once(',')?;
    Some(Arrival {
        end_byte: end_byte.parse().ok()?,
        host_unix_s: host_unix_s.parse().ok().filter(|s: &f64| s.is_finite())?,
    })
}

#[cfg(test)]
mod tests;
