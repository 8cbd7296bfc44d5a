//! Brings files to the disk on a thread of its own.
//!
//! A busy disk can take many seconds for it. Bytes that came meanwhile must not wait in the program,
//! where a kill would lose them: they go to the system at once, and the disk follows.

use std::fs::File;
use std::io;
use std::sync::mpsc::{SyncSender, sync_channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;

/// The thread. Dropped, it ends once its last order is done.
#[derive(Debug)]
pub(super) struct Syncer {
    orders: Option<SyncSender<()>>,
    failed: Arc<Mutex<Option<io::Error>>>,
    thread: Option<JoinHandle<()>>,
}

impl Syncer {
    /// Starts the thread over files that share their handles with the writer's.
    ///
    /// # Errors
    /// What the system says.
    pub(super) fn start(files: [&File; 2]) -> io::Result<Self> {
        let files = [files[0].try_clone()?, files[1].try_clone()?];
        // One order may wait while one is carried out; more would say nothing new.
        let (orders, taken) = sync_channel(1);
        let failed = Arc::new(Mutex::new(None));
        let outcome = Arc::clone(&failed);
        let thread = std::thread::Builder::new()
            .name("disk".to_owned())
            .spawn(move || {
                while taken.recv().is_ok() {
                    let synced = files.iter().try_for_each(File::sync_data);
                    *outcome.lock().unwrap_or_else(PoisonError::into_inner) = synced.err();
                }
            })?;
        Ok(Self {
            orders: Some(orders),
            failed,
            thread: Some(thread),
        })
    }

    /// Asks for everything written so far to be brought to the disk. Never waits.
    ///
    /// # Errors
    /// What the system said the last time, until it says otherwise.
    pub(super) fn order(&self) -> io::Result<()> {
        if let Some(orders) = &self.orders {
            // Full: an order that is still to be carried out covers these bytes as well.
            let _ = orders.try_send(());
        }
        let failed = self.failed.lock().unwrap_or_else(PoisonError::into_inner);
        failed.as_ref().map_or(Ok(()), |error| {
            Err(io::Error::new(error.kind(), error.to_string()))
        })
    }
}

impl Drop for Syncer {
    fn drop(&mut self) {
        self.orders = None;
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}
