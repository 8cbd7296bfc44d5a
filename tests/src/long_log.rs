//! A recording of hours from one of minutes: the same frames over and over, numbers and ticks going on.

use tipcurve_protocol::{Event, Message, Reader, frame};

/// Samples, edges and ticks of one copy.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Extent {
    /// Samples.
    pub samples: u32,
    /// Flow-meter edges.
    pub edges: u32,
    /// Ticks from the first sample to the one after the last.
    pub ticks: u64,
}

fn for_each<'a>(log: &'a [u8], mut take: impl FnMut(Message<'_>)) {
    let mut reader = Reader::new();
    let mut input: &'a [u8] = log;
    while let Some(event) = reader.next(&mut input) {
        if let Event::Message(message) = event {
            take(message);
        }
    }
}

/// How far one copy of a log reaches.
#[must_use]
pub fn extent(log: &[u8]) -> Extent {
    let mut found = Extent::default();
    for_each(log, |message| match message {
        Message::Samples(s) => {
            found.samples += u32::try_from(s.block.len()).unwrap_or(0);
            found.ticks += s.end_ticks() - s.base_ticks;
        }
        Message::Edges(e) => found.edges += u32::try_from(e.len()).unwrap_or(0),
        _ => {}
    });
    found
}

/// The log `times` over, as one device would have sent it without a stop.
///
/// Blocks are kept as they are; numbers, ticks and the counts of the heartbeat go on from copy to copy.
/// Marks, replies and clock echoes are left out: they belong to one moment.
///
/// # Panics
/// When a message does not fit its frame: it did when it was read.
#[must_use]
pub fn repeat(log: &[u8], times: u32) -> Vec<u8> {
    let one = extent(log);
    let mut out = Vec::with_capacity(log.len() * times as usize);
    let mut buffer = [0; frame::MAX_FRAME_BYTES];
    for copy in 0..times {
        let (samples, edges) = (one.samples * copy, one.edges * copy);
        let ticks = one.ticks * u64::from(copy);
        for_each(log, |message| {
            let moved = match message {
                Message::Samples(mut s) => {
                    s.first_sample += samples;
                    s.base_ticks += ticks;
                    Message::Samples(s)
                }
                Message::Edges(mut e) => {
                    e.first_edge += edges;
                    e.base_ticks += ticks;
                    Message::Edges(e)
                }
                Message::Slow(mut s) => {
                    s.device_ticks += ticks;
                    Message::Slow(s)
                }
                Message::Health(mut h) => {
                    h.device_ticks += ticks;
                    h.sent_samples += samples;
                    h.sent_edges += edges;
                    Message::Health(h)
                }
                Message::Hello(h) => Message::Hello(h),
                _ => return,
            };
            out.extend_from_slice(frame::encode(&moved, &mut buffer).expect("a message fits"));
        });
    }
    out
}
