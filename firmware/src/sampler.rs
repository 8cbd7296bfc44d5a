//! Timer ticks to blocks of samples. Never sends, never waits.
//!
//! Every tick that is due takes a sequence number, whether or not a code came of it. A block holds
//! consecutive numbers at equal distances only; whatever breaks that (a failed reading, a missed
//! tick, another rate) closes it.

use tipcurve_protocol::delta::MAX_CODES;

use crate::limits::{SAMPLE_QUEUE_BLOCKS, samples_per_block};
use crate::queue::BoundedQueue;
use crate::sensor::SensorError;

/// Sample blocks on their way to the line.
pub(crate) type SampleQueue = BoundedQueue<SampleBlock, SAMPLE_QUEUE_BLOCKS>;

/// Consecutive codes at equal distances in time.
#[derive(Clone, Copy, Debug)]
pub(crate) struct SampleBlock {
    pub(crate) first_sample: u32,
    pub(crate) base_ticks: u64,
    pub(crate) period_ticks: u32,
    count: u16,
    codes: [i32; MAX_CODES],
}

impl SampleBlock {
    const EMPTY: Self = Self {
        first_sample: 0,
        base_ticks: 0,
        period_ticks: 1,
        count: 0,
        codes: [0; MAX_CODES],
    };

    pub(crate) fn codes(&self) -> &[i32] {
        self.codes
            .get(..usize::from(self.count))
            .unwrap_or_default()
    }

    /// Sequence number after the last sample.
    pub(crate) fn end_sample(&self) -> u32 {
        self.first_sample.wrapping_add(u32::from(self.count))
    }

    fn end_ticks(&self) -> u64 {
        self.base_ticks + u64::from(self.count) * u64::from(self.period_ticks)
    }

    fn push(&mut self, code: i32) {
        if let Some(slot) = self.codes.get_mut(usize::from(self.count)) {
            *slot = code;
            self.count += 1;
        }
    }
}

/// Fills blocks.
#[derive(Debug)]
pub(crate) struct Sampler {
    open: SampleBlock,
    period_ticks: u32,
    next_sample: u32,
    due_ticks: Option<u64>,
    missed: u32,
    dropped_samples: u32,
}

impl Sampler {
    pub(crate) const fn new(period_ticks: u32) -> Self {
        Self {
            open: SampleBlock::EMPTY,
            period_ticks,
            next_sample: 0,
            due_ticks: None,
            missed: 0,
            dropped_samples: 0,
        }
    }

    /// Takes what the sensor gave at a tick of the sample timer.
    pub(crate) fn take(
        &mut self,
        device_ticks: u64,
        reading: Result<i32, SensorError>,
        queue: &mut SampleQueue,
    ) {
        self.account_for_time(device_ticks, queue);
        let sequence = self.next_sample;
        self.next_sample = sequence.wrapping_add(1);
        match reading {
            Ok(code) => self.append(sequence, device_ticks, code, queue),
            Err(_) => {
                self.close(queue);
                self.missed = self.missed.saturating_add(1);
                self.due_ticks = Some(device_ticks + u64::from(self.period_ticks));
            }
        }
    }

    /// Changes the rate. The next tick begins a new block, whenever it comes.
    pub(crate) fn set_period(&mut self, period_ticks: u32, queue: &mut SampleQueue) {
        self.pause(queue);
        self.period_ticks = period_ticks;
    }

    /// No tick is expected until the next one comes.
    pub(crate) fn pause(&mut self, queue: &mut SampleQueue) {
        self.close(queue);
        self.due_ticks = None;
    }

    pub(crate) const fn period_ticks(&self) -> u32 {
        self.period_ticks
    }

    /// Samples due that gave no code.
    pub(crate) const fn missed(&self) -> u32 {
        self.missed
    }

    /// Samples in blocks that found the queue full.
    pub(crate) const fn dropped_samples(&self) -> u32 {
        self.dropped_samples
    }

    /// Ticks since a sample was due; 0 while none is expected.
    pub(crate) fn overdue_ticks(&self, device_ticks: u64) -> u64 {
        self.due_ticks
            .map_or(0, |due| device_ticks.saturating_sub(due))
    }

    /// Numbers the ticks that should have come since the last one. Half a period of jitter is
    /// allowed; a tick that is earlier than that begins a block of its own.
    fn account_for_time(&mut self, device_ticks: u64, queue: &mut SampleQueue) {
        let Some(due) = self.due_ticks else { return };
        let half_period = u64::from(self.period_ticks / 2);
        if device_ticks.abs_diff(due) <= half_period {
            return;
        }
        self.close(queue);
        let late = device_ticks.saturating_sub(due) + half_period;
        let missed = late / u64::from(self.period_ticks.max(1));
        let missed = u32::try_from(missed).unwrap_or(u32::MAX);
        self.next_sample = self.next_sample.wrapping_add(missed);
        self.missed = self.missed.saturating_add(missed);
    }

    fn append(&mut self, sequence: u32, device_ticks: u64, code: i32, queue: &mut SampleQueue) {
        if self.open.count == 0 {
            self.open.first_sample = sequence;
            self.open.base_ticks = device_ticks;
            self.open.period_ticks = self.period_ticks;
        }
        self.open.push(code);
        self.due_ticks = Some(self.open.end_ticks());
        if usize::from(self.open.count) >= samples_per_block(self.period_ticks) {
            self.close(queue);
        }
    }

    /// Ends the open block, if it holds anything.
    pub(crate) fn close(&mut self, queue: &mut SampleQueue) {
        if self.open.count > 0 && !queue.push(&self.open) {
            let lost = u32::from(self.open.count);
            self.dropped_samples = self.dropped_samples.saturating_add(lost);
        }
        self.open.count = 0;
    }
}
