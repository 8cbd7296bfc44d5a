//! Bytes in, events out. No I/O, no clock, no heap.
//!
//! Whatever arrives, the reader is in step again at the next delimiter, and one damaged stretch
//! is one event. It never looks for frames inside a damaged one.

use core::fmt;

use crate::frame::{self, DELIMITER, Fault, Frame, MAX_FRAME_BYTES};
use crate::message::Message;
use crate::version::{Refusal, Version};

/// What the next delimiter completed.
#[derive(Clone, Debug, PartialEq)]
#[expect(
    clippy::large_enum_variant,
    reason = "there is no heap, and one event exists at a time"
)]
pub enum Event<'a> {
    /// A message.
    Message(Message<'a>),
    /// A sound frame that this version cannot read and passes over.
    Unknown {
        /// Version of the frame's layout.
        version: Version,
        /// Kind code.
        kind: u8,
    },
    /// A sound frame of another major version: nothing of this device can be read.
    Refused(Refusal),
    /// Bytes that are no frame; reported once, at the delimiter that ends them.
    Damaged(Damage),
}

/// A stretch of bytes that is no frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Damage {
    /// What was wrong first.
    pub fault: Fault,
    /// Where it began, counted from the first byte the reader was given.
    pub offset: u64,
    /// How many bytes, without the delimiter.
    pub bytes: u64,
}

impl fmt::Display for Damage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let what = match self.fault {
            Fault::TooLong => "are longer than any frame",
            Fault::TooShort => "are shorter than any frame",
            Fault::Check => "fail their check",
            Fault::Malformed => "pass their check but hold no message",
            Fault::Torn => "are the beginning of a frame whose end never came",
        };
        write!(f, "{} bytes at byte {} {what}", self.bytes, self.offset)
    }
}

/// How much of what a reader has seen.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counts {
    /// Bytes taken in.
    pub bytes: u64,
    /// Messages.
    pub messages: u64,
    /// Sound frames passed over.
    pub unknown: u64,
    /// Sound frames of another major version.
    pub refused: u64,
    /// Damaged stretches.
    pub damaged: u64,
    /// Bytes in them.
    pub damaged_bytes: u64,
}

/// Splits a byte stream into events.
///
/// `N` is the longest frame it accepts, delimiter not counted; a device that only receives commands
/// does with a few dozen bytes.
#[derive(Clone, Debug)]
pub struct Reader<const N: usize = MAX_FRAME_BYTES> {
    /// Stuffed bytes of a frame that came in several portions.
    held: [u8; N],
    /// The latest frame without its stuffing; what an event borrows from.
    body: [u8; N],
    /// Bytes since the last delimiter. Above `N` they are no longer kept.
    pending: u64,
    counts: Counts,
}

impl Reader {
    /// A reader for whatever a device sends.
    #[must_use]
    pub const fn new() -> Self {
        Self::with_limit()
    }
}

impl Default for Reader {
    fn default() -> Self {
        Self::new()
    }
}

impl<const N: usize> Reader<N> {
    /// A reader that takes frames of up to `N` bytes.
    #[must_use]
    pub const fn with_limit() -> Self {
        Self {
            held: [0; N],
            body: [0; N],
            pending: 0,
            counts: Counts {
                bytes: 0,
                messages: 0,
                unknown: 0,
                refused: 0,
                damaged: 0,
                damaged_bytes: 0,
            },
        }
    }

    /// What has been seen so far.
    #[must_use]
    pub const fn counts(&self) -> Counts {
        self.counts
    }

    /// Takes bytes from the front of `input` up to the next event. `None` once `input` is empty.
    ///
    /// A whole frame inside `input` is read where it lies, so handing over a log in large pieces
    /// (or at once) is the fastest way to read it.
    pub fn next(&mut self, input: &mut &[u8]) -> Option<Event<'_>> {
        let (bytes, unstuffed) = self.complete_frame(input)?;
        let parsed = match unstuffed {
            Ok(used) => frame::parse(self.body.get(..used).unwrap_or_default()),
            Err(fault) => Err(fault),
        };
        Some(self.counts.record(parsed, bytes))
    }

    /// Ends the stream: what stands after the last delimiter, if anything, is a torn frame.
    /// The reader can then be used for another stream; its counts go on.
    pub fn finish(&mut self) -> Option<Damage> {
        let bytes = core::mem::take(&mut self.pending);
        let fault = if fits::<N>(bytes) {
            Fault::Torn
        } else {
            Fault::TooLong
        };
        (bytes > 0).then(|| {
            let offset = self.counts.bytes - bytes;
            self.counts.record_damage(Damage {
                fault,
                offset,
                bytes,
            })
        })
    }

    /// Consumes up to and including the next delimiter that ends something: how many bytes it
    /// ended, and how many are in `body`.
    fn complete_frame(&mut self, input: &mut &[u8]) -> Option<(u64, Result<usize, Fault>)> {
        loop {
            let Some((portion, rest)) = split_at_delimiter(input) else {
                self.hold(input);
                self.counts.bytes += input.len() as u64;
                *input = &[];
                return None;
            };
            *input = rest;
            self.counts.bytes += portion.len() as u64 + 1;
            let bytes = self.pending + portion.len() as u64;
            if bytes > 0 {
                let unstuffed = self.unstuff(portion, bytes);
                self.pending = 0;
                return Some((bytes, unstuffed));
            }
        }
    }

    fn unstuff(&mut self, portion: &[u8], bytes: u64) -> Result<usize, Fault> {
        if !fits::<N>(bytes) {
            return Err(Fault::TooLong);
        }
        if self.pending == 0 {
            return frame::check_and_unstuff(portion, &mut self.body);
        }
        self.hold(portion);
        let whole = usize::try_from(bytes).unwrap_or(usize::MAX);
        let held = self.held.get(..whole).ok_or(Fault::TooLong)?;
        frame::check_and_unstuff(held, &mut self.body)
    }

    /// Keeps a part of a frame until the rest comes; what is too long anyway is only counted.
    fn hold(&mut self, portion: &[u8]) {
        let end = self.pending + portion.len() as u64;
        if let (Ok(from), Ok(to)) = (usize::try_from(self.pending), usize::try_from(end))
            && let Some(place) = self.held.get_mut(from..to)
        {
            // Not copy_from_slice, whose check of the lengths would stay in a device's binary.
            for (to, from) in place.iter_mut().zip(portion) {
                *to = *from;
            }
        }
        self.pending = end;
    }
}

impl Counts {
    fn record<'a>(&mut self, parsed: Result<Frame<'a>, Fault>, bytes: u64) -> Event<'a> {
        match parsed {
            Ok(Frame::Message(message)) => {
                self.messages += 1;
                Event::Message(message)
            }
            Ok(Frame::Unknown { version, kind }) => {
                self.unknown += 1;
                Event::Unknown { version, kind }
            }
            Ok(Frame::Refused(refusal)) => {
                self.refused += 1;
                Event::Refused(refusal)
            }
            Err(fault) => Event::Damaged(self.record_damage(Damage {
                fault,
                offset: self.bytes.saturating_sub(bytes + 1),
                bytes,
            })),
        }
    }

    fn record_damage(&mut self, damage: Damage) -> Damage {
        self.damaged += 1;
        self.damaged_bytes += damage.bytes;
        damage
    }
}

fn fits<const N: usize>(bytes: u64) -> bool {
    bytes <= N as u64
}

fn split_at_delimiter<'a>(input: &mut &'a [u8]) -> Option<(&'a [u8], &'a [u8])> {
    let end = memchr::memchr(DELIMITER, input)?;
    let (portion, rest) = input.split_at_checked(end)?;
    Some((portion, rest.get(1..)?))
}

#[cfg(test)]
mod tests;
