//! A block of time-stamped edges of the flow meter.

use serde::{Deserialize, Serialize};

use crate::delta::{Block, BlockError};

/// Most edges in one block.
pub const MAX_EDGES: usize = 64;

/// Edges in the order they came, each with its own time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Edges<'a> {
    /// How many edges the device accepted before the first of this block; wraps at 2^32.
    pub first_edge: u32,
    /// Device tick of the first edge, in full.
    pub base_ticks: u64,
    /// Edges so far that the hardware overwrote before they could be read.
    pub over_captures: u32,
    /// Edges so far that came within the declared debounce time and were rejected.
    pub rejected: u32,
    /// Ticks from each edge to the next: one fewer than there are edges.
    #[serde(borrow)]
    pub intervals: Block<'a>,
}

impl Edges<'_> {
    /// How many edges the block holds; never 0.
    #[must_use]
    pub fn len(&self) -> usize {
        self.intervals.len() + 1
    }

    /// Always false: an empty block is not sent.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        false
    }

    /// Device ticks of the edges. `ticks` must be [`len`](Self::len) long.
    ///
    /// # Errors
    /// As [`Block::decode`]; also [`BlockError::TooMany`] above [`MAX_EDGES`].
    pub fn decode(&self, ticks: &mut [u64]) -> Result<(), BlockError> {
        let mut intervals = [0; MAX_EDGES - 1];
        let intervals = intervals
            .get_mut(..self.intervals.len())
            .ok_or(BlockError::TooMany)?;
        if ticks.len() != self.len() {
            return Err(BlockError::LengthDiffers);
        }
        self.intervals.decode(intervals)?;
        let mut now = self.base_ticks;
        let steps = intervals.iter().map(|step| u64::from(step.cast_unsigned()));
        for (slot, step) in ticks.iter_mut().zip(core::iter::once(0).chain(steps)) {
            now = now.saturating_add(step);
            *slot = now;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::delta::MAX_PLANE_BYTES;

    #[test]
    fn edges_an_hour_apart_keep_their_time() {
        let mut planes = [0; MAX_PLANE_BYTES];
        let intervals = [6_700, u32::MAX.cast_signed(), 1];
        let edges = Edges {
            first_edge: 10,
            base_ticks: 1 << 40,
            over_captures: 0,
            rejected: 0,
            intervals: Block::encode(&intervals, &mut planes).unwrap(),
        };
        let mut ticks = [0; 4];
        edges.decode(&mut ticks).unwrap();
        let base = 1 << 40;
        assert_eq!(
            ticks,
            [
                base,
                base + 6_700,
                base + 6_700 + 0xffff_ffff,
                base + 6_701 + 0xffff_ffff
            ]
        );
        assert_eq!(edges.decode(&mut [0; 3]), Err(BlockError::LengthDiffers));
    }
}
