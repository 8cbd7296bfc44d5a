//! What must be read of a log, worked out from what was sent and from the bytes that are left: no decoder is used.

use super::{Content, Sent};
use crate::wire_log::BLOCK;
use tipcurve_protocol::frame::MAX_FRAME_BYTES;

/// What loading must give.
#[derive(Debug)]
pub(super) struct Expected {
    /// What is read; `None` where a start of the device cannot be told from what was before it.
    pub(super) read: Option<Read>,
    /// Stretches between delimiters that are no frame.
    pub(super) n_damaged: u64,
    /// The last stretch has no end.
    pub(super) is_torn: bool,
}

/// What is read of the frames that are whole.
#[derive(Debug, Default)]
pub(super) struct Read {
    /// Codes of every block, in order.
    pub(super) codes: Vec<i32>,
    /// Edges.
    pub(super) n_edges: usize,
    /// Samples that are missing by their numbers.
    pub(super) samples_lost: u64,
    /// The same of edges.
    pub(super) edges_lost: u64,
}

/// Works it out.
pub(super) fn expected(log: &[u8], sent: &[Sent]) -> Expected {
    let whole: Vec<&Sent> = sent.iter().filter(|frame| is_whole(log, frame)).collect();
    let (n_damaged, is_torn) = stretches(log, &whole);
    Expected {
        read: read(&whole),
        n_damaged,
        is_torn,
    }
}

fn is_whole(log: &[u8], frame: &Sent) -> bool {
    let end = frame.start + frame.bytes.len();
    let begins = frame.start == 0 || log.get(frame.start - 1) == Some(&0);
    begins && log.get(frame.start..end) == Some(frame.bytes.as_slice())
}

/// Damaged stretches, and whether the last has no end.
fn stretches(log: &[u8], whole: &[&Sent]) -> (u64, bool) {
    let mut at = 0;
    let mut n_damaged = 0;
    let is_torn = log.last().is_some_and(|byte| *byte != 0);
    let ended = log.iter().rposition(|byte| *byte == 0).map_or(0, |i| i + 1);
    for stretch in log[..ended].split_inclusive(|byte| *byte == 0) {
        let is_frame = whole.iter().any(|frame| frame.start == at);
        // A recording that begins in the middle of a frame has lost nothing of its own.
        let is_beginning = at == 0 && stretch.len() <= MAX_FRAME_BYTES + 1;
        if stretch.len() > 1 && !is_frame && !is_beginning {
            n_damaged += 1;
        }
        at += stretch.len();
    }
    (n_damaged, is_torn)
}

/// Where a stream of numbers is.
#[derive(Debug, Default)]
struct Numbers {
    next: Option<u32>,
    lost: u64,
}

impl Numbers {
    fn advance(&mut self, first: u32, n: u32) {
        self.lost += u64::from(first - self.next.unwrap_or(first));
        self.next = Some(first + n);
    }

    /// A stream of which nothing was ever read has no number to miss.
    fn restart(&mut self) {
        self.next = self.next.map(|_| 0);
    }
}

/// *Shape*: `None` where the first that is left of a new start of the device says neither its boot id nor smaller
/// numbers than before, or looks like the frame before it, or where of two starts in a row the first never said its
/// boot id: nobody can tell it from a loss, a repetition or one start then.
fn read(whole: &[&Sent]) -> Option<Read> {
    let mut boot_id = whole.first()?.boot_id;
    let (mut samples, mut edges) = (Numbers::default(), Numbers::default());
    let mut is_id_known = false;
    let mut latest = None::<(u32, u64)>;
    let mut read = Read::default();
    for frame in whole {
        if frame.boot_id != boot_id {
            let is_plain = match &frame.content {
                Content::Hello | Content::Health { .. } => is_id_known,
                Content::Samples { first, .. } => {
                    let is_behind = samples.next.is_some_and(|next| *first < next);
                    let is_earlier = latest.is_some_and(|(_, ticks)| frame.ticks < ticks);
                    (is_behind || is_earlier) && latest != Some((*first, frame.ticks))
                }
                Content::Edges { .. } => false,
                Content::Slow => continue,
            };
            if !is_plain {
                return None;
            }
            boot_id = frame.boot_id;
            is_id_known = false;
            latest = None;
            samples.restart();
            edges.restart();
        }
        is_id_known |= matches!(frame.content, Content::Hello | Content::Health { .. });
        match &frame.content {
            Content::Samples { first, codes } => {
                latest = Some((*first, frame.ticks));
                samples.advance(*first, u32::try_from(BLOCK).unwrap_or(u32::MAX));
                read.codes.extend_from_slice(codes);
            }
            Content::Edges { first, n } => {
                edges.advance(*first, *n);
                read.n_edges += *n as usize;
            }
            Content::Health {
                sent_samples,
                sent_edges,
            } => {
                samples.advance(*sent_samples, 0);
                edges.advance(*sent_edges, 0);
            }
            Content::Hello | Content::Slow => {}
        }
    }
    read.samples_lost = samples.lost;
    read.edges_lost = edges.lost;
    Some(read)
}
