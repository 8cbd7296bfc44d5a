//! Bytes of the wire to what was heard: every frame checked and its block of codes restored, nothing interpreted.
//!
//! This half of decoding needs no memory of earlier frames, so that it can run ahead of the other half on a
//! processor of its own (see [`read_log`](super::read_log)). What was heard lies in buffers that are used again.

use tipcurve_protocol::delta::MAX_CODES;
use tipcurve_protocol::message::MAX_EDGES;
use tipcurve_protocol::{
    Damage, Edges, Event, Health, Hello, Mark, Message, Reader, Refusal, Samples, Slow,
};

/// What a portion of the log said.
#[derive(Debug, Default)]
pub(super) struct Heard {
    /// Frames in their order, each with the byte of the log at which it ended.
    pub(super) frames: Vec<(u64, Frame)>,
    /// Codes of its sample blocks, one after the other.
    pub(super) codes: Vec<i32>,
    /// Ticks of its edge blocks, one after the other.
    pub(super) edge_ticks: Vec<u64>,
    /// Bytes of the log up to its end.
    pub(super) end_byte: u64,
}

/// One frame, its block apart.
#[derive(Debug)]
pub(super) enum Frame {
    Samples(SampleBlock),
    Edges(EdgeBlock),
    Slow(Slow),
    Mark(Mark),
    Health(Health),
    Hello(Box<Hello>),
    /// A kind that this version passes over.
    Unknown,
    Refused(Refusal),
    Damaged(Damage),
}

/// A block of samples; where it is sound, its codes are the next `n` of [`Heard::codes`].
#[derive(Debug, Clone, Copy)]
pub(super) struct SampleBlock {
    pub(super) first_sample: u32,
    pub(super) base_ticks: u64,
    pub(super) period_ticks: u32,
    /// Tick of its last sample; of its first where it has none.
    pub(super) last_ticks: u64,
    /// Tick at which the sample after it is due.
    pub(super) end_ticks: u64,
    pub(super) n: usize,
    /// False where the frame passed its check and yet does not hold what it announces; it then has no codes.
    pub(super) is_sound: bool,
}

/// A block of edges; where it is sound, their ticks are the next `n` of [`Heard::edge_ticks`].
#[derive(Debug, Clone, Copy)]
pub(super) struct EdgeBlock {
    pub(super) first_edge: u32,
    pub(super) base_ticks: u64,
    pub(super) n: usize,
    /// As in [`SampleBlock`].
    pub(super) is_sound: bool,
}

impl Heard {
    fn clear(&mut self) {
        self.frames.clear();
        self.codes.clear();
        self.edge_ticks.clear();
    }

    fn push(&mut self, end_byte: u64, event: Event<'_>) {
        let frame = match event {
            Event::Message(Message::Samples(samples)) => Frame::Samples(self.samples(&samples)),
            Event::Message(Message::Edges(edges)) => Frame::Edges(self.edges(&edges)),
            Event::Message(Message::Slow(slow)) => Frame::Slow(slow),
            Event::Message(Message::Mark(mark)) => Frame::Mark(mark),
            Event::Message(Message::Health(health)) => Frame::Health(health),
            Event::Message(Message::Hello(hello)) => Frame::Hello(Box::new(hello)),
            // What the host said and what it was answered is no measurement.
            Event::Message(Message::Reply(_) | Message::ClockEcho(_) | Message::Command(_)) => {
                return;
            }
            Event::Unknown { .. } => Frame::Unknown,
            Event::Refused(refusal) => Frame::Refused(refusal),
            Event::Damaged(damage) => Frame::Damaged(damage),
        };
        self.frames.push((end_byte, frame));
    }

    fn samples(&mut self, samples: &Samples<'_>) -> SampleBlock {
        let n = samples.block.len();
        let is_read = read_behind(&mut self.codes, n, MAX_CODES, |codes| {
            samples.block.decode(codes)
        });
        SampleBlock {
            first_sample: samples.first_sample,
            base_ticks: samples.base_ticks,
            period_ticks: samples.period_ticks,
            last_ticks: samples.ticks_at(n.saturating_sub(1)),
            end_ticks: samples.end_ticks(),
            n,
            is_sound: is_read,
        }
    }

    fn edges(&mut self, edges: &Edges<'_>) -> EdgeBlock {
        let n = edges.len();
        let is_read = read_behind(&mut self.edge_ticks, n, MAX_EDGES, |ticks| {
            edges.decode(ticks)
        });
        EdgeBlock {
            first_edge: edges.first_edge,
            base_ticks: edges.base_ticks,
            n,
            is_sound: is_read,
        }
    }
}

/// Reads `n` items behind those that are there; false, and nothing added, where that fails.
///
/// A frame may announce more than it can hold: with room for each such, a small log would fill the memory.
fn read_behind<T: Clone + Default, E>(
    items: &mut Vec<T>,
    n: usize,
    most: usize,
    read: impl FnOnce(&mut [T]) -> Result<(), E>,
) -> bool {
    if n > most {
        return false;
    }
    let at = items.len();
    items.resize(at + n, T::default());
    let is_read = read(&mut items[at..]).is_ok();
    if !is_read {
        items.truncate(at);
    }
    is_read
}

/// Listens to a log, portion by portion.
#[derive(Debug, Default)]
pub(super) struct Listener {
    reader: Reader,
    end_byte: u64,
}

impl Listener {
    /// Takes the next bytes of the log; `heard` holds what they said, and nothing else, afterwards.
    pub(super) fn listen(&mut self, bytes: &[u8], heard: &mut Heard) {
        heard.clear();
        let mut rest = bytes;
        while let Some(event) = self.reader.next(&mut rest) {
            heard.push(self.end_byte + (bytes.len() - rest.len()) as u64, event);
        }
        self.end_byte += bytes.len() as u64;
        heard.end_byte = self.end_byte;
    }

    /// How many bytes it was given.
    pub(super) fn end_byte(&self) -> u64 {
        self.end_byte
    }

    /// Ends the log: a frame whose end never came.
    pub(super) fn finish(&mut self) -> Option<Damage> {
        self.reader.finish()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Body of a samples frame: number 7, tick 100, period 1, then the block: count, coding 0, start 10, planes.
    fn samples(count: &[u8], planes: &[u8]) -> Vec<u8> {
        let mut body = vec![7, 100, 1];
        body.extend(count);
        body.extend([0, 20]);
        body.push(u8::try_from(planes.len()).unwrap());
        body.extend(planes);
        body
    }

    fn hear(bodies: &[Vec<u8>]) -> Heard {
        let mut heard = Heard::default();
        for body in bodies {
            let samples: Samples<'_> = postcard::from_bytes(body).unwrap();
            heard.push(0, Event::Message(Message::Samples(samples)));
        }
        heard
    }

    #[test]
    fn a_frame_that_announces_what_it_does_not_hold_takes_no_room() {
        let sound = samples(&[2], &[0b11]);
        // 65535, 256 and 3 codes announced; two there.
        let unsound = [&[0xff, 0xff, 3][..], &[0x80, 2], &[3]].map(|n| samples(n, &[0b11]));
        let bodies: Vec<Vec<u8>> = unsound.into_iter().chain([sound]).collect();
        let heard = hear(&bodies);
        let is_sound: Vec<bool> = heard
            .frames
            .iter()
            .map(|(_, frame)| matches!(frame, Frame::Samples(block) if block.is_sound))
            .collect();
        assert_eq!(is_sound, [false, false, false, true]);
        assert_eq!(heard.codes, [10, 10]);
        assert!(heard.codes.capacity() <= 2 * MAX_CODES);
    }
}
