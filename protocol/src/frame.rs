//! A message to checked, delimited bytes and back. Buffers belong to the caller.
//!
//! A frame is `stuffed(version, kind, payload) | check | 0`: the stuffing keeps zeros out, the
//! check is the CRC-32 of the *stuffed* bytes in five bytes of seven bits, their top bits set.
//! The check thus covers exactly the bits on the line, in their order, so that every burst of up to
//! 32 bits inside a frame is found for certain, and nothing is unstuffed or deserialised before
//! it has passed. (Checked inside the stuffing, one wrong code byte would turn into errors far apart.)

use core::fmt;

use crc::{CRC_32_ISO_HDLC, Crc, Table};
use serde::{Deserialize, Serialize};

use crate::delta::MAX_PLANE_BYTES;
use crate::message::{Kind, Message};
use crate::stuffing::{StuffingWriter, unstuff};
use crate::version::{Answer, Refusal, Version, WIRE_VERSION};

/// Most bytes before stuffing: a sample block with every field at its longest (version, kind,
/// first sample 5, ticks 10, period 5, count 3, coding 1, start 5, length 3, planes).
pub const MAX_BODY_BYTES: usize = 34 + MAX_PLANE_BYTES;

/// Bytes of the check.
const CHECK_BYTES: usize = 5;

/// Most bytes of one frame, delimiter included. Whatever is longer is not a frame.
pub const MAX_FRAME_BYTES: usize = MAX_BODY_BYTES + MAX_BODY_BYTES.div_ceil(254) + CHECK_BYTES + 1;

/// Separates frames. A frame may also be preceded by one, which ends whatever was on the line.
pub const DELIMITER: u8 = 0;

/// On a device the small table, on a host the fast one.
#[cfg(target_os = "none")]
type Tables = Table<1>;
#[cfg(not(target_os = "none"))]
type Tables = Table<16>;

static CRC: Crc<u32, Tables> = Crc::<u32, Tables>::new(&CRC_32_ISO_HDLC);

/// Why a message could not be framed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum EncodeError {
    /// The buffer is too short; [`MAX_FRAME_BYTES`] always suffice.
    BufferTooSmall,
}

impl fmt::Display for EncodeError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("buffer too small for the frame")
    }
}

impl core::error::Error for EncodeError {}

/// Why bytes between two delimiters are not a message.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fault {
    /// Longer than any frame.
    TooLong,
    /// Shorter than any frame.
    TooShort,
    /// The check does not fit the bytes.
    Check,
    /// The check fits, the bytes do not make a message of their kind.
    Malformed,
    /// The stream ended inside a frame.
    Torn,
}

/// What a checked frame turned out to be.
#[derive(Clone, Debug, PartialEq)]
#[expect(
    clippy::large_enum_variant,
    reason = "there is no heap, and one frame is read at a time"
)]
pub enum Frame<'a> {
    /// A message of this version.
    Message(Message<'a>),
    /// A frame to skip: its kind is unknown, or its layout is of a newer minor version.
    Unknown {
        /// Version of the frame's layout.
        version: Version,
        /// Kind code.
        kind: u8,
    },
    /// A frame of another major version.
    Refused(Refusal),
}

/// Frames a message, delimiter included.
///
/// # Errors
/// [`EncodeError::BufferTooSmall`].
pub fn encode<'b>(message: &Message<'_>, buffer: &'b mut [u8]) -> Result<&'b [u8], EncodeError> {
    let writer = StuffingWriter::new(buffer);
    let stuffed = write_body(message, writer).map_err(|_| EncodeError::BufferTooSmall)?;
    finish(buffer, stuffed).ok_or(EncodeError::BufferTooSmall)
}

fn write_body(message: &Message<'_>, writer: StuffingWriter<'_>) -> postcard::Result<usize> {
    match message {
        Message::Hello(payload) => write_payload(message.kind(), payload, writer),
        Message::Samples(payload) => write_payload(message.kind(), payload, writer),
        Message::Edges(payload) => write_payload(message.kind(), payload, writer),
        Message::Slow(payload) => write_payload(message.kind(), payload, writer),
        Message::Mark(payload) => write_payload(message.kind(), payload, writer),
        Message::Health(payload) => write_payload(message.kind(), payload, writer),
        Message::Reply(payload) => write_payload(message.kind(), payload, writer),
        Message::ClockEcho(payload) => write_payload(message.kind(), payload, writer),
        Message::Command(payload) => write_payload(message.kind(), payload, writer),
    }
}

fn write_payload<T: Serialize>(
    kind: Kind,
    payload: &T,
    writer: StuffingWriter<'_>,
) -> postcard::Result<usize> {
    // Every layout of this major version dates from 1.0; the first byte says so.
    let head = (WIRE_VERSION.as_byte(), kind.as_code());
    postcard::serialize_with_flavor(&(head, payload), writer)
}

/// Puts check and delimiter after the stuffed bytes.
fn finish(buffer: &mut [u8], stuffed: usize) -> Option<&[u8]> {
    let check = check_bytes(CRC.checksum(buffer.get(..stuffed)?));
    let end = stuffed + CHECK_BYTES;
    buffer.get_mut(stuffed..end)?.copy_from_slice(&check);
    *buffer.get_mut(end)? = DELIMITER;
    buffer.get(..=end)
}

/// The 32 bits of the check in groups of seven, lowest first, top bits set.
fn check_bytes(crc: u32) -> [u8; CHECK_BYTES] {
    let mut rest = crc;
    [(); CHECK_BYTES].map(|()| {
        let byte = rest.to_le_bytes()[0] | 0x80;
        rest >>= 7;
        byte
    })
}

/// Reads what stands between two delimiters, unstuffing it into `scratch`.
///
/// # Errors
/// A [`Fault`], never [`Fault::Torn`], which only the reader of a stream can see.
pub fn decode<'a>(bytes: &[u8], scratch: &'a mut [u8]) -> Result<Frame<'a>, Fault> {
    let used = check_and_unstuff(bytes, scratch)?;
    parse(scratch.get(..used).unwrap_or_default())
}

/// The part of [`decode`] that hands out no reference: how much of `scratch` was filled.
pub(crate) fn check_and_unstuff(bytes: &[u8], scratch: &mut [u8]) -> Result<usize, Fault> {
    let (stuffed, check) = bytes
        .split_last_chunk::<CHECK_BYTES>()
        .ok_or(Fault::TooShort)?;
    if check_bytes(CRC.checksum(stuffed)) != *check {
        return Err(Fault::Check);
    }
    unstuff(stuffed, scratch).ok_or(Fault::Malformed)
}

/// Reads a checked and unstuffed frame.
pub(crate) fn parse(body: &[u8]) -> Result<Frame<'_>, Fault> {
    let [version, kind, payload @ ..] = body else {
        return Err(Fault::TooShort);
    };
    let (version, code) = (Version::from_byte(*version), *kind);
    let kind = Kind::from_code(code);
    match (version.answer(), kind) {
        (Answer::Refuse, _) => Ok(Frame::Refused(refuse(version, kind, payload))),
        (Answer::Read, Some(kind)) => read_message(kind, payload).map(Frame::Message),
        // A newer hello only has more at its end, and without one the stream has no scale.
        (Answer::Skip, Some(Kind::Hello)) => {
            let (hello, _newer) = read_payload(payload)?;
            Ok(Frame::Message(Message::Hello(hello)))
        }
        (Answer::Skip, _) | (_, None) => Ok(Frame::Unknown {
            version,
            kind: code,
        }),
    }
}

fn refuse(version: Version, kind: Option<Kind>, payload: &[u8]) -> Refusal {
    let head = postcard::take_from_bytes::<(Version, u64)>(payload);
    let device_id = head.ok().map(|((_, device_id), _)| device_id);
    Refusal {
        version,
        device_id: device_id.filter(|_| kind == Some(Kind::Hello)),
    }
}

fn read_message(kind: Kind, payload: &[u8]) -> Result<Message<'_>, Fault> {
    Ok(match kind {
        Kind::Hello => Message::Hello(read_whole(payload)?),
        Kind::Samples => Message::Samples(read_whole(payload)?),
        Kind::Edges => Message::Edges(read_whole(payload)?),
        Kind::Slow => Message::Slow(read_whole(payload)?),
        Kind::Mark => Message::Mark(read_whole(payload)?),
        Kind::Health => Message::Health(read_whole(payload)?),
        Kind::Reply => Message::Reply(read_whole(payload)?),
        Kind::ClockEcho => Message::ClockEcho(read_whole(payload)?),
        Kind::Command => Message::Command(read_whole(payload)?),
    })
}

fn read_whole<'a, T: Deserialize<'a>>(payload: &'a [u8]) -> Result<T, Fault> {
    match read_payload(payload)? {
        (value, []) => Ok(value),
        _ => Err(Fault::Malformed),
    }
}

fn read_payload<'a, T: Deserialize<'a>>(payload: &'a [u8]) -> Result<(T, &'a [u8]), Fault> {
    postcard::take_from_bytes(payload).map_err(|_| Fault::Malformed)
}

#[cfg(test)]
mod tests;
