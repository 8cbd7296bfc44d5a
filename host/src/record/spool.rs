//! Bytes on their way to the log: what the disk refuses is held in memory, in order, and tried again.
//!
//! A full disk is survived: nothing is lost while it fits into memory, and the person is told at
//! once what to do.

use std::collections::VecDeque;
use std::io;

/// Most bytes that are held: eight hours of a fast line.
pub const MOST_HELD: usize = 256 << 20;

/// Where bytes go. Implemented by the log of a recording folder; in tests by a disk that fills up.
pub trait Log {
    /// Adds bytes that had all arrived at `host_unix_s`. Gives how many were taken, all of them
    /// unless there is an error.
    fn append(&mut self, bytes: &[u8], host_unix_s: f64) -> (usize, io::Result<()>);

    /// Brings everything to the disk if that is due.
    ///
    /// # Errors
    /// What the system says.
    fn sync_if_due(&mut self, host_unix_s: f64) -> io::Result<()>;

    /// Brings everything to the disk now.
    ///
    /// # Errors
    /// What the system says.
    fn sync(&mut self) -> io::Result<()>;

    /// Bytes in the log.
    fn len(&self) -> u64;

    /// True when nothing is in it.
    fn is_empty(&self) -> bool {
        self.len() == 0
    }
}

/// A log with a memory for what it refuses.
#[derive(Debug)]
pub struct Spool<L> {
    log: L,
    held: VecDeque<(Vec<u8>, f64)>,
    held_bytes: usize,
    dropped_bytes: u64,
    problem: Option<io::Error>,
}

impl<L: Log> Spool<L> {
    /// A spool over a log.
    pub const fn new(log: L) -> Self {
        Self {
            log,
            held: VecDeque::new(),
            held_bytes: 0,
            dropped_bytes: 0,
            problem: None,
        }
    }

    /// Takes bytes. They are in the log, or held, when this returns.
    pub fn push(&mut self, bytes: &[u8], host_unix_s: f64) {
        let taken = if self.held.is_empty() {
            self.write(bytes, host_unix_s)
        } else {
            0
        };
        let rest = &bytes[taken..];
        if rest.is_empty() {
            return;
        }
        if self.held_bytes + rest.len() > MOST_HELD {
            self.dropped_bytes += rest.len() as u64;
            return;
        }
        self.held_bytes += rest.len();
        self.held.push_back((rest.to_vec(), host_unix_s));
    }

    /// Tries to write what is held, and brings the log to the disk when due. To be called about
    /// once a second.
    pub fn tend(&mut self, host_unix_s: f64) {
        while let Some((bytes, at_s)) = self.held.pop_front() {
            let taken = self.write(&bytes, at_s);
            self.held_bytes -= taken;
            if taken < bytes.len() {
                self.held.push_front((bytes[taken..].to_vec(), at_s));
                return;
            }
        }
        match self.log.sync_if_due(host_unix_s) {
            Ok(()) => self.problem = None,
            Err(error) => self.problem = Some(error),
        }
    }

    /// Writes everything and brings it to the disk.
    ///
    /// # Errors
    /// What the system says; [`held_bytes`](Self::held_bytes) then says how much is not written.
    pub fn finish(&mut self, host_unix_s: f64) -> io::Result<()> {
        self.tend(host_unix_s);
        if let Some(problem) = self.problem.take() {
            return Err(problem);
        }
        self.log.sync()
    }

    /// Why the disk takes nothing, as long as it does not.
    #[must_use]
    pub const fn problem(&self) -> Option<&io::Error> {
        self.problem.as_ref()
    }

    /// Bytes that wait in memory.
    #[must_use]
    pub const fn held_bytes(&self) -> usize {
        self.held_bytes
    }

    /// Bytes that even the memory had no room for.
    #[must_use]
    pub const fn dropped_bytes(&self) -> u64 {
        self.dropped_bytes
    }

    /// The log.
    pub const fn log(&self) -> &L {
        &self.log
    }

    fn write(&mut self, bytes: &[u8], host_unix_s: f64) -> usize {
        let (taken, outcome) = self.log.append(bytes, host_unix_s);
        match outcome {
            Ok(()) => {
                self.problem = None;
                bytes.len()
            }
            Err(error) => {
                self.problem = Some(error);
                taken
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// A disk with so much room.
    #[derive(Debug, Default)]
    struct Disk {
        bytes: Vec<u8>,
        room: usize,
    }

    impl Log for Disk {
        fn append(&mut self, bytes: &[u8], _: f64) -> (usize, io::Result<()>) {
            let n = bytes.len().min(self.room - self.bytes.len().min(self.room));
            self.bytes.extend_from_slice(&bytes[..n]);
            let full = io::Error::from(io::ErrorKind::StorageFull);
            (n, if n == bytes.len() { Ok(()) } else { Err(full) })
        }

        fn sync_if_due(&mut self, _: f64) -> io::Result<()> {
            Ok(())
        }

        fn sync(&mut self) -> io::Result<()> {
            Ok(())
        }

        fn len(&self) -> u64 {
            self.bytes.len() as u64
        }
    }

    #[test]
    fn a_full_disk_loses_nothing_and_goes_on_when_there_is_room() {
        let mut spool = Spool::new(Disk {
            room: 10,
            ..Disk::default()
        });
        spool.push(b"0123456", 1.0);
        spool.push(b"789ABC", 2.0);
        spool.push(b"DEF", 3.0);
        assert_eq!(spool.held_bytes(), 6);
        assert!(spool.problem().is_some());
        assert!(spool.finish(4.0).is_err());
        spool.log.room = 100;
        spool.tend(5.0);
        assert_eq!(spool.log.bytes, b"0123456789ABCDEF");
        assert_eq!(spool.held_bytes(), 0);
        assert!(spool.finish(6.0).is_ok());
    }

    proptest! {
        /// Whatever the disk does in between, the log is the stream.
        #[test]
        fn order_and_bytes_are_kept(
            steps in proptest::collection::vec((0usize..30, 0usize..40, any::<bool>()), 1..60)
        ) {
            let mut spool = Spool::new(Disk::default());
            let mut sent = Vec::new();
            let mut next = 0u8;
            for (n, more_room, tends) in steps {
                let bytes: Vec<u8> = (0..n).map(|_| { next = next.wrapping_add(1); next }).collect();
                spool.push(&bytes, 0.0);
                sent.extend_from_slice(&bytes);
                spool.log.room += more_room;
                if tends { spool.tend(0.0); }
                prop_assert_eq!(spool.log.bytes.len() + spool.held_bytes(), sent.len());
            }
            spool.log.room = usize::MAX;
            spool.tend(0.0);
            prop_assert_eq!(&spool.log.bytes, &sent);
        }
    }
}
