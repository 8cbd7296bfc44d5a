//! A block of equally spaced pressure codes.

use serde::{Deserialize, Serialize};

use crate::delta::Block;

/// Pressure codes in the order they were taken.
///
/// The sequence number counts *samples due* since the device started, also those that a sensor
/// failed to give or a full queue dropped. What is missing between two blocks is therefore the
/// difference of their numbers, exactly.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Samples<'a> {
    /// Sequence number of the first sample; wraps at 2^32.
    pub first_sample: u32,
    /// Device tick of the first sample, in full.
    pub base_ticks: u64,
    /// Ticks between samples.
    pub period_ticks: u32,
    /// The codes.
    #[serde(borrow)]
    pub block: Block<'a>,
}

impl Samples<'_> {
    /// Device tick of the sample at `index` in the block.
    #[must_use]
    pub fn ticks_at(&self, index: usize) -> u64 {
        let ahead = u64::from(self.period_ticks).saturating_mul(index as u64);
        self.base_ticks.saturating_add(ahead)
    }

    /// Device tick at which the sample after this block is due.
    #[must_use]
    pub fn end_ticks(&self) -> u64 {
        self.ticks_at(self.block.len())
    }
}
