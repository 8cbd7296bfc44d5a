//! Blocks to frames to a writer, one frame at a time. Never touches a sensor, never waits.
//!
//! A writer may take any part of a frame; the rest goes out later, unchanged.

use embedded_io::{Write, WriteReady};
use tipcurve_protocol::delta::MAX_PLANE_BYTES;
use tipcurve_protocol::frame::{self, DELIMITER, MAX_FRAME_BYTES};
use tipcurve_protocol::{Block, Edges, Message, Samples};

use crate::edges::EdgeBlock;
use crate::sampler::SampleBlock;

/// Makes frames and sends them.
#[derive(Debug)]
pub(crate) struct Sender {
    outgoing: Outgoing,
    planes: [u8; MAX_PLANE_BYTES],
    errors: u32,
}

impl Sender {
    pub(crate) const fn new() -> Self {
        Self {
            outgoing: Outgoing::EMPTY,
            planes: [0; MAX_PLANE_BYTES],
            errors: 0,
        }
    }

    /// What is still to be sent of the frame.
    pub(crate) fn pending(&self) -> &[u8] {
        self.outgoing.pending()
    }

    /// So many bytes of it were sent.
    pub(crate) fn advance(&mut self, bytes: usize) {
        self.outgoing.advance(bytes);
    }

    /// Offers the writer what is pending, once. Nothing is offered to a writer that is not ready; a
    /// failed write is counted and repeated later.
    pub(crate) fn write<W: Write + WriteReady>(
        &mut self,
        writer: &mut W,
    ) -> Result<usize, W::Error> {
        let attempt = match writer.write_ready() {
            Ok(true) => writer.write(self.pending()),
            Ok(false) => Ok(0),
            Err(error) => Err(error),
        };
        match attempt {
            Ok(bytes) => self.advance(bytes),
            Err(_) => self.errors = self.errors.saturating_add(1),
        }
        attempt
    }

    /// Failed writes.
    pub(crate) const fn errors(&self) -> u32 {
        self.errors
    }

    /// Replaces the frame, which must have been sent.
    pub(crate) fn load(&mut self, message: &Message<'_>) {
        self.outgoing.load(message);
    }

    /// Replaces the frame by one with these samples.
    pub(crate) fn load_samples(&mut self, block: &SampleBlock) {
        if let Ok(codes) = Block::encode(block.codes(), &mut self.planes) {
            self.outgoing.load(&Message::Samples(Samples {
                first_sample: block.first_sample,
                base_ticks: block.base_ticks,
                period_ticks: block.period_ticks,
                block: codes,
            }));
        }
    }

    /// Replaces the frame by one with these edges.
    pub(crate) fn load_edges(&mut self, block: &EdgeBlock) {
        if let Ok(intervals) = Block::encode(block.intervals(), &mut self.planes) {
            self.outgoing.load(&Message::Edges(Edges {
                first_edge: block.first_edge,
                base_ticks: block.base_ticks,
                over_captures: block.over_captures,
                rejected: block.rejected,
                intervals,
            }));
        }
    }
}

/// The frame that is being sent.
#[derive(Debug)]
struct Outgoing {
    bytes: [u8; MAX_FRAME_BYTES + 1],
    sent: usize,
    end: usize,
}

impl Outgoing {
    const EMPTY: Self = Self {
        bytes: [0; MAX_FRAME_BYTES + 1],
        sent: 0,
        end: 0,
    };

    fn pending(&self) -> &[u8] {
        self.bytes.get(self.sent..self.end).unwrap_or_default()
    }

    fn advance(&mut self, bytes: usize) {
        self.sent = self.sent.saturating_add(bytes).min(self.end);
    }

    fn load(&mut self, message: &Message<'_>) {
        // A hello also ends whatever another program or an earlier start left on the line.
        let lead = usize::from(matches!(message, Message::Hello(_)));
        self.bytes
            .iter_mut()
            .take(lead)
            .for_each(|byte| *byte = DELIMITER);
        let place = self.bytes.get_mut(lead..).unwrap_or_default();
        let encoded = frame::encode(message, place).map_or(0, <[u8]>::len);
        self.sent = 0;
        self.end = lead + encoded;
    }
}
