//! Captured edge times to blocks. Bounce is rejected by one declared rule and counted; over-capture is
//! counted; nothing else is filtered.

use tipcurve_protocol::message::MAX_EDGES;

use crate::limits::{EDGE_BLOCK_TICKS, EDGE_QUEUE_BLOCKS};
use crate::queue::BoundedQueue;

/// Edge blocks on their way to the line.
pub(crate) type EdgeQueue = BoundedQueue<EdgeBlock, EDGE_QUEUE_BLOCKS>;

const MAX_INTERVALS: usize = MAX_EDGES - 1;

/// Consecutive edges.
#[derive(Clone, Copy, Debug)]
pub(crate) struct EdgeBlock {
    pub(crate) first_edge: u32,
    pub(crate) base_ticks: u64,
    pub(crate) over_captures: u32,
    pub(crate) rejected: u32,
    /// Edges in the block; the first has no interval.
    count: u16,
    intervals: [i32; MAX_INTERVALS],
}

impl EdgeBlock {
    const EMPTY: Self = Self {
        first_edge: 0,
        base_ticks: 0,
        over_captures: 0,
        rejected: 0,
        count: 0,
        intervals: [0; MAX_INTERVALS],
    };

    /// Ticks from each edge to the next, as the wire has them.
    pub(crate) fn intervals(&self) -> &[i32] {
        let count = usize::from(self.count.saturating_sub(1));
        self.intervals.get(..count).unwrap_or_default()
    }

    /// Number of the edge after the last.
    pub(crate) fn end_edge(&self) -> u32 {
        self.first_edge.wrapping_add(u32::from(self.count))
    }

    fn push_interval(&mut self, interval: u32) {
        if let Some(slot) = self.intervals.get_mut(usize::from(self.count - 1)) {
            *slot = interval.cast_signed();
            self.count += 1;
        }
    }
}

/// Fills blocks.
#[derive(Debug)]
pub(crate) struct EdgeRecorder {
    open: EdgeBlock,
    debounce_ticks: u32,
    next_edge: u32,
    last_ticks: Option<u64>,
    rejected: u32,
    over_captures: u32,
    dropped_edges: u32,
}

impl EdgeRecorder {
    pub(crate) const fn new(debounce_ticks: u32) -> Self {
        Self {
            open: EdgeBlock::EMPTY,
            debounce_ticks,
            next_edge: 0,
            last_ticks: None,
            rejected: 0,
            over_captures: 0,
            dropped_edges: 0,
        }
    }

    /// Takes an edge by its captured time. One within the debounce time of the last accepted edge, or
    /// from before it, is rejected.
    pub(crate) fn take(&mut self, device_ticks: u64, queue: &mut EdgeQueue) {
        let earliest = self
            .last_ticks
            .map_or(0, |last| last + u64::from(self.debounce_ticks));
        let is_before_last = self.last_ticks.is_some_and(|last| device_ticks < last);
        if is_before_last || device_ticks < earliest {
            self.rejected = self.rejected.saturating_add(1);
            return;
        }
        self.append(device_ticks, queue);
        self.last_ticks = Some(device_ticks);
        self.next_edge = self.next_edge.wrapping_add(1);
        if usize::from(self.open.count) >= MAX_EDGES {
            self.close(queue);
        }
    }

    /// Counts edges that the hardware overwrote before they could be read.
    pub(crate) fn count_over_captures(&mut self, count: u32) {
        self.over_captures = self.over_captures.saturating_add(count);
    }

    /// Sends edges on their way that have waited long enough.
    pub(crate) fn close_if_old(&mut self, device_ticks: u64, queue: &mut EdgeQueue) {
        if device_ticks.saturating_sub(self.open.base_ticks) >= EDGE_BLOCK_TICKS {
            self.close(queue);
        }
    }

    pub(crate) const fn rejected(&self) -> u32 {
        self.rejected
    }

    pub(crate) const fn over_captures(&self) -> u32 {
        self.over_captures
    }

    /// Edges in blocks that found the queue full.
    pub(crate) const fn dropped_edges(&self) -> u32 {
        self.dropped_edges
    }

    fn append(&mut self, device_ticks: u64, queue: &mut EdgeQueue) {
        let interval = self
            .last_ticks
            .and_then(|last| u32::try_from(device_ticks.saturating_sub(last)).ok());
        match interval {
            Some(interval) if self.open.count > 0 => self.open.push_interval(interval),
            _ => {
                self.close(queue);
                self.open.first_edge = self.next_edge;
                self.open.base_ticks = device_ticks;
                self.open.count = 1;
            }
        }
    }

    /// Ends the open block, if it holds anything.
    pub(crate) fn close(&mut self, queue: &mut EdgeQueue) {
        self.open.rejected = self.rejected;
        self.open.over_captures = self.over_captures;
        if self.open.count > 0 && !queue.push(&self.open) {
            let lost = u32::from(self.open.count);
            self.dropped_edges = self.dropped_edges.saturating_add(lost);
        }
        self.open.count = 0;
    }
}
