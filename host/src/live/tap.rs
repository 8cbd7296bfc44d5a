//! Between recorder and page: a bounded channel that never makes the recorder wait.
//!
//! A full channel is a normal state: the chunk is dropped for the viewers and counted. The log has
//! it, and the page's reader is in step again at the next frame.

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, SyncSender, TrySendError, sync_channel};

/// Chunks that may wait: at 60 chunks a second this is four seconds of a stalled page, and at most
/// 4 MiB with the recorder's 16 KiB reads.
pub const DEPTH: usize = 256;

/// Received bytes with the host time of their arrival.
#[derive(Debug, Clone, PartialEq)]
pub struct Chunk {
    /// Bytes as they came.
    pub bytes: Box<[u8]>,
    /// Host time of arrival, Unix seconds.
    pub arrived_unix_s: f64,
}

/// The recorder's end.
#[derive(Debug, Clone)]
pub struct Tap {
    sender: SyncSender<Chunk>,
    dropped: Arc<AtomicU64>,
}

/// The page's end.
#[derive(Debug)]
pub struct Spout {
    /// Chunks in order.
    pub chunks: Receiver<Chunk>,
    dropped: Arc<AtomicU64>,
}

/// A tap and its spout.
#[must_use]
pub fn tap(depth: usize) -> (Tap, Spout) {
    let (sender, chunks) = sync_channel(depth);
    let dropped = Arc::new(AtomicU64::new(0));
    let tap = Tap {
        sender,
        dropped: Arc::clone(&dropped),
    };
    (tap, Spout { chunks, dropped })
}

impl Tap {
    /// Hands a chunk to the viewers, or drops it. Never waits.
    pub fn offer(&self, bytes: &[u8], arrived_unix_s: f64) {
        let chunk = Chunk {
            bytes: bytes.into(),
            arrived_unix_s,
        };
        match self.sender.try_send(chunk) {
            Ok(()) | Err(TrySendError::Disconnected(_)) => {}
            Err(TrySendError::Full(_)) => {
                self.dropped.fetch_add(1, Ordering::Relaxed);
            }
        }
    }
}

impl Spout {
    /// Chunks that were dropped so far.
    #[must_use]
    pub fn dropped(&self) -> u64 {
        self.dropped.load(Ordering::Relaxed)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn full_tap_drops_and_counts_and_never_waits() {
        let (tap, spout) = tap(2);
        for k in 0..5u8 {
            tap.offer(&[k], f64::from(k));
        }
        assert_eq!(spout.dropped(), 3);
        let kept: Vec<u8> = spout.chunks.try_iter().map(|c| c.bytes[0]).collect();
        assert_eq!(kept, [0, 1]);
        drop(spout);
        tap.offer(&[9], 9.0);
    }
}
