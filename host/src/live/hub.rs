//! One snapshot, many viewers: each gets everything on arrival and then what changes.
//!
//! The lock is held for the merging of one update or the copying of one snapshot, never while JSON is
//! made for a viewer or bytes are sent. A viewer that falls behind loses updates, not data: it
//! is told so and takes a whole snapshot again.

use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use tokio::sync::broadcast;

use super::snapshot::{Snapshot, Update};
use super::trace::Trace;

/// Updates that a slow viewer may be behind: more than two seconds.
const BACKLOG: usize = 64;

/// What a viewer receives.
pub type Text = Arc<str>;

/// The shared snapshot.
#[derive(Debug)]
pub struct Hub {
    shared: Mutex<Shared>,
    updates: broadcast::Sender<Text>,
}

#[derive(Debug, Default)]
struct Shared {
    snapshot: Snapshot,
    trace: Trace,
}

impl Hub {
    /// A hub whose first viewers see `snapshot`.
    #[must_use]
    pub fn new(snapshot: Snapshot) -> Self {
        Self {
            shared: Mutex::new(Shared {
                snapshot,
                trace: Trace::default(),
            }),
            updates: broadcast::channel(BACKLOG).0,
        }
    }

    /// Merges an update and hands it to every viewer. The hub sets its version.
    pub fn publish(&self, mut update: Update) {
        let mut shared = self.lock();
        shared.snapshot.version += 1;
        update.version = shared.snapshot.version;
        let text = serde_json::to_string(&update).ok();
        shared.merge(update);
        // Sent under the lock, so that a viewer who subscribes under it misses none and sees none
        // twice. An error means that nobody is looking.
        if let Some(text) = text {
            let _ = self.updates.send(text.into());
        }
    }

    /// Everything now, and every update from now on.
    #[must_use]
    pub fn subscribe(&self) -> (Snapshot, broadcast::Receiver<Text>) {
        let shared = self.lock();
        (shared.whole(), self.updates.subscribe())
    }

    /// Everything now.
    #[must_use]
    pub fn snapshot(&self) -> Snapshot {
        self.lock().whole()
    }

    /// Viewers that are connected.
    #[must_use]
    pub fn viewers(&self) -> usize {
        self.updates.receiver_count()
    }

    /// A panic elsewhere must not take the page down: the snapshot is plain data.
    fn lock(&self) -> MutexGuard<'_, Shared> {
        self.shared.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Shared {
    fn whole(&self) -> Snapshot {
        Snapshot {
            trace: self.trace.view(),
            ..self.snapshot.clone()
        }
    }

    fn merge(&mut self, update: Update) {
        if let Some(trace) = &update.trace {
            self.trace.merge(trace);
        }
        self.snapshot.merge(update);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::live::snapshot::{Figures, NoteView, TraceView};

    fn update(t_s: f64) -> Update {
        Update {
            figures: Figures {
                t_s: Some(t_s),
                ..Figures::default()
            },
            ..Update::default()
        }
    }

    #[test]
    fn a_late_viewer_sees_all_that_went_before_and_then_each_update_once() {
        let hub = Hub::new(Snapshot::default());
        let mut first = update(1.0);
        first.notes = Some(vec![NoteView::default()]);
        first.trace = Some(TraceView {
            bin_s: 0.05,
            first: 20,
            low_pa: vec![Some(1.0)],
            high_pa: vec![Some(2.0)],
            flow_m3_per_s: vec![None],
        });
        hub.publish(first);
        let (whole, mut updates) = hub.subscribe();
        assert_eq!((whole.version, whole.notes.len()), (1, 1));
        assert_eq!(whole.trace.high_pa, [Some(2.0)]);
        hub.publish(update(2.0));
        let text = updates.try_recv().unwrap();
        assert!(text.contains(r#""version":2"#), "{text}");
        assert!(updates.try_recv().is_err());
        assert_eq!(hub.snapshot().notes.len(), 1);
    }

    #[test]
    fn a_slow_viewer_is_told_that_it_missed_updates() {
        let hub = Hub::new(Snapshot::default());
        let (_, mut updates) = hub.subscribe();
        for k in 0..100 {
            hub.publish(update(f64::from(k)));
        }
        let missed = updates.try_recv();
        assert!(matches!(
            missed,
            Err(broadcast::error::TryRecvError::Lagged(_))
        ));
    }
}
